"""A crew calls its points ready; a walk is called when every crew that installs there has called."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.models import Builder, Crew
from coordination.people.refusals import NotAllowed, WrongState
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Activity, Booking, Detail, House, Installer, Visit
from hold_points import record
from hold_points.facts import PointRows, load_points
from hold_points.models import Call, Inspection, Nonconformity
from hold_points.moments import next_moment
from hold_points.rework import who_looks
from hold_points.sampling import settle_samples
from hold_points.witnessing import give_notice, waiting_points

CALLED_KINDS = (
    Activity.PointKind.HOLD,
    Activity.PointKind.HOLD_FROM_PHOTOGRAPHS,
    Activity.PointKind.WITNESS,
)


@dataclass
class CallState:
    """Who has called a point ready and who has not. `since` is the latest call."""

    called: list[str] = field(default_factory=list)
    waiting: list[str] = field(default_factory=list)
    since: dt.datetime | None = None

    @property
    def ready(self) -> bool:
        """Whether it makes sense to drive: someone has called and nobody is left who has not."""
        return self.since is not None and not self.waiting


def points_of_visit(visit_id: int) -> list[Inspection]:
    """Inspections of the points that judge what a visit installs, in the house's order."""
    details = set(Installer.objects.filter(activity__visit=visit_id).values_list("detail", flat=True))
    points = set(Detail.objects.filter(pk__in=details).values_list("point", flat=True))
    found = Inspection.objects.filter(point__in=points - {None}, point__point_kind__in=CALLED_KINDS)
    return list(found.select_related("point").order_by("point__order"))


def call_ready(visit_id: int, crew: Crew, note: str = "") -> list[str]:
    """A crew calls its points; returns the labels of those that are still to be passed.

    Raises:
        NotAllowed: the visit is not the crew's.
        WrongState: something found there is still to be put right by this crew; nothing is called.
    """
    with transaction.atomic():
        visit = _require_own(visit_id, crew)
        house = lock_house(visit.house_id)
        inspections = points_of_visit(visit_id)
        rows = load_points(one.pk for one in inspections)
        _refuse_open_rework([one for one in rows.values() if not one.released], crew)
        called = []
        for inspection in inspections:
            point = rows[inspection.pk]
            if point.released:
                continue
            called.append(inspection.point.name)
            since = point.reopened_at
            if _counting_calls(inspection, crew, since).exists():
                continue
            _call(inspection, house, crew, note[:300], since)
    return called


def _counting_calls(inspection: Inspection, crew: Crew, since: dt.datetime | None) -> QuerySet[Call]:
    """The crew's calls that no re-opening has overtaken; `since`: when the point was last opened again."""
    calls = Call.objects.filter(inspection=inspection, crew=crew)
    return calls.filter(at__gt=since) if since else calls


def _call(inspection: Inspection, house: House, crew: Crew, note: str, since: dt.datetime | None) -> None:
    settle_samples(inspection, house)
    call = Call.objects.create(inspection=inspection, crew=crew, at=next_moment(inspection.pk), note=note)
    record.append(house, "call", {"point": inspection.point.key, "crew": crew.name, "note": call.note})
    until = _start_notice(inspection, house, crew, since)
    words = [_("%(crew)s says that it is ready.") % {"crew": crew.name}, call.note]
    if until is not None:
        words.append(_say_until(until))
    _tell(inspection, house, f"call:{call.pk}", " ".join(one for one in words if one))


def _say_until(until: int) -> str:
    return _("Look by %(until)s; then the work goes on.") % {"until": clock.say_half_day(until)}


def _tell(inspection: Inspection, house: House, version: str, body: str) -> None:
    for person in who_looks(house):
        put(
            builder=house.builder,
            to=person,
            kind=Message.Kind.CALL,
            about=f"inspection:{inspection.pk}",
            version=version,
            subject=_("Ready for the walk: %(point)s, %(house)s")
            % {"point": inspection.point.name, "house": house.name},
            body=body,
            facts={"inspection": inspection.pk},
        )


def _start_notice(inspection: Inspection, house: House, crew: Crew, since: dt.datetime | None) -> int | None:
    """The notice of a witness point starts when nobody who installs there is left to call."""
    if inspection.point.point_kind != Activity.PointKind.WITNESS or not _all_called(inspection, since):
        return None
    return give_notice(inspection, house, crew)


def _all_called(inspection: Inspection, since: dt.datetime | None) -> bool:
    """Whether every crew that installs there has called or is done, and no such work is without a crew."""
    if not find_calls([inspection.pk], {inspection.pk: since})[inspection.pk].ready:
        return False
    installing = Activity.objects.filter(installs__detail__point=inspection.point_id, visit__isnull=False)
    nobodys = installing.filter(actual_finish__isnull=True).exclude(visit__bookings__state__in=Booking.LIVE)
    return not nobodys.exists()


def start_notices(builder: Builder) -> list[Inspection]:
    """Start notices that waited only for a crew that is done now without having called; returns those."""
    waiting = waiting_points(builder).filter(notice_until__isnull=True, calls__isnull=False)
    return [one for pk in waiting.values_list("pk", flat=True).distinct() if (one := _start_late(pk))]


@transaction.atomic
def _start_late(inspection_id: int) -> Inspection | None:
    """Start one, if it still has to be under the house's lock."""
    house = lock_house(Inspection.objects.values_list("house", flat=True).get(pk=inspection_id))
    inspection = Inspection.objects.select_related("point").get(pk=inspection_id)
    rows = load_points([inspection.pk])[inspection.pk]
    last = Call.objects.filter(inspection=inspection).select_related("crew").order_by("-at").first()
    if last is None or rows.released or inspection.lapsed_at or inspection.notice_until is not None:
        return None
    if rows.reopened_at is not None and last.at <= rows.reopened_at:
        return None
    until = _start_notice(inspection, house, last.crew, rows.reopened_at)
    if until is None:
        return None
    words = _("Every crew that works there has called or is done. %(until)s") % {"until": _say_until(until)}
    _tell(inspection, house, f"all called:{last.pk}", words)
    return inspection


def take_back_call(visit_id: int, crew: Crew) -> list[str]:
    """A crew takes its call back; returns the labels of the points that are called no more.

    Both stand on the record. A notice that had started ends, for there is nothing to look at yet; whoever was
    sent the call is told, and a message that was not sent yet never is.

    Raises:
        NotAllowed: the visit is not the crew's.
        WrongState: nothing is called that was not released, re-opened or passed without a witness since.
    """
    with transaction.atomic():
        visit = _require_own(visit_id, crew)
        house = lock_house(visit.house_id)
        taken = []
        inspections = points_of_visit(visit_id)
        rows = load_points(one.pk for one in inspections)
        for inspection in inspections:
            since = rows[inspection.pk].reopened_at
            counting = list(_counting_calls(inspection, crew, since))
            if not counting or rows[inspection.pk].released or inspection.lapsed_at:
                continue
            taken.append(inspection.point.name)
            for call in counting:
                _tell_taken_back(inspection, house, call)
                call.delete()
            facts = {"point": inspection.point.key, "crew": crew.name, "notice": inspection.notice_until}
            Inspection.objects.filter(pk=inspection.pk).update(notice_given_at=None, notice_until=None)
            record.append(house, "call taken back", facts)
        if not taken:
            raise WrongState(
                _("Nothing of this visit is called for a walk: it was released, or opened again, since.")
            )
    return taken


def _tell_taken_back(inspection: Inspection, house: House, call: Call) -> None:
    about = f"inspection:{inspection.pk}"
    for person in who_looks(house):
        told = Message.objects.filter(
            recipient=f"person:{person.pk}",
            kind=Message.Kind.CALL,
            about=about,
            version=f"call:{call.pk}",
            superseded_at__isnull=True,
        )
        unsent = told.filter(sent_at__isnull=True, claimed_at__isnull=True)
        if unsent.update(superseded_at=clock.now()) or not told.exists():
            continue
        put(
            builder=house.builder,
            to=person,
            kind=Message.Kind.NOTICE,
            about=about,
            version=f"call taken back:{call.pk}",
            subject=_("Not ready after all: %(point)s, %(house)s")
            % {"point": inspection.point.name, "house": house.name},
            body=_("%(crew)s takes back that it is ready. It calls again when it is.")
            % {"crew": call.crew.name},
            facts={"inspection": inspection.pk},
            urgent=True,
        )


def _require_own(visit_id: int, crew: Crew) -> Visit:
    visit = Visit.objects.filter(pk=visit_id, bookings__crew=crew, bookings__state__in=Booking.LIVE).first()
    if visit is None:
        raise NotAllowed(_("This visit is not your crew's."))
    return visit


def _refuse_open_rework(points: Sequence[PointRows], crew: Crew) -> None:
    """A supervisor who drives to what is known to be wrong drives twice."""
    rows = Nonconformity.objects.filter(
        crew=crew,
        state=Nonconformity.State.RAISED,
        check_failed__inspection__in=[one.inspection.pk for one in points],
    ).select_related("check_failed__place")
    rows = rows.exclude(pk__in={pk for one in points for pk in one.settled})
    open_ones = [
        f"{one.failed.place.name}: {one.failed.text}" if one.failed.place else one.failed.text
        for one in rows.order_by("put_right_until", "pk")
    ]
    if open_ones:
        raise WrongState(
            _("Not called: still to be put right: %(what)s. Say it is put right, then call the walk.")
            % {"what": "; ".join(words.rstrip(".") for words in open_ones)},
            open_ones,
        )


def find_calls(
    inspection_ids: Iterable[int], reopened_at: dict[int, dt.datetime | None]
) -> dict[int, CallState]:
    """Who has called and who has not, for many inspections in three queries.

    A crew whose visit is done counts as called, except after a re-opening.
    """
    ids = list(inspection_ids)
    states = {pk: CallState() for pk in ids}
    crews: dict[int, set[str]] = {pk: set() for pk in ids}
    for call in Call.objects.filter(inspection__in=ids).select_related("crew").order_by("at"):
        since = reopened_at.get(call.inspection_id)
        if since is None or call.at > since:
            state = states[call.inspection_id]
            state.since = call.at
            if call.crew.name not in crews[call.inspection_id]:
                crews[call.inspection_id].add(call.crew.name)
                state.called.append(call.crew.name)
    for inspection, crew, booking in _installing(ids):
        state = states[inspection]
        done = booking == Booking.State.DONE and reopened_at.get(inspection) is None
        if crew in crews[inspection] or crew in state.waiting:
            continue
        if done:
            state.since = state.since or dt.datetime.min.replace(tzinfo=dt.UTC)
        else:
            state.waiting.append(crew)
    return states


def _installing(inspection_ids: Sequence[int]) -> list[tuple[int, str, str]]:
    """(inspection, crew, state of the booking) of the visits that install what each inspection judges.

    Two short queries and not one over eight tables: PostgreSQL, before it has counted freshly filled tables,
    was seen to choose a plan for the long one that took minutes.
    """
    made = set(
        Installer.objects.filter(
            detail__point__inspection__in=inspection_ids, activity__visit__isnull=False
        ).values_list("detail__point__inspection", "activity__visit")
    )
    booked: dict[int, list[tuple[str, str]]] = defaultdict(list)
    live = Booking.objects.filter(visit__in={visit for _inspection, visit in made}, state__in=Booking.LIVE)
    for visit, crew, state in live.values_list("visit", "crew__name", "state"):
        booked[visit].append((crew, state))
    rows = {
        (inspection, crew, state)
        for inspection, visit in made
        if visit is not None
        for crew, state in booked[visit]
    }
    return sorted(rows, key=lambda row: (row[1], row[0], row[2]))
