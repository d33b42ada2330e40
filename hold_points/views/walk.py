"""One walk, room by room: what do I look for here, what is the number, did it pass?"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, BinaryIO

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from coordination.people.access import for_roles, get_own
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence.costs_told import tell_costs
from coordination.sequence.misses_told import MissTold
from coordination.sequence.models import Activity, Hold, Place
from coordination.sequence.sketches import draw_sketch
from hold_points.evidence import Shows, accept
from hold_points.facts import PointRows, load_point
from hold_points.models import Check, Inspection, Nonconformity
from hold_points.queries import WHOLE_HOUSE, Room, list_rooms, next_open
from hold_points.readiness import State
from hold_points.rooms import note_nothing, room_photographs
from hold_points.signing import find_installing_crew
from hold_points.views.finding import (
    SEERS,
    crumbs_of,
    device_of,
    find_inspection,
    may_walk,
    person_of,
    photo_of,
    show,
)


@require_GET
@for_roles(*SEERS)
def walk(request: HttpRequest, inspection: int) -> HttpResponse:
    """The rooms and, of one room, its checks; opens at the first room where something is left."""
    found = find_inspection(request, inspection)
    rows = load_point(found)
    rooms = list_rooms(rows, _("Whole house"))
    asked = request.GET.get("room", "")
    room = next((one for one in rooms if str(one.place_id) == asked), None)
    if room is None:
        left = [one for one in rooms if next_open(one) is not None] or [one for one in rooms if not one.done]
        room = next(iter(left or rooms), None)
    first = next_open(room)
    if first is not None and not asked:
        return redirect("hold_points:check", first.check.id)
    return show(request, "hold_points/walk.html", describe_walk(request, rows, rooms, room))


def describe_walk(
    request: HttpRequest, rows: PointRows, rooms: list[Room], room: Room | None
) -> dict[str, Any]:
    """What the head of a walk's pages shows, and the room that is open."""
    inspection = rows.inspection
    place = Place.objects.filter(pk=room.place_id).first() if room and room.place_id != WHOLE_HOUSE else None
    together = [
        one
        for one in (room.states if room else ())
        if one.state is State.OPEN
        and one.check.kind == Check.Kind.SEEN
        and one.check.needs == Check.Evidence.NONE
        and not one.check.safety
    ]
    costs = tell_costs(one.detail for one in rows.checks.values())
    return {
        "section": "walks",
        "crumbs": crumbs_of(inspection),
        "inspection": inspection,
        "house": inspection.house,
        "may_walk": may_walk(request, inspection),
        "own_crew": find_installing_crew(person_of(request), inspection.house, inspection.point),
        "rows": rows,
        "readiness": rows.readiness,
        "rooms": rooms,
        "room": room,
        "room_checks": [(one, rows.checks[one.check.id]) for one in room.states] if room else [],
        "room_photos": room_photographs(rows, place) if place else (),
        "together": together,
        "hold": Hold.objects.filter(point=inspection.point).first(),
        "from_photographs": inspection.point.point_kind == Activity.PointKind.HOLD_FROM_PHOTOGRAPHS,
        "open_items": [
            one
            for one in rows.readiness.states
            if not one.passes and one.state is not State.OPEN and one.state is not State.NOT_MET
        ],
        "to_put_right": _list_rework(rows, costs),
        "parts": describe_parts(rows),
        "costs": costs,
    }


def _list_rework(
    rows: PointRows, costs: Mapping[int, MissTold]
) -> list[tuple[Nonconformity, MissTold | None]]:
    """What is to be put right and what it costs to leave it: safety first, then what costs most."""
    weights = {one.check.id: (one.check.safety, one.check.cost) for one in rows.readiness.states}
    settled = rows.settled
    left = [check for check, one in rows.nonconformities.items() if one.pk not in settled]
    ordered = sorted(left, key=lambda check: weights.get(check, (False, 0.0)), reverse=True)
    return [(rows.nonconformities[pk], costs.get(rows.checks[pk].detail_id or 0)) for pk in ordered]


def describe_parts(rows: PointRows) -> list[dict[str, Any]]:
    """The sections that may be released singly, with what each lacks; empty when there is only the whole."""
    if len(rows.sections) < 2:
        return []
    return [
        {
            "name": section,
            "left": rows.readiness.of_section(section).left,
            "ready": rows.readiness.of_section(section).ready,
            "released": section in rows.released_sections,
        }
        for section in rows.sections
        if section
    ]


@require_POST
@for_roles(*SEERS)
def room(request: HttpRequest, inspection: int, place: int) -> HttpResponse:
    """A photograph of the room, or 'nothing to note' for everything in it that is only seen."""
    found = find_inspection(request, inspection)
    there = get_own(
        Place.objects.filter(house=found.house_id), person_of(request), path="house__builder", pk=place
    )
    try:
        photo = photo_of(request)
        if photo is not None:
            accept_room_photograph(request, photo, found, there)
            messages.success(request, _("The photograph of the room is on the record."))
        if request.POST.get("act") == "nothing":
            done = note_nothing(found, there, person_of(request), device=device_of(request))
            messages.success(request, _("%(count)d checks met: nothing to note.") % {"count": len(done)})
        elif photo is None:
            raise BadInput("photo", _("Choose or take a photograph of the room first."))
    except (BadInput, WrongState) as refusal:
        rows = load_point(found)
        rooms = list_rooms(rows, _("Whole house"))
        here = next((one for one in rooms if one.place_id == place), None)
        return show(request, "hold_points/walk.html", describe_walk(request, rows, rooms, here), refusal)
    return redirect(f"{reverse('hold_points:walk', args=[found.pk])}?room={place}")


def accept_room_photograph(
    request: HttpRequest, photo: BinaryIO, inspection: Inspection, place: Place
) -> None:
    """Keep a photograph of a room as such."""
    shows = Shows(inspection=inspection, place=place, by=person_of(request), words=place.name)
    accept(photo, inspection.house, shows)


def describe_sketch(check: Check) -> Any:
    """The drawing of a check for its page."""
    return draw_sketch(check.drawing, check.drawing_numbers)
