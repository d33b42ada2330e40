"""One check: the words, the limit, the sketch, the number, the photographs, the outcome."""

from __future__ import annotations

import math
from typing import Any, BinaryIO
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from coordination import clock
from coordination.people.access import for_roles
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence.models import Activity
from hold_points.entering import Found, FoundOtherwise, require_seen, require_sense
from hold_points.evidence import Shows, accept, read_photograph
from hold_points.facts import load_point
from hold_points.identifiers import new_id, read_id
from hold_points.models import Check, Outcome
from hold_points.queries import Room, list_rooms, next_open
from hold_points.readiness import State
from hold_points.rework import find_crew, find_put_right_until, say_limit
from hold_points.sampling import draw_spots
from hold_points.signing import is_own_work
from hold_points.stating import find_statements
from hold_points.views.finding import (
    SEERS,
    device_of,
    find_check,
    lead_on,
    person_of,
    photo_of,
    show,
    text_of,
)
from hold_points.views.walk import describe_sketch, describe_walk
from hold_points.walking import record_outcome


@require_http_methods(["GET", "POST"])
@for_roles(*SEERS)
def check(request: HttpRequest, check: int) -> HttpResponse:
    """Show a check, keep its photograph, or record its outcome."""
    found = find_check(request, check)
    if request.method == "GET":
        return _page(request, found)
    return lead_on(request, _act(request, found))


def _act(request: HttpRequest, found: Check) -> HttpResponse:
    act = request.POST.get("act", "")
    try:
        if act == "photo":
            return _keep_photo(request, found)
        if act == "back":
            return _page(request, found)
        if act == Outcome.Kind.NOT_MET and "sure" not in request.POST:
            # The second press lies elsewhere: rain and gloves press twice in one place.
            return _confirm(request, found)
        outcome = record_outcome(found, read_found(request, found, act), person_of(request))
    except FoundOtherwise as refusal:
        _keep_sent_along(request, found)
        return _page(request, found, refusal=refusal)
    except (BadInput, WrongState) as refusal:
        return _page(request, found, refusal=refusal)
    return _go_on(request, found, outcome)


def read_found(request: HttpRequest, found: Check, act: str) -> Found:
    """What was entered; photographs are read before anything is locked."""
    photo = photo_of(request)
    zone = found.inspection.house.builder.time_zone
    photos = [] if photo is None else [read_photograph(photo, zone)]
    return Found(
        id=read_id(request.POST.get("id", ""), "id"),
        kind=act,
        value=read_number(request.POST.get("value", "")),
        note=text_of(request, "note"),
        own_hand="own_hand" in request.POST,
        from_photograph="from_photograph" in request.POST,
        device=device_of(request),
        photos=photos,
        seen=request.POST.get("seen"),
    )


def read_number(text: str) -> float | None:
    """A number as it is typed on site: '31', '31.5', '31,5'; nothing is None.

    Raises:
        BadInput: anything else.
    """
    text = text.strip().replace(",", ".")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError as error:
        raise BadInput(
            "value", _("'%(text)s' is no number. Give digits only.") % {"text": text[:20]}
        ) from error
    if not math.isfinite(value):
        raise BadInput("value", _("'%(text)s' is no number. Give digits only.") % {"text": text[:20]})
    return value


def _keep_photo(request: HttpRequest, found: Check) -> HttpResponse:
    photo = photo_of(request)
    if photo is None:
        raise BadInput("photo", _("Choose or take a photograph first."))
    _accept(request, photo, found)
    if getattr(request, "htmx", False):
        return _page(request, found)
    # What was entered beside the photograph is carried along, not lost.
    entered = {"value": request.POST.get("value", "")[:12], "note": request.POST.get("note", "")[:500]}
    kept = {name: words for name, words in entered.items() if words}
    if "own_hand" in request.POST:
        kept["own_hand"] = "yes"
    return redirect(f"{reverse('hold_points:check', args=[found.pk])}?{urlencode(kept)}")


def _accept(request: HttpRequest, photo: BinaryIO, found: Check) -> None:
    shows = Shows(inspection=found.inspection, check=found, by=person_of(request), words=found.text)
    accept(photo, found.inspection.house, shows)
    messages.success(request, _("The photograph is on the record."))


def _confirm(request: HttpRequest, found: Check) -> HttpResponse:
    """Ask once more, saying who will have it as rework; a photograph sent along is kept already.

    What is to be said with it is asked for first: nobody confirms what is then refused.
    """
    entered = Found(
        id=new_id(),
        kind=Outcome.Kind.NOT_MET,
        value=read_number(request.POST.get("value", "")),
        note=text_of(request, "note"),
        own_hand="own_hand" in request.POST,
        seen=request.POST.get("seen"),
    )
    require_seen(found, entered)
    state = load_point(found.inspection).state_of(found.pk)
    if state is not None:
        require_sense(found, entered, state)
    _keep_sent_along(request, found)
    return _page(request, found, confirm=True)


def _keep_sent_along(request: HttpRequest, found: Check) -> None:
    """A page that is shown again cannot hold a chosen file: the photograph is kept as one of the check."""
    photo = photo_of(request)
    if photo is not None:
        photo.seek(0)
        _accept(request, photo, found)


def _go_on(request: HttpRequest, found: Check, outcome: Outcome) -> HttpResponse:
    said = {"what": found.text.rstrip("."), "kind": _say(outcome)}
    rows = load_point(found.inspection)
    state = rows.state_of(found.pk)
    if state is not None and state.state is State.NO_EVIDENCE:
        words = (
            _("On the record: %(what)s, %(kind)s. The document's photograph or its number is still missing.")
            if found.evidence == Check.Evidence.DOCUMENT
            else _("On the record: %(what)s, %(kind)s. Its photograph is still missing: take it now.")
        )
        messages.warning(request, words % said)
        return redirect("hold_points:check", found.pk)
    messages.success(request, _("On the record: %(what)s, %(kind)s.") % said)
    rooms = list_rooms(rows, _("Whole house"))
    here = next((room for room in rooms if room.place_id == (found.place_id or 0)), None)
    return redirect(_address_after(found, here))


def _address_after(found: Check, here: Room | None) -> str:
    """Where the walk goes on after a check: the next one of its room, else the room itself."""
    following = next_open(here, found.pk)
    if following is not None:
        return reverse("hold_points:check", args=[following.check.id])
    walk = reverse("hold_points:walk", args=[found.inspection_id])
    return f"{walk}?room={found.place_id or 0}"


def _say(outcome: Outcome) -> str:
    return str(Outcome.Kind(outcome.kind).label)


def _page(
    request: HttpRequest,
    found: Check,
    refusal: BadInput | WrongState | None = None,
    confirm: bool = False,
) -> HttpResponse:
    rows = load_point(found.inspection)
    rooms = list_rooms(rows, _("Whole house"))
    here = next((room for room in rooms if room.place_id == (found.place_id or 0)), None)
    state = rows.state_of(found.pk)
    if state is None:
        messages.warning(
            request, _("This check was replaced because the house changed. Look at the new one.")
        )
        return redirect("hold_points:walk", found.inspection_id)
    context = describe_walk(request, rows, rooms, here)
    history = list(found.outcomes.select_related("by").order_by("-received_at", "-pk"))
    otherwise = isinstance(refusal, FoundOtherwise)
    context |= {
        "check": found,
        # Beside 'no cap over a lamp' the heat of an open void would argue for the cap.
        "miss": None if found.safety else context["costs"].get(found.detail_id),
        "state": state,
        "limit": say_limit(found, with_unit=False),
        "bounds": _describe_bounds(found),
        "numbered": found.kind in (Check.Kind.COUNTED, Check.Kind.MEASURED),
        "sketch": describe_sketch(found),
        "photos": rows.evidence.get(found.pk, ()),
        "photo_count": len(rows.evidence.get(found.pk, ())),
        "sample": draw_spots(rows.checks[found.pk], rows),
        "outcome_id": request.POST.get("id") or new_id(),
        "entered": {
            "value": request.POST.get("value", request.GET.get("value", "")[:12]),
            "note": request.POST.get("note", request.GET.get("note", "")[:500]),
            "own_hand": "own_hand" in (request.POST or request.GET),
            "from_photograph": "from_photograph" in request.POST,
        },
        "released": found.section in rows.released_sections or rows.released,
        "judged_from_photograph": _from_photograph(request, found, state.hands),
        "may_judge_from_photograph": found.remote_closing and not found.safety and state.photos > 0,
        "confirm": _describe_confirm(found) if confirm else None,
        "closes": not context["may_walk"] and _is_second_person(request, found, state.hands),
        "own_work": context["own_crew"] is not None and is_own_work(person_of(request), found),
        "history": history,
        "stating": found.evidence == Check.Evidence.STATEMENT,
        "statements": find_statements(rows, found),
        "after": _address_after(found, here) if state.latest is not None and state.passes else "",
        "seen": _seen(request, history, otherwise),
        "otherwise": otherwise,
    }
    return show(request, "hold_points/check.html", context, refusal)


def _seen(request: HttpRequest, history: list[Outcome], otherwise: bool) -> str:
    """The last outcome that whoever judges has been shown; a page that says what came since shows that."""
    if not otherwise and "seen" in request.POST:
        return request.POST["seen"]
    return str(history[0].pk) if history else ""


def _from_photograph(request: HttpRequest, found: Check, hands: frozenset[int]) -> bool:
    """Whether this page judges from the photograph: at a point that does, or as the second person."""
    if found.safety:
        return False
    if found.inspection.point.point_kind == Activity.PointKind.HOLD_FROM_PHOTOGRAPHS:
        return True
    return _is_second_person(request, found, hands)


def _is_second_person(request: HttpRequest, found: Check, hands: frozenset[int]) -> bool:
    """Whether the person may close what others put right with their own hand."""
    return bool(hands) and not found.safety and person_of(request).pk not in hands


def _describe_bounds(found: Check) -> dict[str, str]:
    """The limit as plain numbers, for a tablet that has to say without the server what is outside it."""
    low, high = found.limit, found.limit_high
    return {"low": "" if low is None else repr(low), "high": "" if high is None else repr(high)}


def _describe_confirm(found: Check) -> dict[str, Any]:
    crew, until = find_crew(found), find_put_right_until(found)
    return {"crew": crew, "until": clock.say_half_day(until) if until is not None else ""}
