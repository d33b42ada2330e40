"""All houses: which waits for what, since when, for whom; and which linings can be promised."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from coordination import clock
from coordination.people.access import builders_of, for_roles
from coordination.people.models import Person, Region
from coordination.planner.board_asked import choose_rows, is_stuck, read_asked, sum_up
from coordination.planner.forecast_told import say_together
from coordination.planner.house_lines import write_lines
from coordination.planner.views.finding import PLANNER, SEERS, person_of, show
from coordination.reminders.undelivered import count_undelivered
from coordination.sequence.queries import board


@require_GET
@for_roles(*SEERS)
def houses(request: HttpRequest) -> HttpResponse:
    """The houses of the person's builders, those whose linings come first on top."""
    person = person_of(request)
    asked = read_asked(request.GET)
    builders = builders_of(person, *SEERS)
    planned = list(builders_of(person, PLANNER))
    offices = []
    for builder in builders:
        today = clock.current_half_day(builder.time_zone)
        rows = board(builder, finished=asked.finished)
        chosen = choose_rows(rows, asked)
        lines = write_lines(chosen, today)
        offices.append(
            {
                "builder": builder,
                "to_line": [line for line in lines if not line.lined],
                "lined": [line for line in lines if line.lined],
                "count": len(rows),
                "shown": len(lines),
                "sum": sum_up(rows),
                "together": say_together([row.house.pk for row in rows]),
                "stuck": any(is_stuck(row) for row in rows),
            }
        )
    return show(
        request,
        "planner/houses.html",
        {
            "offices": offices,
            "several": len(offices) > 1,
            "asked": asked,
            "supervisors": Person.objects.filter(houses_supervised__builder__in=builders)
            .distinct()
            .order_by("name"),
            "regions": Region.objects.filter(builder__in=builders).order_by("name"),
            "plans": bool(planned),
            "undelivered": count_undelivered(planned) if planned else 0,
        },
    )
