"""From one table of the file to one record of the entry."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from coordination.sequence.conditions import Value
from coordination.sequence.library.entry import (
    Activity,
    Delivery,
    Explained,
    Feature,
    Link,
    LongestGap,
    Named,
    NotCovered,
    Option,
    StarterPlace,
    Trade,
)
from coordination.sequence.library.tables import Row

KEY = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]*\Z")
WORD = re.compile(r"[a-z][a-z0-9_]*\Z")
# Lengths that the rows of a house can store.
NAME = 120
CAUTION = 160
UNIT = 20
SECTION = 40
SHORT_KEY = 20
SIZES = ("mm", "cm", "m", "m²", "mm²", "m³", "L", "kg", "%")
"""Units of what cannot be less than 0, said or not."""
BELOW_ZERO = ("°C", "°F", "K", "°", "Pa")
"""Units of what can lie below 0, for a limit and for what is read; a length, an area or a share cannot."""
POINT_KINDS = ("", "hold", "hold from photographs", "witness", "photo", "review", "survey")
ROW_KINDS = ("feature", "activity", "gap", "detail", "check")


def read_key(row: Row, field: str = "id", most: int = 60) -> str:
    """A key that can stand in an address: at most `most` letters, digits, - and _."""
    key = row.text(field)
    if not KEY.match(key) or len(key) > most:
        raise row.refuse(f"'{field}' is '{key}'", f"use up to {most} letters, digits, - and _")
    return key


def read_named(row: Row) -> Named:
    return Named(read_key(row, "key", SHORT_KEY), row.text("name", most=NAME))


def read_trade(row: Row) -> Trade:
    return Trade(read_key(row, "key"), row.text("name", most=80), row.text("caution", "", CAUTION))


def read_feature(row: Row) -> Feature:
    """A feature of the house; its default must suit its own limits."""
    key = row.text("key")
    if not WORD.match(key) or key in ("and", "or", "not", "true", "false"):
        raise row.refuse(
            f"'key' is '{key}'", "use lower-case letters, digits and _, so that conditions can name it"
        )
    kind = row.word("kind", ("number", "choice", "flag", "text"))
    feature = Feature(
        key=key,
        label=row.text("label", most=NAME),
        kind=kind,
        default=row.any("default"),
        unit=row.text("unit", "", UNIT),
        least=row.number("least", None),
        most=row.number("most", None),
        whole=row.flag("whole"),
        choices=row.texts("choices"),
        group=row.text("group", ""),
        help=row.text("help", ""),
        source=row.text("source", "", 300),
        when=row.condition("when"),
    )
    if (kind == "choice") != bool(feature.choices):
        raise row.refuse("'choices' belong to a choice and to nothing else", "give choices, or another kind")
    if feature.least is not None and feature.most is not None and feature.least > feature.most:
        raise row.refuse(
            f"'least' is {feature.least:g} and 'most' is {feature.most:g}", "give the lower one as 'least'"
        )
    message = refuse_value(feature, feature.default)
    if message:
        raise row.refuse(f"the default does not suit: {message}", "give another default, or wider limits")
    return feature


def read_attribute(row: Row) -> Feature:
    """An attribute of a place: like a feature, but every place has it."""
    attribute = read_feature(row)
    if attribute.when is not None:
        raise row.refuse("an attribute has a condition", "leave 'when' to features of the house")
    return attribute


def refuse_value(feature: Feature, value: object) -> str:
    """Why `value` is no value of the feature, with the remedy; empty if it is one."""
    match feature.kind:
        case "flag":
            return "" if isinstance(value, bool) else f"{value!r} is not true or false; give one of them"
        case "text":
            return "" if isinstance(value, str) else f"{value!r} is no text; give a text"
        case "choice":
            known = ", ".join(feature.choices)
            return "" if value in feature.choices else f"{value!r} is no choice; choose from {known}"
    if isinstance(value, bool) or not isinstance(value, (int, float)) or value != value:
        return f"{value!r} is no number; give a number"
    unit = f" {feature.unit}" if feature.unit else ""
    if feature.least is None and feature.unit in SIZES and value < 0:
        return f"{value:g}{unit} is too little; give 0{unit} or more"
    if feature.least is not None and value < feature.least:
        return f"{value:g}{unit} is too little; give {feature.least:g}{unit} or more"
    if feature.most is not None and value > feature.most:
        return f"{value:g}{unit} is too much; give {feature.most:g}{unit} or less"
    if feature.whole and value != int(value):
        return f"{value:g} is no whole number; give a count"
    return ""


def read_not_covered(row: Row) -> NotCovered:
    when = row.condition("when")
    if when is None:
        raise row.refuse("'when' is missing", "say for which features nothing is set out")
    return NotCovered(when, row.text("feature"), row.text("why"), row.text("remedy"))


def read_place(row: Row) -> StarterPlace:
    values: Mapping[str, Value] = row.table("attributes")
    return StarterPlace(
        read_key(row, "key"), row.text("name", most=80), row.text("kind"), row.text("zone"), values
    )


def read_activity(row: Row) -> Activity:
    key = read_key(row)
    point = row.word("point", POINT_KINDS, "")
    activity = Activity(
        id=key,
        name=row.text("name", most=NAME),
        half_days=row.whole("half_days", least=0),
        stage=row.text("stage"),
        trade=row.text("trade", ""),
        visit=row.text("visit", ""),
        point=point,
        walker=row.text("walker", "", 80),
        joined_by=row.text("joined_by", "", 80),
        notice=row.whole("notice", None, least=0),
        sections=row.texts("sections"),
        zones=row.texts("zones"),
        stake=row.flag("stake"),
        outdoor=row.flag("outdoor"),
        delivery=_read_delivery(row),
        after=tuple(_read_link(row, key, link) for link in row.rows("after")),
        content=row.text("content", ""),
        when=row.condition("when"),
    )
    _refuse_mixture(row, activity)
    return activity


def _refuse_mixture(row: Row, activity: Activity) -> None:
    """A point is judged by a walker and belongs to no visit; work is done by a trade."""
    if activity.is_point:
        if not activity.walker:
            raise row.refuse(
                "a point without 'walker'", "say who judges it: a role, or the trade that photographs"
            )
        if activity.trade or activity.visit or activity.stake or activity.delivery:
            raise row.refuse(
                "a point has no trade, visit, stake or delivery", "leave them to the work around it"
            )
    else:
        if not activity.trade:
            raise row.refuse("work without 'trade'", "say which trade does it, or give its 'point' kind")
        if activity.walker or activity.notice is not None or activity.sections or activity.zones:
            raise row.refuse(
                "'walker', 'notice', 'sections' and 'zones' belong to points",
                "give its 'point' kind, or leave them out",
            )
    if activity.point in ("witness", "photo") and activity.half_days:
        raise row.refuse(
            f"a {activity.point} point of {activity.half_days} half-days",
            "give 0: the work goes on beside it",
        )
    if not activity.is_point and activity.half_days == 0:
        raise row.refuse("work of 0 half-days", "give 1 or more")
    if activity.sections and activity.zones:
        raise row.refuse(
            "both 'sections' and 'zones'", "release it by subject or by zone, or make it two points"
        )
    for section in activity.sections:
        if len(section) > SECTION:
            raise row.refuse(f"section '{section}' is long", f"say it in {SECTION} characters or fewer")
    links = [(link.predecessor, link.type) for link in activity.after]
    for link in links:
        if links.count(link) > 1:
            raise row.refuse(f"two relationships {link[1]} from '{link[0]}'", "keep the longer one")


def _read_delivery(row: Row) -> Delivery | None:
    if not row.has("delivery"):
        return None
    inner = Row(row.file, f"{row.entry}, delivery", row.table("delivery"))
    delivery = Delivery(inner.whole("order_lead", least=0), inner.whole("cut_off", 0, least=0))
    inner.finish()
    if delivery.cut_off > delivery.order_lead:
        raise inner.refuse(
            "the cut-off comes before the order", "give an order lead at least as long as the cut-off"
        )
    return delivery


def _read_link(row: Row, successor: str, table: dict[str, Any]) -> Link:
    inner = Row(row.file, f"{row.entry}, after '{table.get('id', '?')}'", table)
    link = Link(
        predecessor=inner.text("id"),
        successor=successor,
        type=inner.word("type", ("FS", "SS", "FF", "SF"), "FS"),
        lag=inner.whole("lag", 0),
        lag_calendar=inner.word("lag_calendar", ("", "elapsed", "every"), ""),
    )
    inner.finish()
    if link.predecessor == successor:
        raise inner.refuse("it follows itself", "remove the relationship")
    return link


def read_gap(row: Row) -> LongestGap:
    return LongestGap(
        first=row.text("first"),
        then=row.text("then"),
        half_days=row.whole("half_days", least=0),
        why=row.text("why", most=200),
        when=row.condition("when"),
    )


def read_option(row: Row) -> Option:
    return Option(
        key=read_key(row, "key"),
        name=row.text("name"),
        what=row.text("what"),
        excludes=row.texts("excludes"),
        sets=row.table("sets"),
        added=_read_row_lists(row, "added"),
        changed=_read_row_lists(row, "changed"),
        removed=_read_removed(row),
    )


def _read_row_lists(row: Row, field: str) -> dict[str, tuple[Mapping[str, Any], ...]]:
    lists = Row(row.file, f"{row.entry}, {field}", row.table(field))
    found = {kind: tuple(lists.rows(kind)) for kind in ROW_KINDS}
    lists.finish()
    return {kind: rows for kind, rows in found.items() if rows}


def _read_removed(row: Row) -> dict[str, tuple[str, ...]]:
    lists = Row(row.file, f"{row.entry}, removed", row.table("removed"))
    found = {kind: lists.texts(kind) for kind in ROW_KINDS[1:]}
    lists.finish()
    return {kind: keys for kind, keys in found.items() if keys}


def read_explained(row: Row) -> Explained:
    return Explained(row.text("lint"), row.text("entry"), row.text("why"))
