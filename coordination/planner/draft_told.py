"""A draft in words: its rows by kind, and what is wrong with each."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.text import Truncator
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from coordination.sequence.comparing_fields import Names, names_of, say_field, say_name
from coordination.sequence.comparing_texts import NAMES, UNORDERED
from coordination.sequence.library.including import KINDS
from coordination.sequence.library.options import key_of
from coordination.sequence.standard import Finding

FIRST = ("activity", "detail", "check", "feature", "option")
"""Kinds with boxes of their own, shown first."""

ENTRY = re.compile(r"(?P<kind>[a-z_]+) '(?P<key>[^']*)'")


def say_kinds() -> dict[str, tuple[str, str]]:
    """Kind → the word for one and for several."""
    return {
        "activity": (_("activity or point"), _("Activities and points")),
        "detail": (_("detail"), _("Details, and what buries them")),
        "check": (_("check"), _("Checks and limits")),
        "option": (_("option"), _("Options")),
        "gap": (_("longest gap"), _("Longest gaps")),
        "feature": (_("feature"), _("Features of a house")),
        "place": (_("place"), _("Places that a house starts with")),
        "trade": (_("trade"), _("Trades")),
        "zone": (_("zone"), _("Zones")),
        "stage": (_("stage"), _("Stages")),
        "place_kind": (_("kind of place"), _("Kinds of places")),
        "place_attribute": (_("attribute of a place"), _("Attributes of places")),
        "not_covered": (_("case that is not covered"), _("Not covered")),
        "explained": (_("explained warning"), _("Warnings that stand, explained")),
    }


@dataclass(frozen=True)
class RowLine:
    """One row in the list; `number` finds it again, `refused` says that a fault names it."""

    number: int
    key: str
    name: str
    facts: str
    refused: bool


@dataclass(frozen=True)
class KindLines:
    """The rows of one kind."""

    kind: str
    one: str
    several: str
    rows: tuple[RowLine, ...]

    @property
    def ordered(self) -> bool:
        """Whether it matters which row stands before which."""
        return self.kind not in UNORDERED

    def say_place(self, number: int) -> str:
        """Where a row stands, in words."""
        if number >= len(self.rows):
            return _("stands last now")
        return _("stands before %(name)s now") % {"name": self.rows[number].name}


@dataclass(frozen=True)
class Fault:
    """A finding, with the row that it names where there is one, and what people call that row."""

    finding: Finding
    kind: str = ""
    number: int = 0
    name: str = ""


def tell_rows(tables: Mapping[str, Any], faults: Iterable[Fault]) -> list[KindLines]:
    """Rows by kind, those with boxes of their own first."""
    bad = {(fault.kind, fault.number) for fault in faults if fault.finding.level == "refused"}
    words, names = say_kinds(), names_of(tables)
    kinds = [*FIRST, *(kind for kind in words if kind not in FIRST)]
    return [
        KindLines(
            kind,
            *words[kind],
            tuple(
                RowLine(
                    number,
                    key_of(kind, table),
                    name_row(kind, table),
                    _facts(kind, table, names),
                    (kind, number) in bad,
                )
                for number, table in enumerate(tables.get(kind, []), start=1)
            ),
        )
        for kind in kinds
        if kind in KINDS
    ]


def name_row(kind: str, table: Mapping[str, Any]) -> str:
    """The words that a row has for people, else its key."""
    return next((str(table[name]) for name in NAMES if table.get(name)), key_of(kind, table))


def say_row(kind: str, table: Mapping[str, Any]) -> str:
    """'Frame stood (frame)'; the key alone where it has no other name."""
    key, name = key_of(kind, table), name_row(kind, table)
    return key if name == key else f"{Truncator(name).chars(60)} ({key})"


def _facts(kind: str, table: Mapping[str, Any], names: Names) -> str:
    """What tells a row from its neighbours, in a few words."""
    if kind == "activity":
        count = table.get("half_days", 0)
        length = ngettext("%(count)d half-day", "%(count)d half-days", count) % {"count": count}
        who = table.get("point") or say_name("trade", table.get("trade", ""), names)
        parts = (who, length if count else "")
        return ", ".join(str(one) for one in parts if one)
    if kind == "detail":
        return _("judged at %(point)s") % {"point": say_name("point", table.get("point", "?"), names)}
    if kind == "check":
        field = "detail" if table.get("detail") else "point"
        return ", ".join(one for one in (say_name(field, table.get(field, ""), names), table["kind"]) if one)
    if kind in ("feature", "place_attribute"):
        return _say_question(table)
    return ""


def _say_question(table: Mapping[str, Any]) -> str:
    """'number, 1 to 45 °, default 22.5, only when storeys >= 2'."""
    unit = f" {table['unit']}" if table.get("unit") else ""
    ends = [f"{table[end]:g}" for end in ("least", "most") if end in table]
    parts = [str(table.get("kind", ""))]
    if len(ends) == 2:
        parts.append(_("%(least)s to %(most)s") % {"least": ends[0], "most": ends[1]} + unit)
    value = Truncator(say_field(table.get("default", ""))).chars(40)
    parts.append(_("default %(value)s") % {"value": value})
    if table.get("when"):
        parts.append(_("only when %(condition)s") % {"condition": table["when"]})
    return ", ".join(parts)


def find_rows(findings: Iterable[Finding], tables: Mapping[str, Any]) -> list[Fault]:
    """Findings with the row that each names: 'activity 'brick'' leads to the row of that id."""
    places = {
        (kind, key_of(kind, table)): number
        for kind in KINDS
        for number, table in enumerate(tables.get(kind, []), start=1)
    }
    faults = []
    for finding in findings:
        match = ENTRY.match(finding.entry)
        place = places.get((match["kind"], match["key"]), 0) if match else 0
        if match is None or not place:
            faults.append(Fault(finding))
            continue
        table = tables[match["kind"]][place - 1]
        name = name_row(match["kind"], table)
        faults.append(Fault(finding, match["kind"], place, name if name != match["key"] else ""))
    return faults
