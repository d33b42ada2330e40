"""What a computed fit would move, as it is stored and shown: visits, told dates, finishes, crews."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.refusals import WrongState
from coordination.sequence.fit_basis import FitBasis, HouseBasis
from coordination.sequence.models import FittedStart
from coordination.sequence.moves import count_working
from coordination.sequence.replanning import visit_dates
from coordination.sequence.solved import Solved
from coordination.sequence.to_engine import CrewFit, HouseFit, solve
from coordination.sequence.told_dates import planned_windows
from coordination.sequence.unreported import read_unreported


def write_house(one: HouseBasis, fitted: HouseFit) -> dict[str, Any]:
    """One house: finishes (exclusive), what each crew costs, the visits that move, the starts to be kept.

    Raises:
        WrongState: the house's own plan does not come out with the fitted dates (a fault of this program).
    """
    solved = solve_with(one, fitted.starts)
    refuse_other_dates(one, fitted.dates, solved)
    return {
        "finish_planned": one.plan.finish,
        "finish_free": fitted.free_finish,
        "finish_fitted": solved.finish,
        "stake_planned": one.plan.stake_start,
        "stake_fitted": solved.stake_start,
        "waits": {str(crew): half_days for crew, half_days in fitted.waits.items()},
        "visits": _write_visits(one, solved),
        "proposed": {str(visit): crew.pk for visit, crew in one.proposed.items()},
        "starts": [write_start(start) for start in fitted.starts],
        "dates": {key: list(dates) for key, dates in fitted.dates.items()},
    }


def solve_with(one: HouseBasis, starts: Iterable[FittedStart]) -> Solved:
    """The house's own plan with these starts from a fit."""
    rows = replace(one.rows, fitted={start.activity_id: start for start in starts})
    return solve(one.house, stored=one.plan.calendars, rows=rows)


def refuse_other_dates(one: HouseBasis, dates: Mapping[str, Any], solved: Solved) -> None:
    """Raise WrongState naming the activity whose dates differ from the fitted ones."""
    for key, (start, finish) in dates.items():
        found, begun = solved.dates[key], one.rows.by_key[key].actual_start is not None
        if found.ef != finish or (found.es != start and not begun):
            raise WrongState(
                _("%(house)s: %(work)s comes out with other dates than were fitted. Fit again without it.")
                % {"house": one.house.name, "work": one.rows.by_key[key].name}
            )


def write_start(start: FittedStart) -> dict[str, Any]:
    """A fitted start as a fit stores it; `read_starts` reads it back."""
    return {
        "activity": start.activity_id,
        "crew": start.crew_id,
        "not_before": start.not_before,
        "cause": str(start.cause),
        "where": start.where,
        "until": start.until,
    }


def read_starts(stored: Iterable[Mapping[str, Any]], fit_id: int | None) -> list[FittedStart]:
    """Rows, not saved, of stored fitted starts."""
    return [
        FittedStart(
            activity_id=one["activity"],
            crew_id=one["crew"],
            fit_id=one.get("fit", fit_id),
            not_before=one["not_before"],
            cause=one["cause"],
            where=one["where"],
            until=one["until"],
        )
        for one in stored
    ]


def _write_visits(one: HouseBasis, solved: Solved) -> list[dict[str, Any]]:
    """Visits whose dates differ from the plan's or that get a crew, the earliest new date first."""
    present = clock.current_half_day(one.house.builder.time_zone)
    before, after = planned_windows(one.plan), visit_dates(one.rows, solved)
    first = _first_activities(one, solved)
    found = []
    for visit in one.rows.visits_to_come:
        was, now = before.get(visit.pk), after.get(visit.pk)
        if was is None or now is None or (was == now and visit.pk not in one.proposed):
            continue
        booking, key = one.rows.bookings.get(visit.pk), first[visit.pk]
        calendar = solved.calendar_of(key)
        by = count_working(calendar, was[0], now[0]) or count_working(calendar, was[1], now[1])
        told = one.told.get(visit.pk)
        found.append(
            {
                "visit": visit.pk,
                "name": visit.name,
                "crew": booking.crew.name if booking else "",
                "state": booking.state if booking else "",
                "was": list(was),
                "now": list(now),
                "by": by,
                "reason": solved.dates[key].reason,
                "told": list(told) if told else None,
                "tells": _tells(one, visit.pk, now, present),
                "passed": told is not None and told[0] < present,
                "proposed": visit.pk in one.proposed,
            }
        )
    return sorted(found, key=lambda row: (row["now"], row["visit"]))


def count_moved(result: Mapping[str, Any]) -> int:
    """Visits of a house's stored result that move; those that only get a crew stand among them."""
    return sum(visit["was"] != visit["now"] for visit in result.get("visits", ()))


def _tells(one: HouseBasis, visit: int, now: tuple[int, int], present: int) -> bool:
    """Whether the crew would be told another date, by the builder's smallest told move."""
    told = one.told.get(visit)
    if told is None or visit in one.stays:
        return False
    if told[0] < present and one.house.builder.freeze_days:
        return False  # inside the freeze the office is asked, as with every move
    return max(now[0] - told[0], now[1] - told[1]) >= one.house.builder.retell_half_days


def _first_activities(one: HouseBasis, solved: Solved) -> dict[int, str]:
    """Visit id → key of its unfinished activity that starts first: its reason is the visit's."""
    first: dict[int, str] = {}
    for activity in one.rows.activities:
        if activity.visit_id is None or activity.actual_finish is not None:
            continue
        known = first.get(activity.visit_id)
        if known is None or solved.dates[activity.key].start < solved.dates[known].start:
            first[activity.visit_id] = activity.key
    return first


def write_whole(basis: FitBasis, fitted: CrewFit, houses: Mapping[int, Mapping[str, Any]]) -> dict[str, Any]:
    """The whole in figures: visits and told dates that move, what each crew costs, clashes that stay."""
    cost: dict[int, int] = defaultdict(int)
    touched: dict[int, int] = defaultdict(int)
    for one in fitted.houses.values():
        for crew, half_days in one.waits.items():
            cost[crew] += half_days
            touched[crew] += 1
    names = {
        visit.pk: (visit.name, one.house.name) for one in basis.houses for visit in one.rows.visits_to_come
    }
    return {
        "houses": len(basis.houses),
        "moved": sum(count_moved(row) for row in houses.values()),
        "told": sum(visit["tells"] for row in houses.values() for visit in row["visits"]),
        "later": sum(row["finish_fitted"] > row["finish_free"] for row in houses.values()),
        "without_crew": sum(one.without_crew for one in basis.houses),
        "proposed": sum(len(one.proposed) for one in basis.houses),
        "unreported": [
            [pk, recorded] for pk, recorded in read_unreported([one.house for one in basis.houses]).items()
        ],
        "schedules": fitted.schedules,
        "crews": [
            {"crew": crew, "name": basis.crews[crew].name, "half_days": cost[crew], "houses": touched[crew]}
            for crew in sorted(cost, key=lambda pk: (-cost[pk], basis.crews[pk].name))
        ],
        "overbooked": [
            {
                "crew": basis.crews[clash.crew].name,
                "half_day": clash.half_day,
                "visits": [list(names[visit]) for visit in clash.visits if visit in names],
            }
            for clash in fitted.overbooked
        ],
    }
