"""A crew's visits, of all builders that it works for: for its page, its calendar and its reminders."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.db.models import QuerySet

from coordination.people.models import Builder, Crew
from coordination.sequence.calendars import ResolvedCalendar, calendar_key, read_stored
from coordination.sequence.models import Activity, Booking, HoldBefore, House, Installer, PlannedDate
from coordination.sequence.pricing import misses_of
from coordination.sequence.queries.facts import (
    BookingFact,
    PlaceFact,
    WindowFact,
    dates_of,
    describe_booking,
    latest_plans,
    read_windows,
)
from coordination.sequence.queries.house_programme import count_back

ENDED = (Booking.State.DECLINED, Booking.State.STOOD_DOWN)


@dataclass(frozen=True)
class WorkPiece:
    """One activity of the visit, by the plan: first and last half-day worked."""

    id: int
    key: str
    name: str
    half_days: int
    start: int
    last: int
    state: str


@dataclass(frozen=True)
class DetailWork:
    """A concealed detail that the visit makes: what exactly, where, until when, what buries it.

    Attributes:
        words: the detail's instruction, and what this trade is told besides.
        due: half-day in which its walk begins; `due_by_end_of` for a point that takes no time.
        walk: name of its point.
        installed: whether everyone who installs it has finished.
    """

    detail_id: int
    key: str
    name: str
    words: str
    caution: str
    places: tuple[PlaceFact, ...]
    walk: str
    point_id: int | None
    due: int
    due_by_end_of: int | None
    buried: int
    buried_by: tuple[str, ...]
    put_right_until: int
    installed: bool
    drawing: str
    drawing_numbers: Mapping[str, Any]
    miss: Mapping[str, Any]


@dataclass(frozen=True)
class CrewVisit:
    """One booked visit as its crew sees it.

    Attributes:
        start, finish: as planned now, finish exclusive; None before the first plan. What the crew goes by is
            `booking.told_start`.
        held_by: labels of the open holds before it, in the order of their walks.
        order_by, change_by: for a delivery; half-days.
        days: the house's working calendar, for 'three working days before'.
    """

    booking: BookingFact
    uid: str
    calendar_sequence: int
    builder: Builder
    house: House
    supervisor: str
    supervisor_phone: str
    visit_id: int
    visit_key: str
    name: str
    trade_key: str
    trade: str
    delivery: bool
    order_by: int | None
    change_by: int | None
    start: int | None
    finish: int | None
    work: tuple[WorkPiece, ...]
    details: tuple[DetailWork, ...]
    held_by: tuple[str, ...]
    plan_number: int | None
    days: ResolvedCalendar | None


def crew_visits(crew: Crew, *, ended: bool = False) -> list[CrewVisit]:
    """The crew's live bookings at houses that are not handed over, the earliest first.

    Args:
        ended: also declined ones and those stood down (a calendar has to cancel them).
    """
    states = [*Booking.LIVE, *(ENDED if ended else ())]
    return visits_for(Booking.objects.filter(crew=crew, state__in=states, house__finished_at__isnull=True))


def visits_for(bookings: QuerySet[Booking]) -> list[CrewVisit]:
    """The same for any set of bookings, in a fixed number of queries."""
    rows = list(
        bookings.select_related(
            "crew__company",
            "crew__contact",
            "visit__trade",
            "house__builder",
            "house__supervisor",
            "house__region",
        )
    )
    houses = {row.house_id for row in rows}
    plans = latest_plans(houses)
    dates = dates_of(plans.values())
    activities = {one.pk: one for one in Activity.objects.filter(house__in=houses).order_by("order", "pk")}
    calendars = {}
    for row in rows:
        plan = plans.get(row.house_id)
        if plan is not None and row.house_id not in calendars:
            stored = read_stored(plan.calendars).get(calendar_key(row.house.calendar_id))
            if stored is not None:
                calendars[row.house_id] = stored
    windows = _price(read_windows(plans.values(), activities, calendars))
    made: dict[int, list[int]] = defaultdict(list)
    for detail, activity in Installer.objects.filter(detail__in=list(windows)).values_list(
        "detail", "activity"
    ):
        visit_id = activities[activity].visit_id
        if visit_id is not None and detail not in made[visit_id]:
            made[visit_id].append(detail)
    held: dict[int, list[str]] = defaultdict(list)
    open_holds = HoldBefore.objects.filter(
        visit__in=[row.visit_id for row in rows],
        hold__lifted_at__isnull=True,
        hold__set_aside_at__isnull=True,
    )
    for visit_id, label in open_holds.order_by("hold__point__order").values_list("visit", "hold__label"):
        held[visit_id].append(label)
    members: dict[int, list[Activity]] = defaultdict(list)
    for one in activities.values():
        if one.visit_id is not None:
            members[one.visit_id].append(one)
    found = [
        _describe(
            row,
            members[row.visit_id],
            dates,
            [windows[detail] for detail in made[row.visit_id]],
            tuple(held[row.visit_id]),
            plans[row.house_id].number if row.house_id in plans else None,
            calendars.get(row.house_id),
        )
        for row in rows
    ]
    return sorted(found, key=_first_half_day)


def _price(read: Mapping[int, list[WindowFact]]) -> dict[int, WindowFact]:
    """The windows by detail, each with what it costs to miss it, also where the house does not keep that."""
    rows = [(house, fact) for house, facts in read.items() for fact in facts]
    misses = misses_of((house, fact.key, fact.miss) for house, fact in rows)
    return {fact.detail_id: replace(fact, miss=misses[(house, fact.key)]) for house, fact in rows}


def _first_half_day(visit: CrewVisit) -> tuple[int, int]:
    start = visit.booking.told_start if visit.booking.told_start is not None else visit.start
    return (start or 0, visit.booking.id)


def _describe(
    row: Booking,
    activities: list[Activity],
    dates: Mapping[int, PlannedDate],
    windows: list[WindowFact],
    held_by: tuple[str, ...],
    plan_number: int | None,
    days: ResolvedCalendar | None,
) -> CrewVisit:
    house, visit = row.house, row.visit
    work = tuple(_describe_work(one, dates[one.pk]) for one in activities if one.pk in dates)
    start = min((piece.start for piece in work), default=None)
    return CrewVisit(
        booking=describe_booking(row),
        uid=str(row.uid),
        calendar_sequence=row.sequence,
        builder=house.builder,
        house=house,
        supervisor=house.supervisor.name if house.supervisor else "",
        supervisor_phone=house.supervisor.phone if house.supervisor else house.builder.phone,
        visit_id=visit.pk,
        visit_key=visit.key,
        name=visit.name,
        trade_key=visit.trade.key,
        trade=visit.trade.name,
        delivery=visit.delivery,
        order_by=None if start is None else count_back(start, visit.order_lead, days),
        change_by=None if start is None else count_back(start, visit.cut_off, days),
        start=start,
        finish=max((piece.last for piece in work), default=-1) + 1 if work else None,
        work=work,
        details=tuple(
            _describe_detail(one, visit.trade.key)
            for one in sorted(windows, key=lambda one: (one.due, one.key))
        ),
        held_by=held_by,
        plan_number=plan_number,
        days=days,
    )


def _describe_work(one: Activity, date: PlannedDate) -> WorkPiece:
    state = "done" if one.actual_finish is not None else "under way" if one.actual_start is not None else ""
    return WorkPiece(one.pk, one.key, one.name, one.half_days, date.start, date.last, state)


def _describe_detail(one: WindowFact, trade: str) -> DetailWork:
    return DetailWork(
        detail_id=one.detail_id,
        key=one.key,
        name=one.name,
        words=" ".join(words for words in (one.instruction, one.tells.get(trade, "")) if words),
        caution=one.caution,
        places=one.places,
        walk=one.point,
        point_id=one.point_id,
        due=one.due,
        due_by_end_of=one.due_by_end_of,
        buried=one.buried,
        buried_by=one.buried_by,
        put_right_until=one.put_right_until,
        installed=one.installed,
        drawing=one.drawing,
        drawing_numbers=one.drawing_numbers,
        miss=one.miss,
    )
