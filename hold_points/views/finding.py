"""What several screens share: how they find their objects, and how they answer a refusal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, BinaryIO, cast

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.access import get_own, has_role, own
from coordination.people.models import Person, Role
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence.models import Activity, House
from hold_points.models import Check, Inspection
from hold_points.walking import WALKERS

SEERS = (Role.Kind.SUPERVISOR, Role.Kind.ASSESSOR, Role.Kind.PLANNER)
"""Who may open the pages; who may act is decided by the act."""

COPY = "Walks-Copy"
"""Header of a request for a copy that is taken along."""

PAGE_OF = "Walks-Of"
"""Header of a page: the key of the person for whom it was made. A tablet keeps no page without it."""

SENT_BY_SCRIPT = "Walks-Sent"
"""Header of a form that a script sends, so that it hears whether it arrived."""


def person_of(request: HttpRequest) -> Person:
    """The signed-in person; the views' decorator has let nobody else in."""
    return cast(Person, request.user)


def find_inspection(request: HttpRequest, pk: int) -> Inspection:
    """An inspection of the person's own builders; another builder's does not exist."""
    found = Inspection.objects.select_related("point", "house__builder", "house__supervisor")
    return get_own(found, person_of(request), *SEERS, path="house__builder", pk=pk)


def find_check(request: HttpRequest, pk: int) -> Check:
    """A check of the person's own builders."""
    found = Check.objects.select_related("inspection__point", "inspection__house__builder", "place", "detail")
    return get_own(found, person_of(request), *SEERS, path="inspection__house__builder", pk=pk)


def find_house(request: HttpRequest, pk: int) -> House:
    """A house of the person's own builders."""
    return get_own(House.objects.select_related("builder"), person_of(request), *SEERS, pk=pk)


def own_houses(request: HttpRequest) -> QuerySet[House]:
    """Houses under way of the person's builders."""
    return own(House.objects.filter(finished_at__isnull=True), person_of(request), *SEERS)


def may_walk(request: HttpRequest, inspection: Inspection) -> bool:
    """Whether the person judges and signs here; the acts ask again, this only hides their buttons."""
    reviewed = inspection.point.point_kind == Activity.PointKind.REVIEW
    kinds = (*WALKERS, Role.Kind.PLANNER) if reviewed else WALKERS
    return has_role(person_of(request), inspection.house.builder, *kinds)


def photo_of(request: HttpRequest) -> BinaryIO | None:
    """The photograph that was sent along, if any."""
    upload = request.FILES.get("photo")
    return cast(BinaryIO, upload) if isinstance(upload, UploadedFile) else None


def text_of(request: HttpRequest, name: str) -> str:
    """What was written into a field. The zero character is in no text, and no database takes it."""
    return request.POST.get(name, "").replace("\0", "")


def device_of(request: HttpRequest) -> str:
    """What the browser calls itself."""
    return request.headers.get("User-Agent", "")[:120]


def say_refusal(refusal: BadInput | WrongState) -> dict[str, Any]:
    """A refusal for the template `hold_points/_refusal.html`."""
    missing = refusal.missing if isinstance(refusal, WrongState) else ()
    where = refusal.where if isinstance(refusal, BadInput) else ""
    return {"words": refusal.words, "missing": missing, "where": where}


def show(
    request: HttpRequest,
    template: str,
    context: Mapping[str, Any],
    refusal: BadInput | WrongState | None = None,
) -> HttpResponse:
    """A page; with a refusal it says so and answers 422 (htmx swaps only what answers 200)."""
    status = 200
    context = {**context, "offline": settings.COORDINATION_OFFLINE_WALKS, "shown_at": clock.now()}
    if refusal is not None:
        context["refusal"] = say_refusal(refusal)
        status = 200 if getattr(request, "htmx", False) else 422
    if request.headers.get(COPY):
        # What was just said is for the page that is open; a copy would say it again and again.
        context["messages"] = ()
    response = render(request, template, context, status=status)
    response.headers[PAGE_OF] = str(person_of(request).pk)
    return response


def lead_on(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """A script that has sent a form is told where it leads: it cannot see that of a redirect."""
    if request.headers.get(SENT_BY_SCRIPT) and response.status_code == 302:
        return JsonResponse({"go": response.headers["Location"]})
    return response


def crumbs_of(inspection: Inspection, *more: str) -> list[tuple[str, str]]:
    """Where a page of an inspection lies: walks, house's record, walk, page."""
    return [
        (_("Walks"), reverse("hold_points:walks")),
        (inspection.house.name, reverse("hold_points:record", args=[inspection.house_id])),
        (inspection.point.name, reverse("hold_points:walk", args=[inspection.pk]) if more else ""),
        *((words, "") for words in more),
    ]
