"""A feature of a sequence as a form field: label, unit, limits, help and default are the sequence's own."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from coordination.fabric.numerals import write_number
from coordination.planner.conditions_told import say_condition
from coordination.sequence.standard import Feature


def make_field(feature: Feature, features: Iterable[Feature] = ()) -> forms.Field:
    """The field of a feature, filled with its default; `features` are those that its condition may name."""
    label = f"{feature.label}, {feature.unit}" if feature.unit else feature.label
    facts: dict[str, Any] = {
        "label": label,
        "help_text": " ".join(_say_help(feature, features)),
        "initial": feature.default,
        "required": feature.kind != "flag",
    }
    match feature.kind:
        case "flag":
            return forms.BooleanField(**facts)
        case "choice":
            return forms.ChoiceField(choices=[(one, one) for one in feature.choices], **facts)
        case "number":
            facts["help_text"] = " ".join(_say_help(feature, features, _say_range(feature)))
            facts |= {"min_value": feature.least, "max_value": feature.most}
            if feature.whole:
                return forms.IntegerField(**facts)
            field = forms.FloatField(**facts)
            field.widget.attrs["step"] = "any"
            return field
    return forms.CharField(max_length=300, **facts)


def _say_help(feature: Feature, features: Iterable[Feature], limits: str = "") -> Iterator[str]:
    """Help, limits, where the default comes from, and when a house is asked at all."""
    yield from (words for words in (feature.help, limits) if words)
    if feature.source:
        yield _("Default: %(source)s.") % {"source": feature.source.rstrip(".")}
    if feature.when is not None:
        yield _("Only when %(condition)s; else the default stands.") % {
            "condition": say_condition(feature.when, {one.key: one for one in features})
        }


def _say_range(feature: Feature) -> str:
    if feature.least is not None and feature.most is not None:
        return _("%(least)s to %(most)s.") % {
            "least": write_number(feature.least),
            "most": write_number(feature.most),
        }
    return ""


def say_value(feature: Feature, value: object) -> str:
    """A feature's value in words."""
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    words = write_number(value) if isinstance(value, (int, float)) else str(value)
    return f"{words} {feature.unit}" if feature.unit else words
