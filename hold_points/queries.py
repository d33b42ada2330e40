"""What the screens show: today's walks, a walk's rooms, what waits for a second person or the planner."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Q, QuerySet

from coordination import clock
from coordination.people.models import Person, Role
from coordination.sequence.models import (
    Activity,
    Booking,
    Covering,
    Hold,
    HoldBefore,
    House,
    Plan,
    PlannedDate,
    Relationship,
)
from coordination.sequence.unreported import read_unreported
from hold_points.calling import CallState, find_calls
from hold_points.facts import PointRows, load_points
from hold_points.models import Check, Inspection, Reopening
from hold_points.readiness import CheckState, State
from hold_points.working_time import HouseDays, read_days

WALKED = (
    Activity.PointKind.HOLD,
    Activity.PointKind.HOLD_FROM_PHOTOGRAPHS,
    Activity.PointKind.WITNESS,
    Activity.PointKind.REVIEW,
    Activity.PointKind.SURVEY,
)
AHEAD = 20
"""Half-days ahead (ten days) in which a planned walk is listed although nobody has called it."""


@dataclass(frozen=True)
class WalkCard:
    """One walk on the list.

    Attributes:
        release_by: the last half-day for signing it: without moving a crew, or before its work is buried.
        behind: whom it keeps waiting, or what buries its work.
        unreported: since when nobody reported on the house, where its dates are not real for that.
    """

    rows: PointRows
    hold: Hold | None
    calls: CallState
    planned: int | None
    release_by: int | None
    behind: str
    unreported: int | None = None

    @property
    def inspection(self) -> Inspection:
        return self.rows.inspection

    @property
    def called(self) -> bool:
        """Whether it makes sense to drive there."""
        return self.calls.ready

    @property
    def late(self) -> bool:
        """Whether the half-day until which it was to be signed has passed."""
        zone = self.inspection.house.builder.time_zone
        return self.release_by is not None and self.release_by < clock.current_half_day(zone)

    @property
    def reopened(self) -> Reopening | None:
        """The latest re-opening of a point that was signed before."""
        return self.rows.reopenings[-1] if self.rows.reopenings and self.rows.releases else None

    @property
    def stops(self) -> bool:
        """Whether work behind it waits; a witness point only ends with what buries its work."""
        return self.hold is not None

    @property
    def from_photographs(self) -> bool:
        return self.inspection.point.point_kind == Activity.PointKind.HOLD_FROM_PHOTOGRAPHS

    @property
    def said_put_right(self) -> int:
        """How many checks that were not met a crew says to have put right since: to be looked at again."""
        return sum(
            one.state is State.NOT_MET and one.nonconformity is not None and one.nonconformity.said_done
            for one in self.rows.readiness.states
        )

    @property
    def begun(self) -> bool:
        """Whether a crew of its work has called or finished, or photographs are there."""
        return bool(self.calls.called or any(self.rows.evidence.values()))

    @property
    def called_at(self) -> dt.datetime | None:
        """When the last crew called; None when all of them had finished without a call."""
        since = self.calls.since
        return since if since is not None and since.year > 1 else None


def list_walks(houses: QuerySet[House]) -> list[WalkCard]:
    """Walks of these houses: those called first, each group by the half-day until which to sign them."""
    plans = _current_plans(houses)
    planned = _planned(plans.values())
    horizon = clock.current_half_day() + AHEAD
    inspections = list(
        Inspection.objects.filter(
            house__in=plans, point__point_kind__in=WALKED, point__actual_finish__isnull=True
        ).filter(Q(calls__isnull=False) | Q(reopenings__isnull=False) | Q(point__in=_soon(plans, horizon)))
    )
    rows = {pk: one for pk, one in load_points({one.pk for one in inspections}).items() if not one.released}
    calls = find_calls(rows, {pk: one.reopened_at for pk, one in rows.items()})
    holds = {one.point_id: one for one in Hold.objects.filter(point__inspection__in=rows)}
    rows = {
        pk: one
        for pk, one in rows.items()
        if (hold := holds.get(one.inspection.point_id)) is None or hold.set_aside_at is None
    }
    points = {one.inspection.point_id for one in rows.values()}
    days = read_days(plans, {one.inspection.house_id: one.inspection.house for one in rows.values()})
    limits = _burial_limits(points - set(holds), planned, days) | _release_limits(
        holds.values(), planned, days
    )
    notices = {
        one.inspection.point_id: one.inspection.notice_until
        for one in rows.values()
        if one.inspection.notice_until is not None
    }
    # A notice that runs out earlier is the limit, whatever buries the work later.
    for point, until in notices.items():
        limit, what = limits.get(point, (None, ""))
        limits[point] = (until if limit is None else min(limit, until), what)
    unreported = read_unreported(list({one.inspection.house for one in rows.values()}))
    cards = [
        WalkCard(
            one,
            holds.get(one.inspection.point_id),
            calls[pk],
            planned.get(one.inspection.point_id, (None, None))[0],
            *limits.get(one.inspection.point_id, (_latest(one.inspection.point, planned), "")),
            unreported.get(one.inspection.house_id),
        )
        for pk, one in rows.items()
    ]
    far = 10**9
    return sorted(
        cards,
        key=lambda card: (
            not card.called,
            far if card.release_by is None else card.release_by,
            card.inspection.house.name,
            card.inspection.point.order,
        ),
    )


def _current_plans(houses: QuerySet[House]) -> dict[int, Plan]:
    latest = dict(
        Plan.objects.filter(house__in=houses).order_by("house", "number").values_list("house", "pk")
    )
    plans = Plan.objects.filter(pk__in=latest.values()).only("pk", "house", "calendars")
    return {plan.house_id: plan for plan in plans}


def _planned(plans: Iterable[Plan]) -> dict[int, tuple[int, int]]:
    """First half-day and latest finish of each activity in the current plans."""
    rows = PlannedDate.objects.filter(plan__in=[plan.pk for plan in plans])
    return {activity: (start, lf - 1) for activity, start, lf in rows.values_list("activity", "start", "lf")}


def _soon(plans: dict[int, Plan], horizon: int) -> QuerySet[PlannedDate, int]:
    found = PlannedDate.objects.filter(
        plan__in=[plan.pk for plan in plans.values()], activity__is_point=True, start__lte=horizon
    )
    return found.values_list("activity_id", flat=True)


def _release_limits(
    holds: Iterable[Hold], planned: dict[int, tuple[int, int]], days: Mapping[int, HouseDays]
) -> dict[int, tuple[int | None, str]]:
    """By point: the half-day until which it must be signed for the next crew to have its word time, and who.

    Counted back from the told (else planned) start of what directly follows: the word time in the crew's
    own working half-days, then the half-day of the signature itself in the house's.
    """
    points = {hold.point_id: hold for hold in holds}
    bookings = {
        one.visit_id: one
        for one in Booking.objects.filter(
            visit__holds_before__hold__in=list(points.values()), state__in=Booking.LIVE
        ).select_related("crew")
    }
    limits: dict[int, tuple[int | None, str]] = {}
    links = Relationship.objects.filter(
        predecessor__in=points, kind=Relationship.Kind.FS, successor__visit__isnull=False
    ).select_related("successor")
    for link in links:
        booking = bookings.get(link.successor.visit_id or 0)
        start = booking.told_start if booking and booking.told_start is not None else None
        if start is None:
            start = planned.get(link.successor_id, (None, None))[0]
        if start is None:
            continue
        lag = booking.crew.word_time if booking and booking.crew.word_time is not None else link.lag
        own = days[points[link.predecessor_id].house_id]
        told = own.count_back(start, max(lag, 0), booking.crew.calendar_id if booking else None)
        limit = own.count_back(told, 1)
        there = limits.get(link.predecessor_id)
        if there is None or there[0] is None or limit < there[0]:
            limits[link.predecessor_id] = (limit, link.successor.name)
    return limits


def _latest(point: Activity, planned: dict[int, tuple[int, int]]) -> int | None:
    """Latest half-day of a point by the plan. Nothing follows a witness point, so it has none of its own."""
    if point.point_kind == Activity.PointKind.WITNESS:
        return None
    return planned.get(point.pk, (None, None))[1]


def _burial_limits(
    points: Iterable[int], planned: dict[int, tuple[int, int]], days: Mapping[int, HouseDays]
) -> dict[int, tuple[int | None, str]]:
    """By point that stops nobody: the last working half-day before its work is buried, and by what."""
    rows = list(
        Covering.objects.filter(point__in=list(points)).values_list(
            "point", "activity", "activity__name", "activity__house", "along"
        )
    )
    limits: dict[int, tuple[int | None, str]] = {}
    for point, activity, name, house, along in rows:
        if point is None or along or activity not in planned:
            continue
        limit = days[house].count_back(planned[activity][0], 1)
        there = limits.get(point)
        if there is None or there[0] is None or limit < there[0]:
            limits[point] = (limit, name)
    return limits


@dataclass(frozen=True)
class Room:
    """A stop of the walk: a place (or the whole house) with the states of its checks."""

    place_id: int
    name: str
    states: tuple[CheckState, ...]

    @property
    def size(self) -> int:
        """How many checks are asked here."""
        return len(self.states)

    @property
    def left(self) -> int:
        """How many of its checks still keep the point closed."""
        return sum(not one.passes for one in self.states)

    @property
    def done(self) -> bool:
        return self.left == 0

    @property
    def not_met(self) -> bool:
        """Whether something here is to be put right."""
        return any(one.state is State.NOT_MET for one in self.states)


WHOLE_HOUSE = 0


def list_rooms(rows: PointRows, whole_house: str) -> list[Room]:
    """The stops of a walk in walking order; checks of the whole house come first, under id 0."""
    stops: dict[int, list[CheckState]] = {}
    names: dict[int, str] = {WHOLE_HOUSE: whole_house}
    order = {pk: check.order for pk, check in rows.checks.items()}
    for one in sorted(rows.readiness.states, key=lambda state: (order[state.check.id], state.check.id)):
        if one.state is State.NOT_DRAWN:
            continue
        place = one.check.place or WHOLE_HOUSE
        names.setdefault(place, one.check.place_name)
        stops.setdefault(place, []).append(one)
    return [Room(place, names[place], tuple(states)) for place, states in stops.items()]


def next_open(room: Room | None, after: int | None = None) -> CheckState | None:
    """The next check to look at: open ones of the room after the one given, then the room's others.

    What was judged and only lacks its photograph comes last of the room.
    """
    if room is None:
        return None
    waiting = [one for one in room.states if one.state is State.OPEN] or [
        one for one in room.states if one.state is State.NO_EVIDENCE
    ]
    ids = [one.check.id for one in room.states]
    if after in ids:
        later = [one for one in waiting if ids.index(one.check.id) > ids.index(after)]
        waiting = later or waiting
    return waiting[0] if waiting else None


@dataclass(frozen=True)
class DeskItem:
    """A check that waits for a second person, or for the planner."""

    check: Check
    state: CheckState
    rows: PointRows
    mine: bool
    """Whether this person may close it."""

    @property
    def asks_planner(self) -> bool:
        return self.state.state is State.NOT_HERE_ASKED


def list_desk(person: Person, roles: dict[int, set[str]], houses: QuerySet[House]) -> list[DeskItem]:
    """What waits for a second pair of eyes or the planner, at houses of the person's builders.

    `roles`: kinds of roles by builder id.
    """
    asked = (
        Inspection.objects.filter(house__in=houses, house__finished_at__isnull=True)
        .filter(
            Q(checks__outcomes__own_hand=True) | Q(checks__outcomes__kind="not on this house"),
            checks__withdrawn_at=None,
        )
        .distinct()
        .values_list("pk", flat=True)
    )
    items = []
    for rows in load_points(asked).values():
        kinds = roles.get(rows.inspection.house.builder_id, set())
        for one in rows.readiness.states:
            if one.state is State.NOT_HERE_ASKED:
                mine = Role.Kind.PLANNER in kinds and one.latest is not None and one.latest.by != person.pk
            elif one.state is State.SECOND_PERSON:
                mine = person.pk not in one.hands and bool(kinds)
            else:
                continue
            items.append(DeskItem(rows.checks[one.check.id], one, rows, mine))
    return items


def count_behind(hold: Hold | None) -> int:
    """How many visits wait behind a hold."""
    return HoldBefore.objects.filter(hold=hold).count() if hold else 0
