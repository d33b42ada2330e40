"""Release a point: what is covered, by whom, signed; and let it go in spite of a named nonconformity."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from coordination.people.access import for_roles, get_own
from coordination.people.models import Builder, Role
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence.models import Hold
from hold_points.facts import load_point
from hold_points.gone_past import decide, list_gone_past
from hold_points.identifiers import new_id
from hold_points.models import Inspection, Nonconformity
from hold_points.queries import count_behind, list_rooms
from hold_points.releasing import concede, release
from hold_points.signing import Signature, require_signer, what_is_asked
from hold_points.views.finding import SEERS, crumbs_of, device_of, find_inspection, person_of, show, text_of
from hold_points.views.walk import describe_parts


@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
@for_roles(*SEERS)
def release_point(request: HttpRequest, inspection: int) -> HttpResponse:
    """Show what a signature would cover, and take it. `?part=` names a section; without it, the whole."""
    found = find_inspection(request, inspection)
    role = require_signer(person_of(request), found.house, found.point)
    section = request.POST.get("part", request.GET.get("part", ""))
    if request.method == "GET":
        return _page(request, found, section, role)
    try:
        signed = release(
            found,
            by=person_of(request),
            signature=_read_signature(request),
            id=request.POST.get("id", ""),
            section=section,
            device=device_of(request),
        )
    except (BadInput, WrongState) as refusal:
        return _page(request, found, section, role, refusal)
    if signed.section and not load_point(found).released:
        messages.success(request, _("The part '%(part)s' is released and on the record.") % {"part": section})
    else:
        messages.success(request, _("%(point)s is released and on the record.") % {"point": found.point.name})
    return redirect("hold_points:hold", found.pk)


def _read_signature(request: HttpRequest) -> Signature:
    written = request.POST.get("signature", "")
    try:
        strokes = json.loads(written) if written else []
    except (ValueError, RecursionError) as error:
        raise BadInput("signature", _("The drawn signature cannot be read. Draw it again.")) from error
    return Signature(
        name=text_of(request, "name"),
        strokes=strokes,
        typed=(request.POST.get("typed", "").strip(), request.POST.get("typed_again", "").strip()),
        password=request.POST.get("password", ""),
    )


def _page(
    request: HttpRequest,
    found: Inspection,
    section: str,
    role: Role,
    refusal: BadInput | WrongState | None = None,
) -> HttpResponse:
    rows = load_point(found)
    if section and section not in rows.sections:
        section = ""
    part = rows.readiness.of_section(section)
    hold = Hold.objects.filter(point=found.point).first()
    counts: dict[str, int] = {}
    for one in part.states:
        counts[str(one.state)] = counts.get(str(one.state), 0) + 1
    context: dict[str, Any] = {
        "section": "walks",
        "crumbs": crumbs_of(found, _("Release")),
        "inspection": found,
        "house": found.house,
        "rows": rows,
        "part": part,
        "part_name": section,
        "parts": describe_parts(rows),
        "ready": part.ready and not (rows.released or section in rows.released_sections),
        "released": rows.released or bool(section and section in rows.released_sections),
        "counts": counts,
        "rooms": list_rooms(rows, _("Whole house")),
        "photographs": sum(len(rows.evidence.get(one.check.id, ())) for one in part.states),
        "hold": hold,
        "behind": count_behind(hold),
        "gone_past": list_gone_past(found),
        "role": role,
        "release_id": request.POST.get("id") or new_id(),
        "entered": {
            "typed": request.POST.get("typed", ""),
            "typed_again": request.POST.get("typed_again", ""),
            "signature": request.POST.get("signature", ""),
        },
        **_describe_asked(request, found.house.builder),
    }
    return show(request, "hold_points/release.html", context, refusal)


def _describe_asked(request: HttpRequest, builder: Builder) -> dict[str, Any]:
    """What the page asks of the signer once more: password, PIN or, in a trial, nothing."""
    person = person_of(request)
    return {
        "asked": what_is_asked(person, builder),
        "lacks_pin": not person.pin,
        "takes_pin": builder.signs_with != Builder.SignsWith.PASSWORD,
        "here": request.get_full_path(),
    }


@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
@for_roles(*SEERS)
def concession(request: HttpRequest, nonconformity: int) -> HttpResponse:
    """Let a point go in spite of one named nonconformity, with the act that follows it up."""
    trouble = get_own(
        Nonconformity.objects.select_related(
            "house__builder", "check_failed__inspection__point", "check_failed__place", "crew", "raised_by"
        ).filter(check_failed__isnull=False),
        person_of(request),
        *SEERS,
        path="house__builder",
        pk=nonconformity,
    )
    check = trouble.failed
    check.inspection.house = trouble.house
    context = {
        "section": "walks",
        "crumbs": crumbs_of(check.inspection, _("Concession")),
        "trouble": trouble,
        "check": check,
        "house": trouble.house,
        "inspection": check.inspection,
        "entered": request.POST,
        **_describe_asked(request, trouble.house.builder),
    }
    if request.method == "GET":
        return show(request, "hold_points/concession.html", context)
    try:
        concede(
            trouble,
            by=person_of(request),
            authority=text_of(request, "authority"),
            reason=text_of(request, "reason"),
            follow_up=text_of(request, "follow_up"),
            follow_up_on=_read_day(request.POST.get("follow_up_on", "")),
            follow_up_owner=text_of(request, "follow_up_owner"),
            password=request.POST.get("password", ""),
        )
    except (BadInput, WrongState) as refusal:
        return show(request, "hold_points/concession.html", context, refusal)
    messages.success(request, _("The concession is on the record, with its follow-up."))
    return redirect("hold_points:walk", check.inspection_id)


@require_http_methods(["GET", "POST"])
@for_roles(*SEERS)
def decision(request: HttpRequest, nonconformity: int) -> HttpResponse:
    """Somebody went past a hold point: a named person decides how that is put right."""
    trouble = get_own(
        Nonconformity.objects.filter(gone_past__isnull=False).select_related(
            "house__builder", "gone_past__point", "gone_past__house", "visit", "crew", "decided_by"
        ),
        person_of(request),
        *SEERS,
        path="house__builder",
        pk=nonconformity,
    )
    inspection = trouble.gone_past
    if inspection is None:
        raise Http404
    context = {
        "section": "walks",
        "crumbs": crumbs_of(inspection, _("Went past")),
        "trouble": trouble,
        "house": trouble.house,
        "inspection": inspection,
        "entered": request.POST.get("decision", trouble.decision),
    }
    if request.method == "GET":
        return show(request, "hold_points/decision.html", context)
    try:
        decide(trouble, person_of(request), text_of(request, "decision"))
    except (BadInput, WrongState) as refusal:
        return show(request, "hold_points/decision.html", context, refusal)
    messages.success(request, _("The decision is on the record, and the crew is told."))
    return redirect("hold_points:hold", inspection.pk)


def _read_day(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError as error:
        raise BadInput("follow_up_on", _("Give the day of the follow-up.")) from error
