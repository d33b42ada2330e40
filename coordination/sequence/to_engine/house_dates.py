"""A house's dates: which calendars and years they need, and the computation itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from coordination import clock, engine
from coordination.people.models import WorkingCalendar
from coordination.people.refusals import BadInput
from coordination.sequence.calendars import ResolvedDays, calendar_key, resolve_calendars
from coordination.sequence.house_network import NOTHING, HouseNetwork, WhatIf, read_house_network
from coordination.sequence.models import Activity, House
from coordination.sequence.solved import Solved
from coordination.sequence.to_engine.answers import read_answer
from coordination.sequence.to_engine.networks import ELAPSED, EVERY, network_of


def solve(
    house: House,
    what_if: WhatIf = NOTHING,
    *,
    stored: Mapping[str, Any] | None = None,
    rows: HouseNetwork | None = None,
) -> Solved:
    """Compute a house's dates, floats, reasons and windows; saves nothing.

    Args:
        house: its `recorded_up_to` is the data date.
        what_if: an imagined change on top of what is recorded.
        stored: `Plan.calendars` of the plan before, whose public holidays are kept.
        rows: the house's rows when they are already read.

    Raises:
        BadInput: naming what cannot be planned (a circle, an unknown calendar, dates that contradict).
    """
    rows = rows or read_house_network(house)
    laid = lay_out(house, what_if, stored=stored, rows=rows)
    return read_answer(rows, laid.plan, laid.days, laid.names, what_if)


@dataclass(frozen=True)
class LaidOut:
    """A house before the engine, with its dates as the network alone gives them."""

    network: engine.Network
    plan: engine.Plan
    days: ResolvedDays
    names: Mapping[str, str]
    """Activity key → name of its calendar."""


def lay_out(
    house: House,
    what_if: WhatIf = NOTHING,
    *,
    stored: Mapping[str, Any] | None = None,
    rows: HouseNetwork,
    years_beyond: int = 0,
) -> LaidOut:
    """A house's network with its calendars resolved for every year that it runs into; saves nothing.

    Args:
        years_beyond: years after its finish whose holidays must be known too.

    Raises: as `solve`.
    """
    if not rows.activities:
        raise BadInput(house.name, _("There is no activity to plan. Set the house out from a sequence."))
    calendar_ids = {house.calendar_id}
    for activity in rows.activities:
        if crew := rows.crew_of(activity, what_if):
            calendar_ids.add(crew.calendar_id)
    lag_calendars = lag_calendars_of(rows)
    calendar_ids.update(lag_calendars.values())
    first_year = _first_year(house, rows)
    years = range(first_year, first_year + 2)
    while True:
        days = resolve_calendars(house.region, calendar_ids, years, stored)
        names = {activity.key: _calendar_name(rows, activity, what_if, days) for activity in rows.activities}
        try:
            network = network_of(rows, days, names, lag_calendars, what_if)
            stake = (rows.stake.key,) if rows.stake else ()
            plan = engine.compute_dates(network, data_date=house.recorded_up_to, float_to=stake)
        except engine.Refused as refused:
            raise BadInput(house.name, str(refused)) from refused
        last_year = clock.as_date(plan.finish)[0].year + years_beyond
        if last_year < years.stop:
            return LaidOut(network, plan, days, names)
        # The house runs into a year whose holidays were not asked for: know them, and compute again.
        years = range(first_year, last_year + 1)


def lag_calendars_of(rows: HouseNetwork) -> dict[str, int]:
    """Key of each calendar that a relationship counts its lag in → its id. BadInput for an unknown one."""
    keys = {link.lag_calendar for link in rows.relationships} - {"", ELAPSED, EVERY}
    if not keys:
        return {}
    found = dict(
        WorkingCalendar.objects.filter(builder=rows.house.builder_id, key__in=keys).values_list("key", "pk")
    )
    for key in sorted(keys - set(found)):
        raise BadInput(
            rows.house.name,
            _("A relationship counts its lag in the calendar '%(key)s', which this builder lacks. Add it.")
            % {"key": key},
        )
    return found


def _first_year(house: House, rows: HouseNetwork) -> int:
    instants = [house.recorded_up_to, clock.as_half_day(house.starts_on)]
    instants += [one.actual_start for one in rows.activities if one.actual_start is not None]
    return clock.as_date(min(instants))[0].year


def _calendar_name(rows: HouseNetwork, activity: Activity, what_if: WhatIf, days: ResolvedDays) -> str:
    crew = rows.crew_of(activity, what_if)
    calendar_id = crew.calendar_id if crew else rows.house.calendar_id
    name = calendar_key(calendar_id, outdoor=activity.outdoor)
    return name if name in days.calendars else calendar_key(calendar_id)
