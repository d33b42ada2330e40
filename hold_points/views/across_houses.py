"""One detail across all houses of a builder, for whoever writes its checks or plans its windows."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from coordination.people.access import builders_of, for_roles
from coordination.people.models import Role
from hold_points.across_houses import Stand, read_across
from hold_points.views.finding import person_of, show

READERS = (Role.Kind.ASSESSOR, Role.Kind.PLANNER)
"""Who compares houses; a supervisor walks one."""


@require_GET
@for_roles(*READERS)
def across_houses(request: HttpRequest, builder: str, key: str) -> HttpResponse:
    """The detail of that key in each house of one of the person's builders; `state` shows some of them."""
    found = get_object_or_404(builders_of(person_of(request), *READERS), slug=builder)
    across = read_across(found, key)
    if across is None:
        raise Http404
    asked = request.GET.get("state", "")
    chosen = Stand(asked) if asked in set(Stand) else None
    names = say_stands()
    page: dict[str, Any] = {
        "section": "walks",
        "crumbs": [(_("Desk"), reverse("hold_points:desk")), (across.name, "")],
        "builder": found,
        "across": across,
        "rows": [(one, names[one.stand]) for one in across.rows if chosen is None or one.stand == chosen],
        "chosen": chosen,
        "chosen_words": names[chosen] if chosen else "",
        "stands": [(stand, names[stand], count) for stand, count in across.count().items()],
    }
    return show(request, "hold_points/across_houses.html", page)


def say_stands() -> dict[Stand, str]:
    """Where a detail stands, in words."""
    return {
        Stand.NOT_MET: _("not met"),
        Stand.NOT_SEEN: _("not seen"),
        Stand.OPEN: _("to be looked at"),
        Stand.CONCEDED: _("under concession"),
        Stand.PUT_RIGHT: _("put right"),
        Stand.MET: _("met"),
        Stand.NOT_HERE: _("not on this house"),
        Stand.SAMPLED: _("not in the sample"),
        Stand.NOT_RECORDED: _("not recorded"),
        Stand.NOTHING_ASKED: _("no check asks for it"),
    }
