"""The form that starts a fit to the crews: which houses, and how long to look."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

from coordination.sequence.fitting import SEARCH_SECONDS
from coordination.sequence.models import House


class FitForm(forms.Form):
    """Running houses of one builder, all of them unless some are taken out."""

    houses = forms.TypedMultipleChoiceField(
        label=_("Houses"),
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Work of the others stays where it is, and its crews' time is kept free."),
    )
    seconds = forms.TypedChoiceField(
        label=_("How long to look for good dates"),
        coerce=int,
        choices=[
            (one, ngettext_lazy("%(count)d second", "%(count)d seconds", one) % {"count": one})
            for one in SEARCH_SECONDS
        ],
        initial=SEARCH_SECONDS[1],
    )

    def __init__(self, houses: Sequence[House], data: Any = None) -> None:
        super().__init__(data, initial={"houses": [house.pk for house in houses]})
        field = self.fields["houses"]
        assert isinstance(field, forms.TypedMultipleChoiceField)  # noqa: S101 - for the types alone
        field.choices = [(house.pk, house.name) for house in houses]
