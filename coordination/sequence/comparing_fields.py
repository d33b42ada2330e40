"""Fields of a row as people read them: activities by their names, relationships and limits in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from coordination.sequence.comparing import say_link
from coordination.sequence.library.entry import Link
from coordination.sequence.library.options import key_of

Names = Mapping[tuple[str, str], str]
"""Kind and key of a row → its name."""

NAMING = ("id", "key")
"""Fields that stand beside the name wherever a row is told."""

NAMED_KIND = {
    **dict.fromkeys(("installed_by", "covered_by", "with", "point", "first", "then"), "activity"),
    "no_longer_after": "activity",
    **{kind: kind for kind in ("detail", "stage", "trade", "visit")},
}
"""Fields that name other rows of the document, and of which kind."""


def names_of(document: Mapping[str, Any]) -> dict[tuple[str, str], str]:
    """The names of the rows that others name: activities, details, trades, stages and visits."""
    visits = {("visit", str(key)): str(name) for key, name in document.get("visits", {}).items()}
    return visits | {
        (kind, key_of(kind, row)): str(row["name"])
        for kind in ("activity", "detail", "trade", "stage")
        for row in document.get(kind, [])
        if row.get("name")
    }


def say_field_name(name: str) -> str:
    """A field of the format as people call it."""
    words = {
        "after": _("follows"),
        "also_after": _("follows besides"),
        "covered_by": _("buried by"),
        "half_days": _("half-days"),
        "installed_by": _("made by"),
        "joined_by": _("joined by"),
        "label": _("what is asked"),
        "miss": _("what it costs to leave it"),
        "no_longer_after": _("follows no more"),
        "once": _("asked once"),
        "point": _("point"),
        "remote": _("closed from a photograph"),
        "stake": _("the linings"),
        "tells": _("what each trade is told"),
        "walker": _("judged by"),
        "when": _("only when"),
        "with": _("buried only by their end"),
    }
    return words.get(name, name.replace("_", " "))


def say_name(field: str, key: str, names: Names) -> str:
    """The name of a row that a field names by its key; the key where there is no such row."""
    return names.get((NAMED_KIND[field], key), key)


def say_row_field(field: str, value: Any, names: Names) -> str:
    """A field of a row in words; what has no words of its own as `say_field` has it."""
    match field, value:
        case (("after" | "also_after"), list()):
            return "; ".join(_say_after(one, names) for one in value)
        case (("added" | "changed"), Mapping()):
            return "; ".join(
                _say_option_row(kind, row, names) for kind, rows in value.items() for row in rows
            )
        case "removed", Mapping():
            return ", ".join(
                names.get((str(kind), str(key)), str(key)) for kind, keys in value.items() for key in keys
            )
        case "limit", Mapping():
            return _say_limit(value)
        case _, str() if field in NAMED_KIND:
            return say_name(field, value, names)
        case _, list() if field in NAMED_KIND:
            return ", ".join(say_name(field, str(one), names) for one in value)
    return say_field(value)


def _say_option_row(kind: str, row: Mapping[str, Any], names: Names) -> str:
    """'Wall wrap: half-days 5, follows Frame': a row that an option adds or changes."""
    key = key_of(kind, row)
    told = ", ".join(
        f"{say_field_name(field)} {say_row_field(field, one, names)}"
        for field, one in row.items()
        if field not in (*NAMING, "name")
    )
    return f"{row.get('name') or names.get((kind, key), key)}: {told}"


def _say_after(link: Mapping[str, Any], names: Names) -> str:
    known = Link(str(link.get("id")), "", link.get("type", "FS"), link.get("lag", 0))
    words = say_link(known, {key: name for (kind, key), name in names.items() if kind == "activity"})
    if link.get("lag_calendar"):
        words = _("%(words)s, counted %(calendar)s") % {"words": words, "calendar": link["lag_calendar"]}
    return words


def _say_limit(limit: Mapping[str, Any]) -> str:
    """'at least 519 mm; source: the plan', 'at most feature airway mm'."""
    rest = dict(limit)
    compare, unit = rest.pop("compare", ""), rest.pop("unit", "")
    number = _say_number(rest)
    high = rest.pop("high", None)
    spread = rest.pop("spread", None)
    if high is not None:
        number = _("%(low)s and %(high)s") % {"low": number, "high": _say_number(dict(high))}
    elif spread is not None:
        number = _("%(low)s and %(spread)s more") % {"low": number, "spread": say_field(spread)}
    words = " ".join(str(one) for one in (compare, number, unit) if one)
    said = {
        "applies": _("applies where"),
        "source": _("source"),
        "step": _("read to steps of"),
        "sure": _("how sure"),
    }
    return "; ".join([words, *(f"{said.get(name, name)}: {say_field(one)}" for name, one in rest.items())])


def _say_number(source: dict[str, Any]) -> str:
    """A number with its source; takes what it says out of `source`."""
    if "value" in source:
        return say_field(source.pop("value"))
    for kind in ("feature", "published"):
        if kind in source:
            return f"{kind} {source.pop(kind)}"
    if "calculation" not in source:
        return ""
    inputs = say_field(source.pop("inputs", {}))
    words = _("%(result)s of calculation %(name)s") % {
        "result": source.pop("result", ""),
        "name": source.pop("calculation"),
    }
    return f"{words} ({inputs})" if inputs else words


def say_field(value: object) -> str:
    """A value of a row in words: lists with commas, tables as 'name value'."""
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list):
        return (
            "; ".join(map(say_field, value))
            if any(isinstance(one, dict) for one in value)
            else ", ".join(map(say_field, value))
        )
    if isinstance(value, dict):
        return ", ".join(f"{name} {say_field(one)}" for name, one in value.items())
    return str(value)
