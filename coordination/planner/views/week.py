"""The week: all houses over ten working days, for the desk, the site hut's wall and the phone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils.safestring import SafeString
from django.views.decorators.http import require_GET

from coordination import clock
from coordination.people.access import builders_of, for_roles
from coordination.people.models import Builder
from coordination.planner.crew_weeks import WEEK
from coordination.planner.forecast_told import say_promises
from coordination.planner.forms.weeks import WeekForm, link_from
from coordination.planner.house_lines import HoldLine, HouseLine, write_line
from coordination.planner.views.finding import PLANNER, SEERS, person_of, show
from coordination.planner.week_reading import calendar_of, read_visits, read_walks
from coordination.planner.week_sheet import (
    HouseDays,
    begin_sheet,
    choose_days,
    end_sheet,
    lay_out,
    sum_up,
)
from coordination.reminders.undelivered import count_undelivered
from coordination.sequence.queries import BoardRow, board

HOUSES_ON_A4 = 5
"""With more houses the sheet is printed on A3."""


@dataclass(frozen=True)
class HouseWeek:
    """One house on the sheet: what it waits for, what stops it, its linings, and its days."""

    line: HouseLine
    days: HouseDays

    @property
    def stops(self) -> tuple[HoldLine, ...]:
        """The hold points that stop it now."""
        return tuple(hold for hold in self.line.holds if hold.state in ("held", "re-opened"))


@require_GET
@for_roles(*SEERS)
def week(request: HttpRequest) -> HttpResponse:
    """Who starts where, which walks, what is held, what is not confirmed, when linings can be promised."""
    boards = [(builder, board(builder)) for builder in builders_of(person_of(request), *SEERS)]
    houses = [row.house for _builder, rows in boards for row in rows]
    form = WeekForm(houses, request.GET if request.GET.keys() & {"from", "supervisor"} else None)
    asked = form.half_day
    offices = [
        _read_office(
            builder,
            [row for row in rows if form.supervisor in (None, row.house.supervisor_id)],
            asked,
        )
        for builder, rows in boards
    ]
    planned = list(builders_of(person_of(request), PLANNER))
    first = _choose_first(clock.current_half_day(boards[0][0].time_zone), asked)
    context = {
        "form": form,
        "offices": offices,
        "several": len(offices) > 1,
        "first": first,
        "last": end_sheet(first) - 1,
        "earlier": _link_to(form, first - WEEK),
        "later": _link_to(form, first + WEEK),
        "asked": form.is_bound,
        "undelivered": count_undelivered(planned) if planned else 0,
        "large": sum(len(office["houses"]) for office in offices) > HOUSES_ON_A4,
    }
    status = 422 if form.errors else 200
    return show(request, "planner/week.html", context, section="week", status=status)


def _link_to(form: WeekForm, half_day: int) -> str:
    """The same houses from another day on."""
    return link_from(half_day, supervisor=form.supervisor)


def _choose_first(present: int, asked: int | None) -> int:
    """The day asked for, else today; where that is no day Monday to Friday, the Monday to come."""
    return begin_sheet(present if asked is None else asked)


def _read_office(builder: Builder, rows: list[BoardRow], asked: int | None) -> dict[str, Any]:
    """The sheet of these houses of one builder."""
    today = clock.current_half_day(builder.time_zone)
    first = _choose_first(today, asked)
    visits, walks = read_visits(rows), read_walks(rows)
    starts = [one.start for facts in visits.values() for one in facts]
    starts += [one.start for facts in walks.values() for one in facts]
    days = choose_days(first, starts)
    sure = say_promises({row.house.pk: row.plan.number if row.plan else None for row in rows})
    houses = [
        HouseWeek(
            write_line(row, SafeString(), sure.get(row.house.pk, "")),
            lay_out(visits.get(row.house.pk, []), walks.get(row.house.pk, []), calendar_of(row), days, today),
        )
        for row in rows
    ]
    houses.sort(key=lambda house: house.line.lined)  # the board's order within both
    by_day = [
        (day, [(house, house.days.cells[n]) for house in houses if not house.days.cells[n].empty])
        for n, day in enumerate(days)
    ]
    shows_today = any(day + 1 >= today for day in days)
    return {
        "builder": builder,
        "houses": houses,
        "days": days,
        "today": today - today % 2,
        "sum": sum_up([house.days for house in houses]),
        "before": [one for one in by_day if shows_today and one[0] + 1 < today],
        "ahead": [one for one in by_day if not shows_today or one[0] + 1 >= today],
    }
