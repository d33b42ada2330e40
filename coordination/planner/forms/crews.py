"""What the office keeps of a crew, and time agreed with it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from coordination.planner.forms.half_days import HalfDayField


class WordTimeForm(forms.Form):
    """Half-days between release and start that the crew needs."""

    word_time = forms.IntegerField(
        label=_("Word time, in half-days"),
        min_value=0,
        max_value=40,
        required=False,
        help_text=_("Between a release and the crew's start. Empty: as each sequence says."),
    )


class ReserveForm(forms.Form):
    """Time agreed with a crew, no house named."""

    first = HalfDayField(label=_("From"), what=str(_("From")))
    last = HalfDayField(label=_("To, last half-day"), what=str(_("To")))
    units = forms.IntegerField(label=_("Houses at once"), min_value=1, max_value=20, initial=1)

    def clean(self) -> dict[str, Any]:
        """The run must have a length."""
        data: dict[str, Any] = super().clean() or self.cleaned_data
        first, last = data.get("first"), data.get("last")
        if first is not None and last is not None and last < first:
            self.add_error("last", _("It ends before it begins. Correct one of the two."))
        return data
