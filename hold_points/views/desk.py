"""The office's page: what needs a walk, what is to be put right, how often it is met at once."""

from __future__ import annotations

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from coordination.people.access import for_roles, own
from coordination.people.models import Role
from coordination.sequence.models import House
from hold_points import desk as queries
from hold_points.across_houses import name_details
from hold_points.views.across_houses import READERS
from hold_points.views.finding import SEERS, own_houses, person_of, show


@require_GET
@for_roles(*SEERS)
def desk(request: HttpRequest) -> HttpResponse:
    """Everybody with a role sees their builders' houses; odd walks only the assessor of the builder sees."""
    person, houses = person_of(request), own_houses(request)
    rated = own(House.objects.all(), person, *SEERS)
    details, crews = queries.rate_first_time(rated)
    ways = _link_details(own(rated, person, *READERS))
    assessed = own(House.objects.all(), person, Role.Kind.ASSESSOR)
    assesses = assessed.exists()
    return show(
        request,
        "hold_points/desk.html",
        {
            "section": "walks",
            "title": _("Desk"),
            "half_buried": queries.list_half_buried(houses),
            "set_aside": queries.list_set_aside(houses),
            "went_past": queries.list_went_past(houses),
            "rework": queries.list_rework(houses),
            "tables": [
                (_("By detail"), [(name, rate, ways.get(str(name), "")) for name, rate in details.items()]),
                (_("By crew"), [(name, rate, "") for name, rate in crews.items()]),
            ],
            "assesses": assesses,
            "odd": queries.list_odd_walks(assessed, assessed) if assesses else [],
        },
    )


def _link_details(houses: QuerySet[House]) -> dict[str, str]:
    """Name of a detail → its page across all houses."""
    return {
        name: reverse("hold_points:across_houses", args=[builder, key])
        for name, (builder, key) in name_details(houses).items()
    }
