"""What a draft says of itself, and a draft as one text."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from coordination.planner.forms.authoring import TomlField
from coordination.sequence.library.reading import LONGEST_TEXT


class HeadForm(forms.Form):
    """Name, description and the names of the visits."""

    name = forms.CharField(label=_("Name"), max_length=160)
    description = forms.CharField(
        label=_("Description"), required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
    )
    visits = TomlField(
        label=_("Visits"), rows=20, help_text=_('One on each line, as in: frame = "Frame and trusses"')
    )

    def __init__(self, tables: Mapping[str, Any], data: Any = None) -> None:
        first = {name: tables.get(name) for name in ("name", "description")}
        super().__init__(data, initial={**first, "visits": tables.get("visits", {})})


class DraftTextForm(forms.Form):
    """The whole draft as TOML."""

    text = forms.CharField(
        label=_("The sequence as TOML"),
        max_length=LONGEST_TEXT,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 36, "spellcheck": "false", "class": "toml"}),
    )
