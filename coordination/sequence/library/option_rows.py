"""One row that an option changes: as it stands with the option, and back to what the option has to say."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

from coordination.sequence.library.options import ALSO_AFTER, NAMING, NO_LONGER_AFTER, key_of

Table = dict[str, Any]
NOTHING: Mapping[type, Any] = {str: "", list: [], bool: False, dict: {}}
"""What a field says when a change empties it, by the kind of its value."""


class NotEmptied(ValueError):
    """A field that a change cannot take away: an option says rows by what they have."""

    def __init__(self, field: str) -> None:
        super().__init__(field)
        self.field = field


def naming_fields(kind: str) -> tuple[str, ...]:
    """The fields by which a changed row names the row of the base."""
    return NAMING.get(kind, ("id", "key"))


def change_row(kind: str, base: Mapping[str, Any], change: Mapping[str, Any]) -> Table:
    """The row of the base with the change."""
    row = copy.deepcopy(dict(base))
    for field, value in change.items():
        if field in naming_fields(kind):
            continue
        if field == ALSO_AFTER:
            row["after"] = [*row.get("after", []), *copy.deepcopy(value)]
        elif field == NO_LONGER_AFTER:
            row["after"] = [link for link in row.get("after", []) if link.get("id") not in value]
        else:
            row[field] = copy.deepcopy(value)
    return row


def find_change(
    kind: str, base: Mapping[str, Any], row: Mapping[str, Any], former: Mapping[str, Any] | None = None
) -> Table:
    """What an option has to say so that the row of the base becomes this one.

    Args:
        former: the change as it was; one that said all predecessors anew goes on doing so.

    Raises:
        NotEmptied: a number was taken away, which no change can say.
    """
    change: Table = {field: base[field] for field in naming_fields(kind) if field in base}
    for field in {**base, **row}:
        if field in naming_fields(kind) or base.get(field) == row.get(field):
            continue
        if field == "after" and "after" not in (former or {}):
            change |= _find_links(base.get("after", []), row.get("after", []))
        elif field in row:
            change[field] = copy.deepcopy(row[field])
        elif base[field] != NOTHING.get(type(base[field])):
            if type(base[field]) not in NOTHING:
                raise NotEmptied(field)
            change[field] = copy.deepcopy(NOTHING[type(base[field])])
    return change


def _find_links(base: list[Table], row: list[Table]) -> Table:
    gone = [str(link["id"]) for link in base if link not in row]
    new = [copy.deepcopy(link) for link in row if link not in base or str(link["id"]) in gone]
    change: Table = {}
    if gone:
        change[NO_LONGER_AFTER] = gone
    if new:
        change[ALSO_AFTER] = new
    return change


def find_base(tables: Mapping[str, Any], kind: str, change: Mapping[str, Any]) -> Table | None:
    """The row of the base that a change names."""
    key = key_of(kind, change)
    return next((table for table in tables.get(kind, []) if key_of(kind, table) == key), None)


def with_added(tables: Mapping[str, Any], option: Mapping[str, Any]) -> Table:
    """The tables with the rows that an option adds, for choosing among them; nothing is judged here."""
    found = dict(tables)
    for kind, rows in option.get("added", {}).items():
        if isinstance(rows, list):
            found[kind] = [*tables.get(kind, []), *rows]
    return found
