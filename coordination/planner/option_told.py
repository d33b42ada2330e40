"""What an option of a draft does, row by row, in words and links."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from coordination.planner.draft_told import FIRST, name_row, say_kinds
from coordination.sequence.comparing_fields import say_field_name
from coordination.sequence.library.option_rows import naming_fields
from coordination.sequence.library.options import key_of
from coordination.sequence.library.rows import ROW_KINDS


@dataclass(frozen=True)
class OptionRow:
    """One row: its key, its kind in words, what is said of it, and where it is edited."""

    key: str
    kind: str
    facts: str
    link: str


@dataclass(frozen=True)
class OptionList:
    """The rows that an option adds, changes or takes out."""

    change: str
    words: str
    rows: tuple[OptionRow, ...]


def kinds_of_rows() -> list[tuple[str, str]]:
    """Kinds of rows that an option may add or change, those with boxes of their own first."""
    words = say_kinds()
    kinds = sorted(ROW_KINDS, key=lambda kind: FIRST.index(kind) if kind in FIRST else len(FIRST))
    return [(kind, words[kind][0]) for kind in kinds]


def tell_option(draft: int, number: int, option: Mapping[str, Any]) -> list[OptionList]:
    """What an option does to rows."""
    titles = {"added": _("Added"), "changed": _("Changed"), "removed": _("Taken out")}
    return [
        OptionList(change, words, tuple(_tell_rows(draft, number, change, option.get(change, {}))))
        for change, words in titles.items()
    ]


def _tell_rows(draft: int, number: int, change: str, lists: Mapping[str, Any]) -> list[OptionRow]:
    words = say_kinds()
    found = []
    for kind, rows in lists.items():
        for place, row in enumerate(rows, start=1):
            if change == "removed":
                found.append(OptionRow(str(row), words[kind][0], "", ""))
                continue
            link = reverse("planner:option_row", args=[draft, number, change, kind, place])
            fields = [field for field in row if field not in naming_fields(kind)]
            facts = ", ".join(map(say_field_name, fields)) if change == "changed" else name_row(kind, row)
            found.append(OptionRow(key_of(kind, row), words[kind][0], facts, link))
    return found
