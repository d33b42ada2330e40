"""Visits of a house and their bookings, and one visit with what can be done about it."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from coordination.people.access import for_roles
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.forms.bookings import CrewForm, PencilForm, StandDownForm, crews_for
from coordination.planner.house_head import read_head, say_today
from coordination.planner.views.finding import SEERS, find_house, may_plan, show
from coordination.sequence.bookings import find_offers
from coordination.sequence.models import Booking, FittedStart, House, ReservedTime, ToldDate, Visit
from coordination.sequence.queries import Programme, VisitRow, programme

State = Booking.State


@require_GET
@for_roles(*SEERS)
def visits(request: HttpRequest, house: int) -> HttpResponse:
    """All visits of a house: planned, booked, told, held."""
    return show_visits(request, find_house(request, house))


def show_visits(
    request: HttpRequest, found: House, refusal: BadInput | WrongState | None = None
) -> HttpResponse:
    """The page of all visits; after a refused act it says what was wrong."""
    known = programme(found)
    rows = known.visits if known else ()
    done = {row.id for row in rows if known and _is_done(row, known)}
    today = say_today(found)
    to_come = [row for row in rows if row.id not in done]
    context = {
        "head_of": read_head(found),
        "house": found,
        "tab": "visits",
        "plans": may_plan(request, found),
        "to_come": to_come,
        "done": [row for row in rows if row.id in done],
        "today": today,
        "asked": sum(may_pencil(row, today) for row in to_come),
        "offers": find_offers(found, {row.id: (row.start, row.finish) for row in rows}),
    }
    return show(request, "planner/visits.html", context, refusal)


def may_pencil(row: VisitRow, today: int) -> bool:
    """Whether a visit has a crew that nobody told of it yet, and its day has not passed."""
    return row.booking is not None and row.booking.state == State.ASKED and row.start >= today


def _is_done(row: VisitRow, known: Programme) -> bool:
    states = {one.key: one.state for one in known.activities}
    return all(states[key] == "done" for key in row.activities)


def find_visit(house: House, pk: int) -> Visit:
    """A visit of the house."""
    found = Visit.objects.filter(house=house, pk=pk).select_related("house__builder", "trade").first()
    if found is None:
        raise Http404
    return found


@require_GET
@for_roles(*SEERS)
def visit(request: HttpRequest, house: int, visit: int) -> HttpResponse:
    """One visit: its work, its booking, what holds it, and the acts."""
    found = find_house(request, house)
    return show_visit(request, found, find_visit(found, visit))


def show_visit(
    request: HttpRequest,
    house: House,
    visit: Visit,
    refusal: BadInput | WrongState | None = None,
    **forms: Any,
) -> HttpResponse:
    """The page of a visit; after a refused act it says what is missing and keeps what was entered."""
    known = programme(house)
    row = next((one for one in known.visits if one.id == visit.pk), None) if known else None
    head = read_head(house)
    booking = row.booking if row else None
    today = say_today(house)
    context = {
        "head_of": head,
        "house": house,
        "crumbs": head.crumbs_to(visit.name),
        "visit": visit,
        "row": row,
        "work": [one for one in known.activities if one.visit_id == visit.pk] if known else [],
        "windows": _windows_of(known, visit) if known else [],
        "plans": may_plan(request, house),
        "crew_form": CrewForm(visit, booking.crew_id if booking else None),
        "crews": crews_for(visit).exclude(pk=booking.crew_id if booking else None).exists(),
        "pencil_form": PencilForm(initial={"start": max(row.start, today) if row else None}),
        "stand_down_form": StandDownForm(),
        "told": ToldDate.objects.filter(booking__visit=visit).select_related("booking__crew"),
        "reserved": _list_reserved(booking.crew_id, house, today) if booking else [],
        "can_pencil": booking is not None and booking.state in (State.ASKED, State.PENCILLED, State.FIRM),
        "can_firm": booking is not None and booking.state == State.PENCILLED,
        "can_stand_down": booking is not None and booking.state != State.DONE,
        "waits_for_crew": FittedStart.objects.filter(
            activity__visit=visit, activity__actual_start__isnull=True, crew=booking.crew_id
        ).exists()
        if booking
        else False,
        **forms,
    }
    return show(request, "planner/visit.html", context, refusal)


def _windows_of(known: Programme, visit: Visit) -> list[Any]:
    keys = {key for one in known.activities if one.visit_id == visit.pk for key in one.installs}
    return [window for window in known.windows if window.key in keys]


def _list_reserved(crew: int, house: House, today: int) -> list[ReservedTime]:
    rows = ReservedTime.objects.filter(
        crew=crew, builder=house.builder_id, end__gt=today, agreed_at__isnull=False
    )
    return list(rows.order_by("first"))
