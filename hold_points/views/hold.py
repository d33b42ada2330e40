"""Why is this held; re-open it; judge it from the crew's photographs."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import F
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from coordination.people.access import for_roles, read_key
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence.holds import at_work_behind
from coordination.sequence.models import Activity, Booking, Covering, Hold, Plan, PlannedDate
from hold_points.calling import find_calls
from hold_points.facts import load_point
from hold_points.gone_past import list_gone_past
from hold_points.identifiers import new_id
from hold_points.models import Inspection, Outcome
from hold_points.port import describe_hold
from hold_points.queries import list_rooms
from hold_points.reopening import reopen
from hold_points.views.finding import SEERS, crumbs_of, find_inspection, may_walk, person_of, show, text_of
from hold_points.views.walk import describe_parts


@require_GET
@for_roles(*SEERS)
def hold(request: HttpRequest, inspection: int) -> HttpResponse:
    """One hold: what is missing, who has to act, who waits behind it, and its releases."""
    found = find_inspection(request, inspection)
    rows = load_point(found)
    calls = find_calls([found.pk], {found.pk: rows.reopened_at})[found.pk]
    there = Hold.objects.filter(point=found.point).select_related("set_aside_by").first()
    plan = Plan.objects.filter(house=found.house_id).order_by("-number").first()
    planned = PlannedDate.objects.filter(plan=plan, activity=found.point).first() if plan else None
    return show(
        request,
        "hold_points/hold.html",
        {
            "section": "walks",
            "crumbs": crumbs_of(found, _("Released") if rows.released else _("Why it is held")),
            "inspection": found,
            "house": found.house,
            "may_walk": may_walk(request, found),
            "rows": rows,
            "hold": there,
            "state": describe_hold(there, rows, calls) if there else None,
            "calls": calls,
            "planned": planned,
            "parts": describe_parts(rows),
            "waiting": _waiting(there),
            "gone_past": list_gone_past(found),
            "buries": Covering.objects.filter(point=found.point)
            .select_related("activity", "detail")
            .order_by("activity__order", "detail__order"),
        },
    )


def _waiting(hold: Hold | None) -> list[Booking]:
    if hold is None:
        return []
    return list(
        Booking.objects.filter(visit__holds_before__hold=hold, state__in=Booking.LIVE)
        .select_related("visit", "crew")
        .order_by(F("told_start").asc(nulls_last=True), "visit__order")
    )


@require_http_methods(["GET", "POST"])
@for_roles(*SEERS)
def reopen_point(request: HttpRequest, inspection: int) -> HttpResponse:
    """Choose rooms and say why; a second press in another place confirms what it brings about."""
    found = find_inspection(request, inspection)
    if request.method == "GET":
        return _reopen_page(request, found)
    chosen = [key for one in request.POST.getlist("places") if (key := read_key(one))]
    try:
        if "sure" not in request.POST:
            if not text_of(request, "reason").strip():
                raise BadInput("reason", _("Say in a few words why it is re-opened."))
            if not request.POST.getlist("places"):
                raise BadInput("places", _("Choose the rooms in which the work was disturbed."))
            return _reopen_page(request, found, confirm=True)
        reopen(found, chosen, text_of(request, "reason"), by=person_of(request))
    except (BadInput, WrongState) as refusal:
        return _reopen_page(request, found, refusal)
    messages.success(request, _("%(point)s is re-opened and on the record.") % {"point": found.point.name})
    return redirect("hold_points:hold", found.pk)


def _reopen_page(
    request: HttpRequest,
    found: Inspection,
    refusal: BadInput | WrongState | None = None,
    *,
    confirm: bool = False,
) -> HttpResponse:
    rows = load_point(found)
    chosen = set(request.POST.getlist("places"))
    rooms = list_rooms(rows, _("What is asked once for the house"))
    hold = Hold.objects.filter(point=found.point).first()
    waiting = _waiting(hold)
    return show(
        request,
        "hold_points/reopen.html",
        {
            "section": "walks",
            "crumbs": crumbs_of(found, _("Re-open")),
            "inspection": found,
            "house": found.house,
            "rows": rows,
            "rooms": [room for room in rooms if room.place_id or len(rooms) == 1],
            "chosen": chosen,
            "chosen_names": [room.name for room in rooms if str(room.place_id) in chosen],
            "reason": request.POST.get("reason", ""),
            "confirm": confirm,
            "firm": [one for one in waiting if one.state == Booking.State.FIRM],
            "under_way": at_work_behind(hold) if hold is not None else [],
        },
        refusal,
    )


@require_GET
@for_roles(*SEERS)
def photographs(request: HttpRequest, inspection: int) -> HttpResponse:
    """Everything that the crew's photographs show, check by check, to be judged at the desk."""
    found = find_inspection(request, inspection)
    rows = load_point(found)
    outcomes = Outcome.objects.filter(check_judged__inspection=found).order_by("received_at", "pk")
    last = dict(outcomes.values_list("check_judged", "pk"))
    from_photographs = found.point.point_kind == Activity.PointKind.HOLD_FROM_PHOTOGRAPHS
    return show(
        request,
        "hold_points/photographs.html",
        {
            "section": "walks",
            "crumbs": crumbs_of(found, _("Photographs")),
            "inspection": found,
            "house": found.house,
            "may_walk": may_walk(request, found),
            "rows": rows,
            "readiness": rows.readiness,
            "judged_here": from_photographs,
            "items": [
                {
                    "state": one,
                    "check": rows.checks[one.check.id],
                    "photos": rows.evidence.get(one.check.id, ()),
                    "id": new_id(),
                    "seen": last.get(one.check.id, ""),
                    "judged": one.photos > 0
                    and not one.passes
                    and not one.check.safety
                    and (from_photographs or rows.checks[one.check.id].remote_closing),
                }
                for one in sorted(rows.readiness.states, key=lambda one: rows.checks[one.check.id].order)
            ],
        },
    )
