"""Reports of several activities at once, and a delay of one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy as _

from coordination.planner.forms.half_days import HalfDayField
from coordination.sequence.models import Activity, House
from coordination.sequence.progress import Report
from coordination.sequence.queries import ActivityRow


@dataclass(frozen=True)
class ProgressRow:
    """One activity with its three fields."""

    activity: ActivityRow
    started: forms.BoundField | None
    last: forms.BoundField
    left: forms.BoundField

    @property
    def errors(self) -> list[str]:
        """What is wrong in this row."""
        fields = [field for field in (self.started, self.last, self.left) if field is not None]
        return [str(error) for field in fields for error in field.errors]


class ProgressForm(forms.Form):
    """What started, what finished, what is left: for each activity that is offered."""

    up_to = HalfDayField(
        label=_("Work recorded up to"),
        what=str(_("work recorded up to")),
        required=False,
        help_text=_(
            "Empty: now, also with nothing else. What is not reported as started is planned after it."
        ),
    )

    def __init__(self, activities: Sequence[ActivityRow], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.activities = activities
        for one in activities:
            if one.actual_start is None:
                self.fields[f"started_{one.id}"] = HalfDayField(
                    label=_("started"), what=f"{one.name}, {_('started')}", required=False
                )
            self.fields[f"last_{one.id}"] = HalfDayField(
                label=_("finished"), what=f"{one.name}, {_('last half-day worked')}", required=False
            )
            left = forms.IntegerField(label=_("half-days left"), min_value=1, max_value=500, required=False)
            left.widget.attrs["aria-label"] = f"{one.name}, {_('half-days left')}"
            self.fields[f"left_{one.id}"] = left

    def rows(self) -> Iterator[ProgressRow]:
        """The activities with their fields, as they are offered."""
        for one in self.activities:
            started = self[f"started_{one.id}"] if one.actual_start is None else None
            yield ProgressRow(one, started, self[f"last_{one.id}"], self[f"left_{one.id}"])

    def reports(self) -> list[Report]:
        """What was entered; activities without an entry are left out."""
        found = []
        for one in self.activities:
            said = {
                "started": self.cleaned_data.get(f"started_{one.id}"),
                "last": self.cleaned_data.get(f"last_{one.id}"),
                "remaining": self.cleaned_data.get(f"left_{one.id}"),
            }
            if any(value is not None for value in said.values()):
                found.append(Report(one.key, **said))
        return found


def _name_of(activity: Activity) -> str:
    """Without the house, which the page names already."""
    return activity.name


class SlipForm(forms.Form):
    """An activity that takes longer (or, negative, less long)."""

    activity = forms.ModelChoiceField(label=_("Which activity"), queryset=Activity.objects.none())
    half_days = forms.IntegerField(
        label=_("By how many half-days"),
        min_value=-500,
        max_value=500,
        initial=2,
        help_text=_("Two are a day; a negative number takes time off."),
    )
    why = forms.CharField(
        label=_("Why"),
        max_length=200,
        required=False,
        help_text=_("Needed to record the delay, not to look at it. The diary and moved crews are told."),
    )

    def __init__(self, activities: Sequence[ActivityRow], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = cast("forms.ModelChoiceField[Activity]", self.fields["activity"])
        field.queryset = Activity.objects.filter(pk__in=[one.id for one in activities]).order_by("order")
        field.label_from_instance = _name_of  # type: ignore[assignment,method-assign]

    def clean_half_days(self) -> int:
        """No half-days are no slip."""
        half_days: int = self.cleaned_data["half_days"]
        if half_days == 0:
            raise forms.ValidationError(_("Nothing slips by 0 half-days. Give 1 or more."))
        return half_days


class TakeBackForm(forms.Form):
    """A report that was wrong: of which activity, and why it is taken back."""

    reported = forms.ModelChoiceField(label=_("Which activity"), queryset=Activity.objects.none())
    mistake = forms.CharField(
        label=_("What was wrong"), max_length=200, help_text=_("The diary keeps the report and this.")
    )

    def __init__(self, house: House, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = cast("forms.ModelChoiceField[Activity]", self.fields["reported"])
        field.queryset = (
            Activity.objects.filter(house=house, actual_start__isnull=False)
            .exclude(point_kind__in=Activity.HOLDING)
            .order_by("-actual_start", "order")
        )
        field.label_from_instance = _name_of  # type: ignore[assignment,method-assign]
