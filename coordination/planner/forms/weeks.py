"""From which day a page of weeks begins."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from coordination import clock
from coordination.planner.forms.half_days import day_field


class FromForm(forms.Form):
    """`?from=2026-04-20`; without it, or where it is no day, the page begins with the present week."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["from"] = day_field(label=_("From"), required=False)

    @property
    def half_day(self) -> int | None:
        """The morning of the day asked for; None where none was, or none that can be read."""
        if not self.is_bound or not self.is_valid() or self.cleaned_data["from"] is None:
            return None
        return clock.as_half_day(self.cleaned_data["from"])
