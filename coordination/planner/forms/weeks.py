"""From which day a page of weeks begins, and what of it is shown."""

from __future__ import annotations

from collections.abc import Iterable
from operator import itemgetter
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.utils.translation import gettext_lazy as _

from coordination import clock
from coordination.people.models import Crew
from coordination.planner.forms.half_days import day_field
from coordination.sequence.models import House


def link_from(half_day: int, **asked: object) -> str:
    """The same page from another day on, with what else was asked for."""
    given = {"from": clock.as_date(half_day)[0], **{name: value for name, value in asked.items() if value}}
    return f"?{urlencode(given)}"


class FromForm(forms.Form):
    """`?from=2026-04-20`; without it, or where it is no day, the page begins with the present week."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["from"] = day_field(label=_("From"), required=False)

    def asked(self, name: str) -> Any:
        """What was asked for in a field; None where nothing was, or what cannot be read."""
        return self.cleaned_data.get(name) if self.is_bound and self.is_valid() else None

    @property
    def half_day(self) -> int | None:
        """The morning of the day asked for; None where none was, or none that can be read."""
        day = self.asked("from")
        return None if day is None else clock.as_half_day(day)


class WeekForm(FromForm):
    """From which day on, and whose houses: everybody's, or those of one supervisor."""

    def __init__(self, houses: Iterable[House], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        names = {one.supervisor.pk: one.supervisor.name for one in houses if one.supervisor is not None}
        found = sorted(((str(pk), name) for pk, name in names.items()), key=itemgetter(1))
        choices = [("", _("anyone")), *found]
        self.fields["supervisor"] = forms.ChoiceField(label=_("Supervisor"), choices=choices, required=False)
        self.order_fields(["supervisor", "from"])

    @property
    def supervisor(self) -> int | None:
        """Whose houses are asked for; None for everybody's."""
        given = self.asked("supervisor")
        return int(given) if given else None


class CrewWeeksForm(FromForm):
    """Which crews are shown, and from which day on; a trade that none of them has is named as an error."""

    def __init__(self, crews: Iterable[Crew], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        trades = {crew.trade.key: crew.trade for crew in crews}
        choices = [("", _("every trade")), *((one.key, one.name) for one in trades.values())]
        self.fields["trade"] = forms.ChoiceField(label=_("Trade"), choices=choices, required=False)
        self.order_fields(["trade", "from"])

    def choose(self, crews: Iterable[Crew]) -> list[Crew]:
        """The crews of the trade asked for; all of them where none was, or none that can be read."""
        trade = self.asked("trade")
        return [crew for crew in crews if not trade or crew.trade.key == trade]
