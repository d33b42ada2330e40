"""A crew calls its points ready; a walk is called when every crew that installs there has called."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.db import transaction
from django.utils.translation import gettext as _

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.models import Crew
from coordination.people.refusals import NotAllowed, WrongState
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Activity, Booking, Detail, Installer, Visit
from hold_points import record
from hold_points.facts import load_points
from hold_points.models import Call, Inspection, Nonconformity
from hold_points.moments import next_moment
from hold_points.rework import planners_of
from hold_points.sampling import settle_samples
from hold_points.witnessing import give_notice

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
        visit = Visit.objects.filter(
            pk=visit_id, bookings__crew=crew, bookings__state__in=Booking.LIVE
        ).first()
        if visit is None:
            raise NotAllowed(_("This visit is not your crew's."))
        house = lock_house(visit.house_id)
        inspections = points_of_visit(visit_id)
        rows = load_points(one.pk for one in inspections)
        _refuse_open_rework([one for one in inspections if not rows[one.pk].released], crew)
        called = []
        for inspection in inspections:
            point = rows[inspection.pk]
            if point.released:
                continue
            called.append(inspection.point.name)
            since = point.reopened_at
            earlier = Call.objects.filter(inspection=inspection, crew=crew)
            if (earlier.filter(at__gt=since) if since else earlier).exists():
                continue
            settle_samples(inspection, house)
            call = Call.objects.create(
                inspection=inspection, crew=crew, at=next_moment(inspection.pk), note=note[:300]
            )
            record.append(
                house, "call", {"point": inspection.point.key, "crew": crew.name, "note": call.note}
            )
            until = give_notice(inspection, house, crew)
            last = (
                ""
                if until is None
                else _("Look by %(until)s; then the work goes on.") % {"until": clock.say_half_day(until)}
            )
            for person in [house.supervisor] if house.supervisor else planners_of(house):
                put(
                    builder=house.builder,
                    to=person,
                    kind=Message.Kind.CALL,
                    about=f"inspection:{inspection.pk}",
                    version=f"call:{call.pk}",
                    subject=_("Ready for the walk: %(point)s, %(house)s")
                    % {"point": inspection.point.name, "house": house.name},
                    body=" ".join(
                        words
                        for words in (
                            _("%(crew)s says that it is ready.") % {"crew": crew.name},
                            call.note,
                            last,
                        )
                        if words
                    ),
                    facts={"inspection": inspection.pk},
                )
    return called


def _refuse_open_rework(inspections: Iterable[Inspection], crew: Crew) -> None:
    """A supervisor who drives to what is known to be wrong drives twice."""
    rows = Nonconformity.objects.filter(
        crew=crew, state=Nonconformity.State.RAISED, check_failed__inspection__in=list(inspections)
    ).select_related("check_failed__place")
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
