"""Named options: lists of added, changed and removed rows, so that one base file stays the truth."""

from __future__ import annotations

import copy
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from coordination.sequence.conditions import Value
from coordination.sequence.library.entry import Option
from coordination.sequence.library.refusals import SequenceError

ALSO_AFTER = "also_after"
NO_LONGER_AFTER = "no_longer_after"
ROW_AFTER = "row_after"
# Fields that name a row and so cannot change.
NAMING = {"gap": ("first", "then"), "explained": ("lint", "entry"), "not_covered": ("when",)}


@dataclass(frozen=True)
class Applied:
    """The file's tables with options applied.

    Removed activities stay in the tables, so that what came before them still comes before what follows;
    `removed` names them with their option, for whoever bridges them. `sets` are features that options fix.
    """

    document: dict[str, Any]
    removed: dict[str, str]
    sets: dict[str, Any]


def apply_options(document: Mapping[str, Any], options: Iterable[Option], file: str) -> Applied:
    """Apply `options` in their order; raises SequenceError where a row is missing or two options disagree."""
    applied = Applied(copy.deepcopy(dict(document)), {}, {})
    changed: dict[tuple[str, str, str], str] = {}
    for option in options:
        one = RowChanges(file, f"option '{option.key}'", option, applied, changed)
        one.add_rows()
        one.change_rows()
        one.remove_rows()
        one.set_features()
    return applied


def key_of(kind: str, table: Mapping[str, Any]) -> str:
    """The words that name a row.

    Its id or key; of a gap 'first to then', of an explained warning 'lint of entry', of what is not
    covered the condition.
    """
    match kind:
        case "gap":
            return f"{table.get('first')} to {table.get('then')}"
        case "explained":
            return f"{table.get('lint')} of {table.get('entry')}"
        case "not_covered":
            return str(table.get("when"))
        case "activity" | "detail" | "check":
            return str(table.get("id"))
    return str(table.get("key"))


class RowLists(Protocol):
    """Rows that are added, changed and removed: an option's, or those of an entry that includes another."""

    @property
    def key(self) -> str: ...
    @property
    def name(self) -> str: ...
    @property
    def sets(self) -> Mapping[str, Value]: ...
    @property
    def added(self) -> Mapping[str, tuple[Mapping[str, Any], ...]]: ...
    @property
    def changed(self) -> Mapping[str, tuple[Mapping[str, Any], ...]]: ...
    @property
    def removed(self) -> Mapping[str, tuple[str, ...]]: ...


class RowChanges:
    """Row lists on their way into the tables; `entry` names them in refusals."""

    def __init__(
        self,
        file: str,
        entry: str,
        option: RowLists,
        applied: Applied,
        changed: dict[tuple[str, str, str], str],
    ) -> None:
        self.file = file
        self.entry = entry
        self.option = option
        self.applied = applied
        self.changed = changed

    def _refuse(self, message: str, remedy: str) -> SequenceError:
        return SequenceError(self.file, self.entry, message, remedy)

    def _rows(self, kind: str) -> list[dict[str, Any]]:
        rows: list[dict[str, Any]] = self.applied.document.setdefault(kind, [])
        return rows

    def _find(self, kind: str, key: str) -> dict[str, Any]:
        for table in self._rows(kind):
            if key_of(kind, table) == key:
                return table
        raise self._refuse(f"no {kind} '{key}' to change or remove", "name a row of the base, or add it")

    def _claim(self, kind: str, key: str, field: str) -> None:
        other = self.changed.setdefault((kind, key, field), self.option.key)
        if other != self.option.key:
            raise self._refuse(
                f"it and option '{other}' both decide '{field}' of {kind} '{key}'",
                "choose one of the two options",
            )

    def add_rows(self) -> None:
        for kind, tables in self.option.added.items():
            for table in tables:
                key = key_of(kind, table)
                if any(key_of(kind, there) == key for there in self._rows(kind)):
                    raise self._refuse(f"adds {kind} '{key}', which is there already", "change it instead")
                self._insert(kind, copy.deepcopy(dict(table)))

    def _insert(self, kind: str, table: dict[str, Any]) -> None:
        """At the end, or behind the row that `row_after` names: the order of places is the walk's."""
        rows = self._rows(kind)
        if ROW_AFTER not in table:
            rows.append(table)
            return
        there = self._find(kind, str(table.pop(ROW_AFTER)))
        rows.insert(next(number for number, row in enumerate(rows, 1) if row is there), table)

    def change_rows(self) -> None:
        for kind, tables in self.option.changed.items():
            for table in tables:
                key = key_of(kind, table)
                there = self._find(kind, key)
                for field, value in table.items():
                    if field in NAMING.get(kind, ("id", "key")):
                        continue
                    if field == ALSO_AFTER:
                        there.setdefault("after", []).extend(copy.deepcopy(value))
                    elif field == NO_LONGER_AFTER:
                        self._unlink(key, there, value)
                    else:
                        self._claim(kind, key, field)
                        there[field] = copy.deepcopy(value)

    def _unlink(self, key: str, there: dict[str, Any], gone: list[str]) -> None:
        for predecessor in gone:
            left = [link for link in there.get("after", []) if link.get("id") != predecessor]
            if len(left) == len(there.get("after", [])):
                raise self._refuse(
                    f"'{key}' does not follow '{predecessor}'", "name a predecessor that it has"
                )
            there["after"] = left

    def remove_rows(self) -> None:
        for kind, keys in self.option.removed.items():
            for key in keys:
                there = self._find(kind, key)
                self._claim(kind, key, "being there")
                if kind == "activity":
                    self.applied.removed[key] = f"option '{self.option.name}'"
                else:
                    self._rows(kind).remove(there)

    def set_features(self) -> None:
        for feature, value in self.option.sets.items():
            self._claim("feature", feature, "value")
            self._find("feature", feature)
            self.applied.sets[feature] = value
