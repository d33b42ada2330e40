"""The planner's acts on a booking: give to a crew, pencil, make firm, stand down, use reserved time."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from coordination import clock
from coordination.people.access import for_roles
from coordination.people.models import Person
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.effect import foresee
from coordination.planner.forms.bookings import CrewForm, PencilForm, StandDownForm
from coordination.planner.house_head import read_head
from coordination.planner.views.finding import PLANNER, find_house, person_of, show
from coordination.planner.views.progress import kept
from coordination.planner.views.visits import find_visit, show_visit
from coordination.sequence import bookings
from coordination.sequence.house_network import WhatIf
from coordination.sequence.models import Booking, ReservedTime, Visit


@require_POST
@for_roles(PLANNER)
def crew(request: HttpRequest, house: int, visit: int) -> HttpResponse:
    """Give a visit to a crew, or to another one; the effect on the plan is shown first."""
    found = find_house(request, house, PLANNER)
    row = find_visit(found, visit)
    live = _live(row)
    form = CrewForm(row, live.crew_id if live else None, request.POST)
    if not form.is_valid():
        return show_visit(request, found, row, crew_form=form)
    chosen, why = form.cleaned_data["crew"], form.cleaned_data.get("why", "")
    try:
        if "apply" not in request.POST:
            context = {
                "house": found,
                "effect": foresee(found, WhatIf(crews={row.key: chosen})),
                "kept": kept(request.POST),
                "crumbs": read_head(found).crumbs_to(row.name),
                "what": _("%(visit)s with %(crew)s") % {"visit": row.name, "crew": chosen.name},
                "apply_words": _("Give it to %(crew)s") % {"crew": chosen.name},
                "stood_down": live,
            }
            return show(request, "planner/effect.html", context)
        if live is None:
            bookings.ask(row, chosen, person_of(request))
        else:
            bookings.change_crew(row, chosen, person_of(request), why)
    except (BadInput, WrongState) as refusal:
        return show_visit(request, found, row, refusal, crew_form=form)
    messages.success(
        request, _("%(crew)s is asked for %(visit)s.") % {"crew": chosen.name, "visit": row.name}
    )
    return redirect("planner:visit", house=found.pk, visit=row.pk)


@require_POST
@for_roles(PLANNER)
def pencil(request: HttpRequest, house: int, visit: int) -> HttpResponse:
    """Tell the crew a date that may still move."""
    found = find_house(request, house, PLANNER)
    row = find_visit(found, visit)
    form = PencilForm(request.POST if "start_0" in request.POST else None)
    if form.is_bound and not form.is_valid():
        return show_visit(request, found, row, pencil_form=form)
    start = form.cleaned_data["start"] if form.is_bound else None

    def act(booking: Booking, by: Person) -> str:
        done = bookings.pencil(booking, start, by=by)
        facts = {"visit": row.name, "half_day": clock.say_half_day(done.told_start)}
        return _("%(visit)s is pencilled %(half_day)s. The crew is told.") % facts

    return _act(request, row, act, pencil_form=form if form.is_bound else PencilForm())


@require_POST
@for_roles(PLANNER)
def make_firm(request: HttpRequest, house: int, visit: int) -> HttpResponse:
    """Make a pencilled booking firm; refused with the list of what is missing while a hold is closed."""
    found = find_house(request, house, PLANNER)
    row = find_visit(found, visit)

    def act(booking: Booking, by: Person) -> str:
        done = bookings.make_firm(booking, by)
        facts = {"visit": row.name, "half_day": clock.say_half_day(done.told_start)}
        return _("%(visit)s is firm %(half_day)s. The crew is told.") % facts

    return _act(request, row, act)


@require_POST
@for_roles(PLANNER)
def stand_down(request: HttpRequest, house: int, visit: int) -> HttpResponse:
    """Stand the crew of a visit down."""
    found = find_house(request, house, PLANNER)
    row = find_visit(found, visit)
    form = StandDownForm(request.POST)
    if not form.is_valid():
        return show_visit(request, found, row, stand_down_form=form)

    def act(booking: Booking, by: Person) -> str:
        bookings.stand_down(booking, form.cleaned_data["why"], by)
        return _("%(crew)s is stood down from %(visit)s.") % {"crew": booking.crew.name, "visit": row.name}

    return _act(request, row, act, stand_down_form=form)


@require_POST
@for_roles(PLANNER)
def reserve(request: HttpRequest, house: int, visit: int, reserved: int) -> HttpResponse:
    """Let the booking use time that was reserved with its crew."""
    found = find_house(request, house, PLANNER)
    row = find_visit(found, visit)
    time = ReservedTime.objects.filter(pk=reserved, builder=found.builder_id).first()
    if time is None:
        raise Http404

    def act(booking: Booking, by: Person) -> str:
        bookings.draw_reserved_time(booking, time, by)
        return _("%(visit)s uses the reserved time.") % {"visit": row.name}

    return _act(request, row, act)


def _live(visit: Visit) -> Booking | None:
    rows = Booking.objects.filter(visit=visit, state__in=Booking.LIVE)
    return rows.select_related("crew", "house__builder", "visit").first()


def _act(
    request: HttpRequest, visit: Visit, act: Callable[[Booking, Person], str], **forms: object
) -> HttpResponse:
    """Do an act on the live booking; say what came of it, or show the visit with the refusal."""
    booking = _live(visit)
    try:
        if booking is None:
            raise WrongState(_("%(visit)s has no booking. Give it to a crew first.") % {"visit": visit.name})
        words = act(booking, person_of(request))
    except (BadInput, WrongState) as refusal:
        return show_visit(request, visit.house, visit, refusal, **forms)
    messages.success(request, words)
    return redirect("planner:visit", house=visit.house_id, visit=visit.pk)
