"""All houses of a builder: which waits for what, and which linings can be promised."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from django.db.models import Q

from coordination import clock
from coordination.people.models import Builder
from coordination.sequence.calendars import ResolvedCalendar, calendar_key, read_stored
from coordination.sequence.models import Activity, HoldBefore, House, Plan, PlannedDate, Relationship
from coordination.sequence.overdue import find_unreported
from coordination.sequence.queries.facts import (
    BookingFact,
    HoldFact,
    WindowFact,
    dates_of,
    find_ready_points,
    latest_plans,
    live_bookings,
    read_holds,
    read_windows,
)


@dataclass(frozen=True)
class StageSpan:
    """A stage of the work on the axis: first half-day, exclusive finish, how much of it is finished."""

    key: str
    start: int
    finish: int
    done: int
    total: int


@dataclass(frozen=True)
class Waits:
    """What stands next on the way to the linings (once they are in: to the end).

    Attributes:
        kind: 'work' (an activity), 'walk' (a hold whose work is finished) or 're-opened'.
        key: the activity or point.
        words: its name; for a hold what is missing first, where something is.
        who: crew, else trade or walker.
        since: half-day since when it could go on, where that is past; None: it is not its turn yet.
    """

    kind: str
    key: str
    words: str
    who: str
    since: int | None


@dataclass(frozen=True)
class BoardRow:
    """One house among all. Finishes are exclusive; dates are None before the first plan."""

    house: House
    supervisor: str
    plan: Plan | None
    stages: tuple[StageSpan, ...]
    holds: tuple[HoldFact, ...]
    next_hold: HoldFact | None
    stake_name: str
    stake_start: int | None
    stake_last: int | None
    stake_booking: BookingFact | None
    stake_held_by: tuple[HoldFact, ...]
    """Open holds before the linings; empty: their booking can be made firm."""
    waits: Waits | None
    next_window: WindowFact | None
    """The detail that is buried next and is not judged yet."""
    under_way: tuple[str, ...]
    finish: int | None
    moved: int
    """Activities that the latest revision moved."""
    warnings: int
    unreported_since: int | None = None
    """The half-day since when nothing is recorded, where its dates are not real for that."""

    @property
    def can_be_promised(self) -> bool:
        """Whether nothing open stands before the linings."""
        return self.stake_start is not None and not self.stake_held_by


def board(builder: Builder, *, finished: bool = False, only: House | None = None) -> list[BoardRow]:
    """One row per house of the builder, those whose linings come first on top.

    Args:
        finished: also houses that were handed over.
        only: the row of this house alone, whether handed over or not.
    """
    wanted = Q(pk=only.pk) if only else Q() if finished else Q(finished_at__isnull=True)
    houses = list(
        builder.houses.filter(wanted).select_related("supervisor", "calendar", "builder").order_by("name")
    )
    plans = latest_plans(houses)
    dates = dates_of(plans.values())
    activities = list(
        Activity.objects.filter(house__in=houses).select_related("trade", "visit").order_by("order", "pk")
    )
    links = Relationship.objects.filter(house__in=houses, kind="FS").values_list("predecessor", "successor")
    ready = find_ready_points(activities, links)
    by_id = {one.pk: one for one in activities}
    by_house: dict[int, list[Activity]] = defaultdict(list)
    for one in activities:
        by_house[one.house_id].append(one)
    calendars = {
        house.pk: calendar
        for house in houses
        if house.pk in plans and (calendar := _calendar_of(house, plans[house.pk]))
    }
    windows = read_windows(plans.values(), by_id, calendars)
    holds = read_holds(houses, dates, ready)
    bookings = live_bookings(houses)
    before: dict[int, set[int]] = defaultdict(set)
    stakes = [one.visit_id for one in activities if one.is_stake and one.visit_id]
    for visit, hold in HoldBefore.objects.filter(visit__in=stakes).values_list("visit", "hold"):
        before[visit].add(hold)
    now = clock.current_half_day(builder.time_zone)
    rows = [
        _describe(
            house,
            plans.get(house.pk),
            by_house[house.pk],
            dates,
            holds.get(house.pk, []),
            windows.get(house.pk, []),
            bookings,
            before,
            find_unreported(house, by_house[house.pk], dates, now),
        )
        for house in houses
    ]
    return sorted(rows, key=lambda row: (row.stake_start is None, row.stake_start or 0, row.house.name))


def _calendar_of(house: House, plan: Plan) -> ResolvedCalendar | None:
    return read_stored(plan.calendars).get(calendar_key(house.calendar_id))


def _describe(
    house: House,
    plan: Plan | None,
    activities: list[Activity],
    dates: Mapping[int, PlannedDate],
    holds: list[HoldFact],
    windows: list[WindowFact],
    bookings: Mapping[int, BookingFact],
    before: Mapping[int, Collection[int]],
    unreported: int | None,
) -> BoardRow:
    stake = next((one for one in activities if one.is_stake), None)
    stake_date = dates.get(stake.pk) if stake else None
    behind = before.get(stake.visit_id, ()) if stake and stake.visit_id else ()
    open_holds = [hold for hold in holds if hold.is_open]
    finished = {one.pk for one in activities if one.actual_finish is not None}
    to_come = [one for one in windows if one.point_id not in finished and not one.inverted]
    return BoardRow(
        house=house,
        supervisor=house.supervisor.name if house.supervisor else "",
        plan=plan,
        stages=_find_stages(activities, dates),
        holds=tuple(holds),
        next_hold=open_holds[0] if open_holds else None,
        stake_name=stake.name if stake else "",
        stake_start=stake_date.start if stake_date else None,
        stake_last=stake_date.last if stake_date else None,
        stake_booking=bookings.get(stake.visit_id) if stake and stake.visit_id else None,
        stake_held_by=tuple(hold for hold in open_holds if hold.id in behind),
        waits=_find_waits(plan, activities, dates, holds, bookings) if plan else None,
        next_window=min(to_come, key=lambda one: (one.buried, one.due, one.key), default=None),
        under_way=tuple(
            one.name for one in activities if one.actual_start is not None and one.actual_finish is None
        ),
        finish=plan.finish if plan else None,
        moved=len(plan.moved) if plan else 0,
        warnings=len(plan.warnings) if plan else 0,
        unreported_since=unreported,
    )


def _find_stages(activities: list[Activity], dates: Mapping[int, PlannedDate]) -> tuple[StageSpan, ...]:
    found: dict[str, list[Activity]] = defaultdict(list)
    for one in activities:
        if one.pk in dates and one.half_days:
            found[one.stage].append(one)
    spans = [
        StageSpan(
            key=stage,
            start=min(dates[one.pk].start for one in rows),
            finish=max(dates[one.pk].last for one in rows) + 1,
            done=sum(one.actual_finish is not None for one in rows),
            total=len(rows),
        )
        for stage, rows in found.items()
    ]
    return tuple(sorted(spans, key=lambda span: (span.start, span.finish)))


def _find_waits(
    plan: Plan,
    activities: list[Activity],
    dates: Mapping[int, PlannedDate],
    holds: list[HoldFact],
    bookings: Mapping[int, BookingFact],
) -> Waits | None:
    """The first unfinished link of the driving chain: to the stake, or to the end once the stake is in."""
    by_key = {one.key: one for one in activities}
    stake = next((one for one in activities if one.is_stake), None)
    to_stake = stake is not None and stake.actual_finish is None
    chain = [by_key.get(link["key"]) for link in (plan.stake_chain if to_stake else plan.driving_chain)]
    waiting = next((one for one in chain if one is not None and one.actual_finish is None), None)
    if waiting is None or waiting.pk not in dates:
        return None
    booking = bookings.get(waiting.visit_id) if waiting.visit_id else None
    trade = waiting.trade.name if waiting.trade else ""
    who = booking.crew if booking else trade or waiting.walker
    since = waiting.actual_start
    if since is None and dates[waiting.pk].start <= plan.recorded_up_to:
        since = plan.recorded_up_to
    hold = next((one for one in holds if one.point_id == waiting.pk), None)
    if hold is None or hold.state not in ("held", "re-opened"):
        return Waits("work", waiting.key, waiting.name, who, since)
    missing = hold.inspection.missing
    return Waits(
        kind="re-opened" if hold.state == "re-opened" else "walk",
        key=waiting.key,
        words=missing[0].words if missing else hold.label,
        who=(missing[0].waits_for if missing else "") or waiting.walker,
        since=_ready_since(waiting, plan, activities, since),
    )


def _ready_since(point: Activity, plan: Plan, activities: list[Activity], since: int | None) -> int | None:
    """Half-day after the last work that the point's own date waits for, where that has happened."""
    link = next((one for one in plan.stake_chain + plan.driving_chain if one["key"] == point.key), None)
    source = link["reason"].get("from") if link else None
    before = next((one for one in activities if one.key == source), None)
    return before.actual_finish if before and before.actual_finish is not None else since
