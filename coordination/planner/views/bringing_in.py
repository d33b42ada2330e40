"""Bring in a half-built house: what is finished, stage by stage; looked at before anything is saved."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from coordination import clock
from coordination.people.access import for_roles, own
from coordination.people.models import Person
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.house_head import read_head
from coordination.planner.views.finding import PLANNER, find_house, person_of, show
from coordination.sequence.bringing_in import BroughtIn, bring_in_stated
from coordination.sequence.models import Activity, Booking, Hold, House
from coordination.sequence.publishing import read_version


@dataclass(frozen=True)
class StageRow:
    """One stage of the work with what can be stated of it, and what was entered."""

    key: str
    name: str
    activities: list[Activity]
    chosen: str
    day: str


@dataclass(frozen=True)
class Foreseen:
    """What bringing in would do, in words; nothing of it is saved yet."""

    stated: list[tuple[str, str]]
    """Activity and the half-day in which it ended."""
    set_aside: list[str]
    half_buried: list[str]
    live: list[str]
    done: list[str]
    """Visits whose bookings are done by it."""


@require_GET
@for_roles(PLANNER)
def choose(request: HttpRequest) -> HttpResponse:
    """Houses of which nothing is reported yet: only these can be brought in."""
    houses = own(House.objects.filter(finished_at__isnull=True), person_of(request), PLANNER)
    begun = Activity.objects.filter(house__in=houses, actual_start__isnull=False).values("house")
    context = {
        "houses": houses.exclude(pk__in=begun).select_related("builder").order_by("name"),
        "crumbs": [(_("Houses"), reverse("planner:houses")), (_("Bring in a half-built house"), "")],
    }
    return show(request, "planner/bring_in_choose.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(PLANNER)
def bring_in(request: HttpRequest, house: int) -> HttpResponse:
    """Enter what is finished, look at what that means for the holds, put it on the record."""
    found = find_house(request, house, PLANNER)
    stages = _read_stages(found, request.POST)
    if request.method == "GET" or "edit" in request.POST:
        return _show_form(request, found, stages)
    try:
        finished = _read_finished(stages)
        why = request.POST.get("why", "").replace("\0", "")
        if "apply" not in request.POST:
            foreseen = _foresee(found, finished, person_of(request), why)
            context = {
                "foreseen": foreseen,
                "kept": [
                    (name, value)
                    for name, values in request.POST.lists()
                    if name not in ("csrfmiddlewaretoken", "apply", "edit")
                    for value in values
                ],
            }
            return _show_form(request, found, stages, context)
        done = bring_in_stated(found, finished, person_of(request), why)
    except (BadInput, WrongState) as refusal:
        return _show_form(request, found, stages, refusal=refusal)
    messages.success(
        request,
        _("%(house)s is brought in. %(count)d hold points need a walk at once.")
        % {"house": found.name, "count": len(done.half_buried)},
    )
    return redirect(
        reverse("hold_points:desk") if done.half_buried else reverse("planner:house", args=[house])
    )


def _read_stages(house: House, posted: QueryDict) -> list[StageRow]:
    """The stages of the house's sequence that have work, in its order."""
    work: dict[str, list[Activity]] = {}
    for one in Activity.objects.filter(house=house, is_point=False).order_by("order"):
        work.setdefault(one.stage, []).append(one)
    names = {one.key: one.name for one in read_version(house.sequence_version).stages}
    order = [*(key for key in names if key in work), *(key for key in work if key not in names)]
    return [
        StageRow(
            key,
            names.get(key, key),
            work[key],
            posted.get(f"last-{key}", ""),
            posted.get(f"day-{key}", ""),
        )
        for key in order
    ]


def _read_finished(stages: list[StageRow]) -> dict[str, dt.date]:
    finished = {}
    for row in stages:
        if not row.chosen:
            if row.day:
                raise BadInput(row.name, _("There is a day but no work. Choose what was finished on it."))
            continue
        try:
            finished[row.chosen] = dt.date.fromisoformat(row.day)
        except ValueError as error:
            raise BadInput(row.name, _("Give the day on which it was finished.")) from error
    return finished


def _foresee(house: House, finished: dict[str, dt.date], by: Person, why: str) -> Foreseen:
    """Bring it in inside a transaction that is rolled back, messages and all."""
    with transaction.atomic():
        before = set(
            Booking.objects.filter(house=house, state=Booking.State.DONE).values_list("pk", flat=True)
        )
        done = bring_in_stated(house, finished, by, why)
        bookings = Booking.objects.filter(house=house, state=Booking.State.DONE).exclude(pk__in=before)
        foreseen = _say(
            done, [f"{one.visit.name} ({one.crew})" for one in bookings.select_related("visit", "crew")]
        )
        transaction.set_rollback(True)
    return foreseen


def _say(done: BroughtIn, bookings: list[str]) -> Foreseen:
    def labels(holds: list[Hold]) -> list[str]:
        return [hold.label for hold in holds]

    return Foreseen(
        stated=[
            (one.name, clock.say_half_day(one.actual_finish - 1 if one.actual_finish is not None else None))
            for one in done.stated
        ],
        set_aside=labels(list(done.set_aside)),
        half_buried=labels(list(done.half_buried)),
        live=labels(list(done.live)),
        done=bookings,
    )


def _show_form(
    request: HttpRequest,
    house: House,
    stages: list[StageRow],
    more: dict[str, object] | None = None,
    refusal: BadInput | WrongState | None = None,
) -> HttpResponse:
    context = {
        "house": house,
        "stages": stages,
        "why": request.POST.get("why", ""),
        "crumbs": read_head(house).crumbs_to(_("Bring in half built")),
        **(more or {}),
    }
    return show(request, "planner/bring_in.html", context, refusal)
