"""When a house is asked for something, in words: features by their labels, signs as a person says them."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.translation import gettext as _

from coordination.fabric.numerals import write_number
from coordination.sequence.conditions import Condition
from coordination.sequence.conditions.grammar import And, Compare, Constant, Name, Node, Not, Or
from coordination.sequence.standard import Feature

Features = Mapping[str, Feature]


def say_condition(condition: Condition, features: Features) -> str:
    """The condition in words; a name that is no feature stands as it is written."""
    return _say(condition.root, features)


def _say(node: Node, features: Features) -> str:
    match node:
        case And(parts):
            return _(" and ").join(_say(one, features) for one in parts)
        case Or(parts):
            return _(" or ").join(_say(one, features) for one in parts)
        case Not(Name(name)):
            return _("‘%(what)s’ is no") % {"what": _label(name, features)}
        case Not(part):
            return _("it is not so that %(what)s") % {"what": _say(part, features)}
        case Compare(left, sign, right):
            unit = _unit_of(left, features) or _unit_of(right, features)
            facts = {"left": _side(left, features, unit), "right": _side(right, features, unit)}
            return _sentences()[sign] % facts
        case Name(name):
            return _("‘%(what)s’ is yes") % {"what": _label(name, features)}
    return str(node)


def _sentences() -> dict[str, str]:
    return {
        "==": _("%(left)s is %(right)s"),
        "!=": _("%(left)s is not %(right)s"),
        "<": _("%(left)s is less than %(right)s"),
        "<=": _("%(left)s is at most %(right)s"),
        ">": _("%(left)s is more than %(right)s"),
        ">=": _("%(left)s is at least %(right)s"),
    }


def _label(name: str, features: Features) -> str:
    return features[name].label if name in features else name


def _unit_of(side: Name | Constant, features: Features) -> str:
    return features[side.name].unit if isinstance(side, Name) and side.name in features else ""


def _side(side: Name | Constant, features: Features, unit: str) -> str:
    if isinstance(side, Name):
        return f"‘{_label(side.name, features)}’"
    if isinstance(side.value, bool):
        return _("yes") if side.value else _("no")
    if isinstance(side.value, str):
        return f"‘{side.value}’"
    return f"{write_number(side.value)} {unit}".rstrip()
