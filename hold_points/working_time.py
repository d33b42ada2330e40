"""Working half-days of a house: its own calendar and its crews', as they are stored with its plan."""

from __future__ import annotations

from collections.abc import Mapping

from coordination import clock
from coordination.sequence.calendars import ResolvedCalendar, calendar_key, read_stored
from coordination.sequence.models import House, Plan

FARTHEST = 2 * 366
"""Half-days within which there is work; beyond it a calendar is taken for one that never works."""


class HouseDays:
    """The calendars of one house. What the plan does not know is counted Monday to Friday."""

    def __init__(self, house: House, calendars: Mapping[str, ResolvedCalendar]) -> None:
        self._house = calendars.get(calendar_key(house.calendar_id))
        self._calendars = calendars

    def works(self, half_day: int, calendar_id: int | None = None) -> bool:
        """Whether the half-day is worked, by the calendar named (a crew's), else by the house's."""
        named = self._calendars.get(calendar_key(calendar_id)) if calendar_id is not None else None
        calendar = named or self._house
        if calendar is None:
            return clock.as_date(half_day)[0].weekday() < 5
        return calendar.works(half_day)

    def count_back(self, half_day: int, steps: int, calendar_id: int | None = None) -> int:
        """The half-day that lies `steps` working half-days before another."""
        return self._step(half_day, steps, -1, calendar_id)

    def count_on(self, half_day: int, steps: int, calendar_id: int | None = None) -> int:
        """The half-day that lies `steps` working half-days after another."""
        return self._step(half_day, steps, 1, calendar_id)

    def _step(self, half_day: int, steps: int, way: int, calendar_id: int | None) -> int:
        found = half_day
        while steps and abs(found - half_day) < FARTHEST:
            found += way
            if self.works(found, calendar_id):
                steps -= 1
        return found


def read_days(plans: Mapping[int, Plan], houses: Mapping[int, House]) -> dict[int, HouseDays]:
    """The days of each of `houses` from its current plan (both by house id), in no further query.

    Plans of other houses are passed over: a house that has nothing to be walked has a plan all the same.
    """
    return {pk: HouseDays(house, read_stored(plans[pk].calendars)) for pk, house in houses.items()}


def days_of(house: House) -> HouseDays:
    """The days of one house."""
    plan = Plan.objects.filter(house=house).order_by("-number").only("calendars").first()
    return HouseDays(house, read_stored(plan.calendars) if plan else {})
