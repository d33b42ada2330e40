"""Which rows of the base an option takes out, as boxes to tick."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms

from coordination.planner.draft_told import say_kinds
from coordination.planner.forms.authoring import FoldedTicks, keep_order
from coordination.sequence.library.options import key_of
from coordination.sequence.library.rows import ROW_KINDS


class RemovalsForm(forms.Form):
    """A box for each row of the base, by kind, that an option can take out."""

    def __init__(self, tables: Mapping[str, Any], removed: Mapping[str, list[str]], data: Any = None) -> None:
        super().__init__(data, initial={kind: list(keys) for kind, keys in removed.items()})
        self.former = removed
        words = say_kinds()
        # A feature is what a house was asked already; the others are not an option's to take out.
        for kind in ROW_KINDS[1:]:
            rows = tables.get(kind, [])
            if not rows:
                continue
            known = [(key_of(kind, one), str(one.get("name") or key_of(kind, one))) for one in rows]
            stray = [(key, key) for key in removed.get(kind, []) if key not in dict(known)]
            self.fields[kind] = forms.MultipleChoiceField(
                label=words[kind][1],
                choices=known + stray,
                required=False,
                widget=FoldedTicks,
            )

    def removed(self) -> dict[str, list[str]]:
        """Keys by kind, in the order that they had."""
        return {
            kind: keep_order(keys, self.former.get(kind, []))
            for kind, keys in self.cleaned_data.items()
            if keys
        }
