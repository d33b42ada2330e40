"""The form that starts a fit to the crews: which houses, and how long to look."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

from coordination.sequence.fitting import SEARCH_SECONDS
from coordination.sequence.models import Fit, FittedHouse, House

WEIGHT = "weight-"
"""Begins the name of the field that says which house goes first."""


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

    def __init__(self, houses: Sequence[House], data: Any = None, again: Fit | None = None) -> None:
        """`again` offers the houses, time and order of an earlier fit."""
        before = {row.house_id: row.weight for row in again.houses.all()} if again else {}
        chosen = [house.pk for house in houses if not before or house.pk in before]
        super().__init__(data, initial={"houses": chosen, **({"seconds": again.seconds} if again else {})})
        for house in houses:
            self.fields[f"{WEIGHT}{house.pk}"] = forms.ChoiceField(
                label=house.name,
                choices=FittedHouse.Weight.choices,
                initial=before.get(house.pk, FittedHouse.Weight.USUAL),
                required=False,
            )
        field = self.fields["houses"]
        assert isinstance(field, forms.TypedMultipleChoiceField)  # noqa: S101 - for the types alone
        field.choices = [(house.pk, house.name) for house in houses]

    @property
    def plain_fields(self) -> list[forms.BoundField]:
        """Which houses, how long."""
        return [field for field in self if not field.name.startswith(WEIGHT)]

    @property
    def weight_fields(self) -> list[forms.BoundField]:
        """Which house goes first: a field for each."""
        return [field for field in self if field.name.startswith(WEIGHT)]

    @property
    def weighed(self) -> bool:
        """Whether a house is to go first or to wait, as the form stands."""
        return any(field.value() not in (None, "", FittedHouse.Weight.USUAL) for field in self.weight_fields)

    @property
    def weights(self) -> dict[int, str]:
        """House id → weight, of a valid form."""
        return {
            int(name.removeprefix(WEIGHT)): word
            for name, word in self.cleaned_data.items()
            if name.startswith(WEIGHT) and word
        }
