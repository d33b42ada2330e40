"""Facts that several screens show, read in bulk."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Max

from coordination.sequence.calendars import ResolvedCalendar
from coordination.sequence.inspection import HoldState, port
from coordination.sequence.models import (
    Activity,
    Booking,
    Covering,
    DetailPlace,
    Hold,
    House,
    Installer,
    Plan,
    PlannedDate,
    PlannedWindow,
)


@dataclass(frozen=True)
class BookingFact:
    """A booking as it is shown. `told_finish` is exclusive, `told_last` the last half-day told."""

    id: int
    visit_id: int
    crew_id: int
    crew: str
    company: str
    contact: str
    phone: str
    state: str
    state_words: str
    confirmed_at: dt.datetime | None
    ready_at: dt.datetime | None
    told_start: int | None
    told_finish: int | None
    on_site: bool
    went_past_hold: bool
    fell_back_at: dt.datetime | None
    reserved_time_id: int | None

    @property
    def told_last(self) -> int | None:
        """Last half-day told, or None when nothing was told."""
        return None if self.told_finish is None else self.told_finish - 1


@dataclass(frozen=True)
class HoldFact:
    """A hold as it is shown.

    Attributes:
        state: 'not ready' (work before it is not finished), 'held', 'released', 're-opened' or 'set aside'.
        start, last: planned or actual half-days of its walk.
        zone: the builder's time zone, for the days of its moments.
        inspection: what keeps it closed, as the package that judges says it.
    """

    id: int
    point_id: int
    key: str
    label: str
    kind: str
    state: str
    start: int
    last: int
    page: str
    lifted_at: dt.datetime | None
    set_aside_at: dt.datetime | None
    set_aside_why: str
    zone: str
    inspection: HoldState

    @property
    def is_open(self) -> bool:
        """Whether it still stops what follows."""
        return self.lifted_at is None and self.set_aside_at is None


@dataclass(frozen=True)
class PlaceFact:
    """A place of a house."""

    id: int
    key: str
    name: str
    zone: str


@dataclass(frozen=True)
class WindowFact:
    """A concealed detail and its access window; half-days, see `PlannedWindow`.

    Attributes:
        due_by_end_of: for a point that takes no time, the last half-day worked before it; else None.
        buried_by: names of the coverers, the first to bury it first.
        installed: whether every installer has finished.
    """

    detail_id: int
    key: str
    name: str
    point_id: int | None
    point_key: str
    point: str
    installed_by: tuple[str, ...]
    buried_by: tuple[str, ...]
    places: tuple[PlaceFact, ...]
    opens: int
    due: int
    due_by_end_of: int | None
    buried: int
    put_right_until: int
    slack_due: int
    slack_buried: int
    inverted: bool
    installed: bool
    instruction: str
    tells: Mapping[str, str]
    caution: str
    drawing: str
    drawing_numbers: Mapping[str, Any]
    miss: Mapping[str, Any]


def latest_numbers(houses: Iterable[House] | Collection[int]) -> dict[int, int]:
    """House id → the number of its latest plan, one row a house; houses without a plan are left out."""
    plans = Plan.objects.filter(house__in=houses).order_by()
    return dict(plans.values_list("house").annotate(newest=Max("number")))


def latest_plans(houses: Iterable[House] | Collection[int]) -> dict[int, Plan]:
    """House id → its latest plan, in two queries."""
    ids = [house.pk if isinstance(house, House) else house for house in houses]
    numbers = latest_numbers(ids)
    plans = Plan.objects.filter(house__in=ids, number__in=set(numbers.values())).select_related("by")
    return {plan.house_id: plan for plan in plans if plan.number == numbers[plan.house_id]}


def dates_of(plans: Iterable[Plan]) -> dict[int, PlannedDate]:
    """Activity id → its date in these plans."""
    return {date.activity_id: date for date in PlannedDate.objects.filter(plan__in=list(plans))}


def describe_booking(booking: Booking) -> BookingFact:
    """A booking with crew, company and contact already read."""
    crew = booking.crew
    return BookingFact(
        id=booking.pk,
        visit_id=booking.visit_id,
        crew_id=crew.pk,
        crew=crew.name,
        company=crew.company.name,
        contact=crew.contact.name if crew.contact else "",
        phone=crew.phone,
        state=booking.state,
        state_words=str(booking.get_state_display()),
        confirmed_at=booking.confirmed_at,
        ready_at=booking.ready_at,
        told_start=booking.told_start,
        told_finish=booking.told_finish,
        on_site=booking.on_site,
        went_past_hold=booking.went_past_hold,
        fell_back_at=booking.fell_back_at,
        reserved_time_id=booking.reserved_time_id,
    )


def live_bookings(houses: Iterable[House]) -> dict[int, BookingFact]:
    """Visit id → its live booking."""
    rows = Booking.objects.filter(house__in=list(houses), state__in=Booking.LIVE)
    rows = rows.select_related("crew__company", "crew__contact")
    return {booking.visit_id: describe_booking(booking) for booking in rows}


def read_holds(
    houses: Iterable[House], dates: Mapping[int, PlannedDate], ready: Collection[int]
) -> dict[int, list[HoldFact]]:
    """House id → its holds in the order of their walks.

    Args:
        ready: ids of the points before which all work is finished.
    """
    zones = {house.pk: house.builder.time_zone for house in houses}
    holds = list(Hold.objects.filter(house__in=list(zones)).select_related("point"))
    states = port().missing([hold.pk for hold in holds]) if holds else {}
    found: dict[int, list[HoldFact]] = defaultdict(list)
    for hold in holds:
        date = dates.get(hold.point_id)
        if date is None:
            continue  # placed after the plan was computed; the next plan shows it
        inspection = states.get(hold.pk) or HoldState(hold.pk, (), 0, 0, 0)
        found[hold.house_id].append(
            HoldFact(
                id=hold.pk,
                point_id=hold.point_id,
                key=hold.point.key,
                label=hold.label,
                kind=hold.point.point_kind,
                state=_say_hold_state(hold, inspection, hold.point_id in ready),
                start=date.start,
                last=date.last,
                page=inspection.page or hold.page,
                lifted_at=hold.lifted_at,
                set_aside_at=hold.set_aside_at,
                set_aside_why=hold.set_aside_why,
                zone=zones[hold.house_id],
                inspection=inspection,
            )
        )
    for rows in found.values():
        rows.sort(key=lambda fact: (fact.start, fact.id))
    return dict(found)


def _say_hold_state(hold: Hold, inspection: HoldState, ready: bool) -> str:
    if hold.lifted_at is not None:
        return "released"
    if hold.set_aside_at is not None:
        return "set aside"
    if inspection.reopened_at is not None:
        return "re-opened"
    return "held" if ready else "not ready"


def find_ready_points(activities: Iterable[Activity], links: Iterable[tuple[int, int]]) -> set[int]:
    """Ids of points before which all work is finished.

    Args:
        links: predecessor and successor ids of the finish-to-start relationships.
    """
    finished = {one.pk for one in activities if one.actual_finish is not None}
    waiting = {successor for predecessor, successor in links if predecessor not in finished}
    return {one.pk for one in activities if one.is_point and one.pk not in waiting}


def last_worked_before(instant: int, calendar: ResolvedCalendar | None) -> int:
    """The last half-day worked before an instant (the plain half-day before, without a calendar)."""
    half_day = instant - 1
    if calendar is None:
        return half_day
    for _step in range(4 * 366):
        if calendar.works(half_day):
            return half_day
        half_day -= 1
    return instant - 1


def read_windows(
    plans: Iterable[Plan], activities: Mapping[int, Activity], calendars: Mapping[int, ResolvedCalendar]
) -> dict[int, list[WindowFact]]:
    """House id → its details' windows, in the order in which they are due.

    Args:
        activities: by id, of all the houses.
        calendars: house id → the calendar in which its points are walked.
    """
    rows = list(PlannedWindow.objects.filter(plan__in=list(plans)).select_related("detail"))
    details = [row.detail_id for row in rows]
    installers: dict[int, list[Activity]] = defaultdict(list)
    made = Installer.objects.filter(detail__in=details)
    for detail_id, activity_id in made.values_list("detail", "activity"):
        installers[detail_id].append(activities[activity_id])
    coverers: dict[int, list[Activity]] = defaultdict(list)
    buried = Covering.objects.filter(detail__in=details)
    for detail_id, activity_id in buried.values_list("detail", "activity"):
        coverers[detail_id].append(activities[activity_id])
    places: dict[int, list[PlaceFact]] = defaultdict(list)
    located = DetailPlace.objects.filter(detail__in=details).select_related("place").order_by("place__order")
    for one in located:
        place = one.place
        places[one.detail_id].append(PlaceFact(place.pk, place.key, place.name, place.zone))
    found: dict[int, list[WindowFact]] = defaultdict(list)
    for row in rows:
        detail = row.detail
        point = activities.get(detail.point_id) if detail.point_id else None
        by_end = None
        if point is not None and point.half_days == 0:
            by_end = last_worked_before(row.due, calendars.get(detail.house_id))
        found[detail.house_id].append(
            WindowFact(
                detail_id=detail.pk,
                key=detail.key,
                name=detail.name,
                point_id=detail.point_id,
                point_key=point.key if point else "",
                point=point.name if point else "",
                installed_by=tuple(one.name for one in installers[detail.pk]),
                buried_by=tuple(one.name for one in sorted(coverers[detail.pk], key=lambda one: one.order)),
                places=tuple(places[detail.pk]),
                opens=row.opens,
                due=row.due,
                due_by_end_of=by_end,
                buried=row.buried,
                put_right_until=row.put_right_until,
                slack_due=row.slack_due,
                slack_buried=row.slack_buried,
                inverted=row.inverted,
                installed=all(one.actual_finish is not None for one in installers[detail.pk]),
                instruction=detail.instruction,
                tells=detail.tells,
                caution=detail.caution,
                drawing=detail.drawing,
                drawing_numbers=detail.drawing_numbers,
                miss=detail.miss,
            )
        )
    for windows in found.values():
        windows.sort(key=lambda fact: (fact.due, fact.buried, fact.key))
    return dict(found)
