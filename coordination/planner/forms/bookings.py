"""What the planner decides about the booking of a visit."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy as _

from coordination.people.models import Crew
from coordination.planner.forms.half_days import HalfDayField
from coordination.sequence.models import Visit


def crews_for(visit: Visit) -> Any:
    """Crews of the visit's trade whose company works for the builder."""
    return (
        Crew.objects.filter(Crew.AT_WORK, trade=visit.trade_id)
        .filter(company__engagements__builder=visit.house.builder_id)
        .select_related("company")
        .distinct()
        .order_by("name")
    )


class CrewForm(forms.Form):
    """Which crew does the visit."""

    crew = forms.ModelChoiceField(label=_("Crew"), queryset=Crew.objects.none(), empty_label=None)
    why = forms.CharField(
        label=_("Why it changes"),
        max_length=200,
        required=False,
        help_text=_("The crew that is stood down is told."),
    )

    def __init__(self, visit: Visit, present: int | None, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = cast("forms.ModelChoiceField[Crew]", self.fields["crew"])
        field.queryset = crews_for(visit).exclude(pk=present)
        if present is None:
            del self.fields["why"]


class PencilForm(forms.Form):
    """The date that a crew is told."""

    start = HalfDayField(label=_("First half-day"), what=str(_("First half-day")))


class StandDownForm(forms.Form):
    """Why a crew is stood down."""

    why = forms.CharField(label=_("Why"), max_length=200, help_text=_("In a few words; the crew is told."))
