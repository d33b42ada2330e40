"""What a crew has to do and to show at a visit: the walk's checks, wanted photographs, rework."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from django.db.models import F, Q
from django.utils.translation import gettext as _

from coordination.people.models import Crew
from coordination.people.refusals import NotAllowed
from coordination.sequence.inspection import WorkItem
from coordination.sequence.models import Activity, Booking, Installer
from coordination.sequence.pricing import weigh_details
from hold_points.facts import PointRows, load_points
from hold_points.models import Check, Evidence, Inspection, Nonconformity
from hold_points.readiness import CheckState, State
from hold_points.rework import say_limit
from hold_points.stating import show_statements

PHOTOGRAPHED = (Activity.PointKind.PHOTO, Activity.PointKind.HOLD_FROM_PHOTOGRAPHS)


def find_work(visit_ids: Iterable[int]) -> dict[int, list[WorkItem]]:
    """Work of each visit asked: what is to be put right first, then photographs, then what is looked for."""
    ids = list(visit_ids)
    installed: dict[int, set[int]] = {pk: set() for pk in ids}
    for visit, detail in Installer.objects.filter(activity__visit__in=ids).values_list(
        "activity__visit", "detail"
    ):
        if visit is not None:
            installed[visit].add(detail)
    every = set().union(*installed.values()) if installed else set()
    rework = _find_rework(ids)
    judging = set(
        Inspection.objects.filter(checks__detail__in=every, checks__withdrawn_at=None)
        .distinct()
        .values_list("pk", flat=True)
    )
    points = load_points(judging | {one.failed.inspection_id for ones in rework.values() for one in ones})
    settled = {pk for point in points.values() for pk in point.settled}
    rows = {pk: point for pk, point in points.items() if pk in judging}
    decided = _find_decided(ids)
    return {
        pk: [
            *decided.get(pk, ()),
            *_unique((one for one in rework.get(pk, ()) if one.pk not in settled), installed[pk]),
            *_describe(rows, installed[pk]),
        ]
        for pk in ids
    }


def read_photo(photo_id: int, crew: Crew) -> bytes:
    """The clean copy of a photograph of what the crew has to put right, or of one that it sent itself.

    Raises:
        NotAllowed: it shows nothing of this crew's, or its file is not on this server.
    """
    theirs = Q(crew=crew) | Q(nonconformity__crew=crew) | Q(outcome__raises__crew=crew)
    found = Evidence.objects.filter(theirs, pk=photo_id).first()
    if found is None:
        raise NotAllowed(_("This photograph is not for your crew."))
    if not found.shown:
        raise NotAllowed(_("This photograph is on the record; its copy is being prepared."))
    try:
        with found.shown.open("rb") as file:
            return bytes(file.read())
    except (FileNotFoundError, ValueError) as gone:
        raise NotAllowed(_("The file of this photograph is not on this server.")) from gone


def _find_rework(visit_ids: Sequence[int]) -> dict[int, list[Nonconformity]]:
    crews = dict(
        Booking.objects.filter(visit__in=visit_ids, state__in=Booking.LIVE).values_list("visit", "crew")
    )
    houses = dict(Booking.objects.filter(visit__in=visit_ids).values_list("visit", "house"))
    found: dict[int, list[Nonconformity]] = {}
    rows = list(
        Nonconformity.objects.filter(
            crew__in=set(crews.values()), house__in=set(houses.values()), check_failed__isnull=False
        )
        .exclude(state=Nonconformity.State.CLOSED)
        .select_related(
            "check_failed__place", "check_failed__inspection", "check_failed__detail", "raised_by"
        )
        .prefetch_related("evidence", "raised_by__evidence")
        .order_by("put_right_until", "pk")
    )
    # Of what is wanted by the same half-day, what matters most stands first.
    costs = weigh_details(one.failed.detail for one in rows)
    rows.sort(
        key=lambda one: (
            one.put_right_until is None,
            one.put_right_until or 0,
            -costs.get(one.failed.detail_id or 0, 0.0),
        )
    )
    for visit, crew in crews.items():
        found[visit] = [one for one in rows if one.crew_id == crew and one.house_id == houses[visit]]
    return found


def _find_decided(visit_ids: Iterable[int]) -> dict[int, list[WorkItem]]:
    """What a named person decided after a visit went past a hold point, until its release closes it."""
    rows = Nonconformity.objects.filter(
        visit__in=list(visit_ids),
        visit__bookings__crew=F("crew"),
        visit__bookings__state__in=Booking.LIVE,
        decided_by__isnull=False,
    ).exclude(state=Nonconformity.State.CLOSED)
    found: dict[int, list[WorkItem]] = {}
    for one in rows.select_related("gone_past__point").prefetch_related("evidence").order_by("pk"):
        if one.visit_id is None or one.gone_past is None:
            continue
        photos = list(one.evidence.all())
        words = _("%(decision)s. Decided because the work went past %(point)s.")
        found.setdefault(one.visit_id, []).append(
            WorkItem(
                kind="rework",
                words=words % {"decision": one.decision.rstrip("."), "point": one.gone_past.point.name},
                nonconformity_id=one.pk,
                point_id=one.gone_past.point_id,
                done=one.state == Nonconformity.State.PUT_RIGHT,
                photo_ids=tuple(photo.pk for photo in photos if photo.prepared_at),
                photos_coming=sum(not (photo.prepared_at or photo.given_up) for photo in photos),
            )
        )
    return found


def _unique(rows: Iterable[Nonconformity], installed: set[int]) -> Iterable[WorkItem]:
    """Rework on what this visit installs; what has no detail goes with every visit of the crew there."""
    for one in rows:
        check = one.failed
        if check.detail_id is not None and check.detail_id not in installed:
            continue
        note = f" {one.outcome.note}" if one.outcome.note else ""
        photos = [*one.outcome.evidence.all(), *one.evidence.all()]
        yield WorkItem(
            kind="rework",
            words=f"{check.text}{note}",
            place=check.place.name if check.place else "",
            limit=say_limit(check),
            applies=check.applies,
            caution=check.caution,
            put_right_until=one.put_right_until,
            nonconformity_id=one.pk,
            point_id=check.inspection.point_id,
            detail_id=check.detail_id,
            place_id=check.place_id,
            done=one.state == Nonconformity.State.PUT_RIGHT,
            photo_ids=tuple(photo.pk for photo in photos if photo.prepared_at),
            photos_coming=sum(not (photo.prepared_at or photo.given_up) for photo in photos),
            drawing=check.drawing,
            drawing_numbers=check.drawing_numbers,
        )


def _describe(rows: Mapping[int, PointRows], installed: set[int]) -> Iterable[WorkItem]:
    looked_for: list[WorkItem] = []
    for point in rows.values():
        kind = point.inspection.point.point_kind
        groups: dict[str, list[CheckState]] = {}
        for state in point.readiness.states:
            if point.checks[state.check.id].detail_id in installed and state.state is not State.NOT_DRAWN:
                groups.setdefault(state.check.key, []).append(state)
        for states in groups.values():
            if kind in PHOTOGRAPHED:
                yield from (_photo(point, one) for one in states)
            else:
                looked_for.append(_look(point, states))
                if point.checks[states[0].check.id].evidence == Check.Evidence.STATEMENT:
                    yield _ask_statement(point, states[0])
    yield from looked_for


def _photo(point: PointRows, state: CheckState) -> WorkItem:
    check = point.checks[state.check.id]
    return WorkItem(
        kind="photo",
        words=check.text,
        place=state.check.place_name,
        limit=say_limit(check),
        applies=check.applies,
        caution=check.caution,
        point_id=point.inspection.point_id,
        detail_id=check.detail_id,
        place_id=check.place_id,
        done=bool(state.photos),
        photo_ids=tuple(one.pk for one in point.evidence.get(check.pk, ()) if one.prepared_at),
        photos_coming=sum(not (one.prepared_at or one.given_up) for one in point.evidence.get(check.pk, ())),
        drawing=check.drawing,
        drawing_numbers=check.drawing_numbers,
    )


def _ask_statement(point: PointRows, state: CheckState) -> WorkItem:
    check = point.checks[state.check.id]
    given = show_statements(point.statements.get(check.pk, ()))
    return WorkItem(
        kind="statement",
        words=check.text,
        caution=check.caution,
        point_id=point.inspection.point_id,
        detail_id=check.detail_id,
        done=bool(given),
        check_id=check.pk,
        statements=given,
        closed=point.released or check.section in point.released_sections,
    )


def _look(point: PointRows, states: Sequence[CheckState]) -> WorkItem:
    """One line for a check in all its places: a crew reads words and places, not forty rows."""
    check: Check = point.checks[states[0].check.id]
    return WorkItem(
        kind="check",
        words=check.text,
        place=", ".join(one.check.place_name for one in states if one.check.place_name),
        limit=say_limit(check),
        applies=check.applies,
        caution=check.caution,
        point_id=point.inspection.point_id,
        detail_id=check.detail_id,
        done=all(one.passes for one in states),
        drawing=check.drawing,
        drawing_numbers=check.drawing_numbers,
    )
