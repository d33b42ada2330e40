"""One entry of the library that includes another, so that one base file stays the truth.

    [include]
    entry = "brick_veneer_90"          # the file beside this one, without '.toml'

    [include.removed]
    activity = ["brick-clean"]

    [[include.changed.activity]]
    id = "brick"
    half_days = 12

    [[include.added.trade]]
    key = "cladder"
    name = "Cladder"

Rows have the forms of named options, for every kind of row. What is removed goes first, so that a row may
be replaced whole: removed, and added under the same name. Unlike an option's, a removed activity is gone
and nothing bridges it: what followed it is changed as well, or the lints name it.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from coordination.sequence.conditions import Value
from coordination.sequence.library.options import Applied, RowChanges
from coordination.sequence.library.refusals import SequenceError
from coordination.sequence.library.tables import Row

KINDS = (
    "trade",
    "zone",
    "stage",
    "place_kind",
    "place_attribute",
    "place",
    "feature",
    "not_covered",
    "activity",
    "gap",
    "detail",
    "check",
    "option",
    "explained",
)
OWN = ("key", "number", "name", "description")
FILE_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]*\Z")
DEEPEST = 5


@dataclass(frozen=True)
class Include:
    """What an entry takes over and what it makes different."""

    entry: str
    own: Mapping[str, Any]
    visits: Mapping[str, str]
    removed_visits: tuple[str, ...]
    added: Mapping[str, tuple[Mapping[str, Any], ...]]
    changed: Mapping[str, tuple[Mapping[str, Any], ...]]
    removed: Mapping[str, tuple[str, ...]]
    key: str = "include"
    name: str = "include"
    sets: Mapping[str, Value] = field(default_factory=dict)


def read_include(document: Mapping[str, Any], file: str) -> Include | None:
    """The include of a file's tables, or None; raises SequenceError naming the file and the row."""
    if "include" not in document:
        return None
    top = Row(file, "file", document)
    row = Row(file, "include", top.table("include"))
    for key in document:
        if key not in (*OWN, "include"):
            raise top.refuse(
                f"'{key}' beside 'include'", f"write added rows as include.added.{key}, changed ones likewise"
            )
    entry = row.text("entry")
    if not FILE_NAME.match(entry):
        raise row.refuse(f"'entry' is '{entry}'", "give the name of a file beside this one, without '.toml'")
    visits, added = _take_visits(row, "added", row.table("added"))
    names, changed = _take_visits(row, "changed", row.table("changed"))
    removed = Row(file, "include, removed", row.table("removed"))
    include = Include(
        entry=entry,
        own={key: document[key] for key in OWN if key in document},
        visits=visits | names,
        removed_visits=removed.texts("visits"),
        added=_take_rows(file, "added", added),
        changed=_take_rows(file, "changed", changed),
        removed={kind: removed.texts(kind) for kind in KINDS},
    )
    removed.finish()
    row.finish()
    return include


def _take_visits(row: Row, field_name: str, table: dict[str, Any]) -> tuple[dict[str, str], dict[str, Any]]:
    rest = dict(table)
    visits = rest.pop("visits", {})
    if not isinstance(visits, dict):
        raise row.refuse(f"'{field_name}.visits' is {visits!r}", "give a table of visit keys and their names")
    return visits, rest


def _take_rows(file: str, field_name: str, table: dict[str, Any]) -> dict[str, tuple[Mapping[str, Any], ...]]:
    lists = Row(file, f"include, {field_name}", table)
    rows = {kind: tuple(lists.rows(kind)) for kind in KINDS}
    lists.finish()
    return {kind: found for kind, found in rows.items() if found}


def apply_include(base: Mapping[str, Any], include: Include, file: str) -> dict[str, Any]:
    """The tables of the including entry; raises SequenceError where a row to change is not in the base."""
    applied = Applied(copy.deepcopy(dict(base)), {}, {})
    document = applied.document
    changes = RowChanges(file, f"include '{include.entry}'", include, applied, {})
    changes.remove_rows()
    activities = document.get("activity", [])
    document["activity"] = [table for table in activities if table.get("id") not in applied.removed]
    changes.add_rows()
    changes.change_rows()
    visits = dict(document.get("visits", {}))
    for key in include.removed_visits:
        if visits.pop(key, None) is None:
            raise SequenceError(
                file, f"include '{include.entry}'", f"no visit '{key}' to remove", "name a visit of the base"
            )
    document["visits"] = visits | dict(include.visits)
    return {**document, **include.own}
