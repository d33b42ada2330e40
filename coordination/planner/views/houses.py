"""All houses: which waits for what, since when, for whom; and which linings can be promised."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from coordination import clock
from coordination.people.access import builders_of, for_roles
from coordination.planner.house_lines import write_lines
from coordination.planner.views.finding import PLANNER, SEERS, person_of, show
from coordination.sequence.queries import board


@require_GET
@for_roles(*SEERS)
def houses(request: HttpRequest) -> HttpResponse:
    """The houses of the person's builders, those whose linings come first on top."""
    person = person_of(request)
    finished = request.GET.get("finished") == "1"
    offices = []
    for builder in builders_of(person, *SEERS):
        today = clock.current_half_day(builder.time_zone)
        lines = write_lines(board(builder, finished=finished), today)
        offices.append(
            {
                "builder": builder,
                "to_line": [line for line in lines if not line.lined],
                "lined": [line for line in lines if line.lined],
                "count": len(lines),
            }
        )
    return show(
        request,
        "planner/houses.html",
        {
            "offices": offices,
            "several": len(offices) > 1,
            "finished": finished,
            "plans": builders_of(person, PLANNER).exists(),
        },
    )
