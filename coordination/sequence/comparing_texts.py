"""What differs between two texts of a sequence: rows and their fields, and what that does to the dates."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from coordination.sequence.comparing import Described, FieldChange, RowChange, compare_fields, compare_rows
from coordination.sequence.comparing_fields import NAMING, Names, names_of, say_field_name, say_row_field
from coordination.sequence.library.including import KINDS
from coordination.sequence.library.options import key_of
from coordination.sequence.library.reading import read_document
from coordination.sequence.standard import FeatureErrors, SequenceError, early_dates, read_sequence, resolve

NAMES = ("name", "text", "label", "why", "lint")
"""Fields that name a row for people, the first that it has."""

UNORDERED = ("gap", "not_covered", "explained")
"""Kinds whose rows are looked up by what they name: which of them stands first matters to nobody."""


@dataclass(frozen=True)
class TextDifference:
    """Rows by kind, what the head says, and figures of a house with the usual features.

    `figures` are in half-days as if every one were worked: the order of the work, no calendar.
    """

    head: tuple[FieldChange, ...]
    rows: Mapping[str, tuple[RowChange, ...]]
    figures: tuple[FieldChange, ...]

    @property
    def nothing(self) -> bool:
        """Whether both texts mean the same."""
        return not self.head and not self.rows


def compare_texts(before: str, after: str) -> TextDifference:
    """Compare two texts that can be read; an empty `before` is a sequence without anything.

    Raises:
        SequenceError: one of them cannot be read.
    """
    old = read_document(before, "former")
    new = read_document(after, "draft")
    # Both are told with the later names: a row that is called otherwise changes itself alone.
    names = names_of(old) | names_of(new)
    found = {
        kind: compare_rows(kind, _rows(kind, old, names), _rows(kind, new, names), kind not in UNORDERED)
        for kind in KINDS
    }
    return TextDifference(
        head=compare_fields(_head(old), _head(new)),
        rows={kind: changes for kind, changes in found.items() if changes},
        figures=compare_fields(_figures(before), _figures(after)) if before else (),
    )


def _rows(kind: str, document: Mapping[str, Any], names: Names) -> dict[str, Described]:
    return {
        key_of(kind, table): (
            next((str(table[name]) for name in NAMES if table.get(name)), key_of(kind, table)),
            {
                say_field_name(name): say_row_field(name, value, names)
                for name, value in table.items()
                if name not in NAMING
            },
        )
        for table in document.get(kind, [])
    }


def _head(document: Mapping[str, Any]) -> dict[str, str]:
    said = {name: str(document[name]) for name in ("name", "description", "number") if name in document}
    visits = {
        _("visit '%(key)s'") % {"key": key}: str(name) for key, name in document.get("visits", {}).items()
    }
    return said | visits


def _figures(text: str) -> dict[str, str]:
    """Length, linings and start of each hold point of a house with the usual features."""
    try:
        usual = resolve(read_sequence(text, "text"), {})
        dates = early_dates(usual.activities, usual.relationships)
    except (SequenceError, FeatureErrors, ValueError) as error:
        return {_("half-days in all"): _("cannot be computed: %(why)s") % {"why": error}}
    figures = {_("half-days in all"): str(max(finish for _start, finish in dates.values()))}
    if usual.stake is not None:
        figures[_("half-days to %(name)s") % {"name": usual.stake.name}] = str(dates[usual.stake.id][0])
    for one in usual.activities:
        if one.holds:
            figures[_("half-days to %(name)s") % {"name": one.name}] = str(dates[one.id][0])
    return figures
