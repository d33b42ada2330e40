"""A day with its half, as one field that gives a half-day number."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy as _

from coordination import clock

HALVES = (("am", _("morning")), ("pm", _("afternoon")))


FIRST_DAY, LAST_DAY = dt.date(2000, 1, 1), dt.date(2199, 12, 31)
"""Days outside are typing errors ('0206', '20226'), and no plan can be computed with them."""


def day_field(**kwargs: Any) -> forms.DateField:
    """A day of the calendar; a year with a digit too few or too many is refused."""
    words = {"invalid": _("This is no day. Choose one of the calendar.")}
    year = _("Look at the year: a day between 2000 and 2199 is wanted.")
    limits = [MinValueValidator(FIRST_DAY, year), MaxValueValidator(LAST_DAY, year)]
    return forms.DateField(widget=day_input(), error_messages=words, validators=limits, **kwargs)


def day_input() -> forms.DateInput:
    """A calendar input; the browser shows the day in the reader's own way."""
    return forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})


class HalfDayWidget(forms.MultiWidget):
    """A day, and morning or afternoon."""

    def __init__(self, what: str = "") -> None:
        day, half = day_input(), forms.Select(choices=HALVES)
        day.attrs["aria-label"] = f"{what}: {_('day')}" if what else str(_("day"))
        half.attrs["aria-label"] = f"{what}: {_('half')}" if what else str(_("half"))
        super().__init__([day, half])

    def render(
        self, name: str, value: Any, attrs: dict[str, Any] | None = None, renderer: Any = None
    ) -> SafeString:
        """Both inputs side by side."""
        return format_html(
            '<span class="half-day-input">{}</span>', super().render(name, value, attrs, renderer)
        )

    def decompress(self, value: int | None) -> list[Any]:
        """A half-day as the two inputs show it."""
        return list(clock.as_date(value)) if value is not None else [None, "am"]


class HalfDayField(forms.MultiValueField):
    """Gives a half-day number, or None when no day was chosen."""

    def __init__(self, *, what: str = "", **kwargs: Any) -> None:
        fields = (
            day_field(),
            forms.ChoiceField(choices=HALVES, required=False),
        )
        super().__init__(fields=fields, widget=HalfDayWidget(what), require_all_fields=False, **kwargs)
        self.fields[0].required = self.required

    def compress(self, data_list: list[Any]) -> int | None:
        """Day and half as one number."""
        if not data_list or not data_list[0]:
            return None
        day: dt.date = data_list[0]
        return clock.as_half_day(day, "pm" if data_list[1] == "pm" else "am")
