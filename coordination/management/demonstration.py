"""A builder with houses in the middle of their work, made through the same doors that people use.

Invented data (fixtures/demo/builder.toml) with days counted from the day of loading.
"""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.db import transaction
from django.utils.text import slugify

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.models import (
    Builder,
    CalendarDay,
    Company,
    Crew,
    CrewMember,
    Engagement,
    Person,
    Region,
    Role,
    Trade,
    WorkingCalendar,
)
from coordination.people.region_days import add_region_days
from coordination.sequence import bookings, holds, progress
from coordination.sequence.diary import write_change
from coordination.sequence.models import Activity, Booking, Hold, House, PlannedDate
from coordination.sequence.publishing import publish_sequence
from coordination.sequence.replanning import current_plan
from coordination.sequence.reports import Report
from coordination.sequence.set_out import ACCESS_FIELDS, SetOut, set_out
from coordination.sequence.to_engine import solve

PENCILLED_AHEAD = 40
"""Half-days ahead of today in which demonstration visits have been pencilled."""


@dataclass
class Office:
    """Who and what the demonstration's houses need."""

    builder: Builder
    people: dict[str, Person] = field(default_factory=dict)
    regions: dict[str, Region] = field(default_factory=dict)
    calendars: dict[str, WorkingCalendar] = field(default_factory=dict)
    crews: dict[str, list[Crew]] = field(default_factory=dict)

    def first(self, role: str) -> Person:
        """The first person with a role."""
        return self.builder.roles.filter(kind=role).select_related("person").order_by("pk")[0].person


def load(fixtures: Path) -> list[House]:
    """Make the demonstration's builder and houses; the caller holds the transaction.

    Raises:
        BadInput, WrongState: a row of the file that the tool's own rules refuse.
    """
    data = tomllib.loads((fixtures / "demo" / "builder.toml").read_text(encoding="utf-8"))
    office = _make_office(data, (fixtures / "holidays" / "au_tas_regions.toml").read_text(encoding="utf-8"))
    text = (fixtures / "sequences" / "brick_veneer_90.toml").read_text(encoding="utf-8")
    version = publish_sequence(office.builder, text)
    _make_crews(office, data["crew"])
    roles = office.builder.roles.filter(kind=Role.Kind.SUPERVISOR).select_related("person")
    supervisors = [role.person for role in roles.order_by("pk")]
    orders = [
        SetOut(
            builder=office.builder,
            version=version,
            key=row["key"],
            name=row["name"],
            address=row["address"],
            region=office.regions[row.get("region", "south")],
            calendar=office.calendars["weekdays"],
            starts_on=_weekday(clock.today()),
            features=row.get("features", {}),
            supervisor=supervisors[number % len(supervisors)],
            crews={trade: crews[number % len(crews)] for trade, crews in office.crews.items()},
            **{name: row[name] for name in ACCESS_FIELDS if name in row},
        )
        for number, row in enumerate(data["house"])
    ]
    starts = _find_starts(orders, data["house"])
    houses = []
    for order, row, first_day in zip(orders, data["house"], starts, strict=True):
        house = set_out(replace(order, starts_on=first_day), office.first("planner"))
        _bring_to_today(office, house, row)
        houses.append(house)
    # What was told on the way here was told in the past: only today's news leaves as messages.
    Message.objects.filter(builder=office.builder, sent_at=None).update(sent_at=clock.now())
    for house, row in zip(houses, data["house"], strict=True):
        _tell_the_story(house, row)
    return houses


def _make_office(data: Mapping[str, Any], region_days: str) -> Office:
    office = Office(Builder.objects.create(**data["builder"]))
    office.regions = {region.key: region for region in add_region_days(office.builder, region_days)}
    year = clock.today().year
    for row in data["calendar"]:
        calendar = WorkingCalendar.objects.create(
            builder=office.builder, key=row["key"], name=row["name"], week=row["week"]
        )
        office.calendars[calendar.key] = calendar
        if row["shutdown"]:
            CalendarDay.objects.bulk_create(
                CalendarDay(
                    calendar=calendar,
                    first_day=dt.date(one, 12, 21),
                    last_day=dt.date(one + 1, 1, 8),
                    why="summer shutdown",
                )
                for one in (year - 1, year, year + 1)
            )
    for row in data["person"]:
        person = Person.objects.create_user(row["email"], name=row["name"], phone=row["phone"])
        office.people[person.email] = person
        for kind in row["roles"]:
            Role.objects.create(person=person, builder=office.builder, kind=kind)
    return office


def _make_crews(office: Office, rows: list[dict[str, Any]]) -> None:
    trades = {trade.key: trade for trade in Trade.objects.all()}
    for row in rows:
        company, made = Company.objects.get_or_create(name=row["company"], defaults={"phone": "03 5550 0200"})
        if made:
            Engagement.objects.create(builder=office.builder, company=company)
        crew = Crew.objects.create(
            company=company,
            trade=trades[row["trade"]],
            name=row.get("name", row["company"]),
            capacity=row.get("capacity", 1),
            calendar=office.calendars[row.get("calendar", "weekdays")],
            word_time=row.get("word_time"),
            contact=_contact(office, row),
        )
        if crew.contact and crew.contact.email not in office.people:
            CrewMember.objects.create(crew=crew, person=crew.contact)
        office.crews.setdefault(row["trade"], []).append(crew)


def _contact(office: Office, row: Mapping[str, Any]) -> Person:
    name = row["contact"]
    known = Person.objects.filter(name=name).first()
    if known:
        return known
    email = f"{slugify(name)}@{slugify(row['company'])}.example"
    return Person.objects.create_user(email, name=name, phone="03 5550 0300")


def _weekday(day: dt.date) -> dt.date:
    """The day itself, or the Monday after a weekend."""
    return day + dt.timedelta(days=max(0, 7 - day.weekday()) if day.weekday() >= 5 else 0)


def _find_starts(orders: list[SetOut], rows: list[dict[str, Any]]) -> list[dt.date]:
    """First days of all houses, found on one house that is set out for trial and taken back."""
    with transaction.atomic():
        trial = set_out(orders[0])
        starts = []
        for order, row in zip(orders, rows, strict=True):
            trial.region = order.region
            starts.append(_find_start(trial, row["today"]))
        transaction.set_rollback(True)
    return starts


def _find_start(trial: House, today: Mapping[str, Any]) -> dt.date:
    """The first day that brings a point so many half-days before or after today.

    Holidays and shutdowns lie elsewhere every week, so a house is computed for one day after another until
    the point lies where it is wanted, or as near as the calendar lets it.
    """
    now = clock.current_half_day(trial.builder.time_zone)
    for _attempt in range(8):
        point = solve(trial).dates[today["at"]]
        early = now - today.get("half_days_ago", 0) - point.start
        if abs(early) < 2:
            break
        trial.starts_on = _weekday(trial.starts_on + dt.timedelta(days=round(early / 2)))
        trial.recorded_up_to = clock.as_half_day(trial.starts_on)
    return trial.starts_on


def _bring_to_today(office: Office, house: House, row: Mapping[str, Any]) -> None:
    """Let the work go as planned up to today, or up to the first point that was not passed."""
    now = clock.current_half_day(office.builder.time_zone)
    stop = row.get("stop", "")
    behind: set[int] = set()
    for hold in Hold.objects.filter(house=house).select_related("point").order_by("point__order"):
        plan = _dates(house)
        walk = plan[hold.point_id]
        if hold.point.key == stop or walk.start >= now:
            behind |= _behind(hold)
            if hold.point.key == stop:
                break
            continue
        _work_until(house, plan, walk.start, behind, row)
        _pass(house, hold.point, row, walk.start)
    _work_until(house, _dates(house), now, behind, row)
    _set_aside_unrecorded(office, house)
    _book(office, house, row, now)


def _dates(house: House) -> dict[int, PlannedDate]:
    plan = current_plan(house)
    return {} if plan is None else {date.activity_id: date for date in plan.dates.all()}


def _behind(hold: Hold) -> set[int]:
    """Activities of the visits that a hold lies before."""
    visits = hold.before.values("visit")
    return set(Activity.objects.filter(visit__in=visits).values_list("pk", flat=True))


def _work_until(
    house: House,
    plan: Mapping[int, PlannedDate],
    until: int,
    behind: set[int],
    row: Mapping[str, Any],
) -> None:
    """Report everything that the plan has finished before an instant, and what is under way at it."""
    reports = []
    points = []
    for activity in Activity.objects.filter(house=house, actual_finish=None).order_by("order"):
        date = plan[activity.pk]
        if activity.pk in behind or date.start >= until or activity.holds:
            continue
        if activity.is_point:
            points.append((activity, date.start))
            continue
        started = None if activity.actual_start is not None else date.start
        if date.last < until:
            reports.append(Report(activity.key, started=started, last=date.last))
        elif started is not None:
            reports.append(Report(activity.key, started=started))
    if reports:
        progress.record_progress(house, reports, up_to=until, gone_past=False)
    for point, half_day in points:
        _pass(house, point, row, half_day)


def _moment(house: House, half_day: int) -> str:
    """Towards the end of a half-day, as a walker's watch would show it."""
    return (clock.ends_at(half_day, house.builder.time_zone) - dt.timedelta(minutes=20)).isoformat()


def _pass(house: House, point: Activity, row: Mapping[str, Any], half_day: int) -> None:
    """A point was passed: walked and signed with this tool, or before the builder had it."""
    if point.key not in row.get("recorded", ()):
        progress.point_passed(point, half_day)
        return
    by = house.supervisor.email if house.supervisor else ""
    if point.point_kind == Activity.PointKind.HOLD_FROM_PHOTOGRAPHS:
        call_command("rehearse", "photographs", house.pk, point.key)
    if point.holds:
        call_command("rehearse", "call", house.pk, point.key)
    at = _moment(house, half_day)
    call_command("rehearse", "walk", house.pk, point.key, by=by, at=at)
    call_command("rehearse", "release", house.pk, point.key, by=by, at=at)


def _set_aside_unrecorded(office: Office, house: House) -> None:
    """Points passed before the builder had the tool: not recorded, never counted as released."""
    unrecorded = list(Hold.objects.filter(house=house, lifted_at=None, point__actual_finish__isnull=False))
    if unrecorded:
        write_change(
            house, "stated", "", f"{house.name} was half built when it was brought into this tool", {}
        )
    for hold in unrecorded:
        holds.set_aside(hold, office.first("planner"), "passed before the house was brought into this tool")


def _book(office: Office, house: House, row: Mapping[str, Any], now: int) -> None:
    """Past visits are done or under way; the coming ones are pencilled, one of them may be firm."""
    planner = office.first("planner")
    plan = _dates(house)
    live = Booking.objects.filter(house=house, state__in=Booking.LIVE).select_related("visit")
    for booking in live.order_by("visit__order"):
        pieces = list(booking.visit.activities.filter(is_point=False))
        if pieces and all(piece.actual_finish is not None for piece in pieces):
            bookings.report_done(booking, by=planner)
        elif any(piece.actual_start is not None for piece in pieces):
            bookings.report_under_way(booking, by=planner)
        elif pieces and min(plan[piece.pk].start for piece in pieces) < now + PENCILLED_AHEAD:
            bookings.pencil(booking, by=planner)
            if set(row.get("firm", ())) & {piece.key for piece in pieces}:
                bookings.make_firm(Booking.objects.get(pk=booking.pk), by=planner)


def _tell_the_story(house: House, row: Mapping[str, Any]) -> None:
    """What makes each house worth a look: called, half walked, failed, re-opened."""
    now = clock.current_half_day(house.builder.time_zone)
    by = house.supervisor.email if house.supervisor else ""
    stop = row.get("stop", "")
    if row.get("photographs"):
        call_command("rehearse", "photographs", house.pk, stop)
    if row.get("called"):
        call_command("rehearse", "call", house.pk, stop)
    at = _moment(house, now - 1)
    if "walked" in row:
        call_command("rehearse", "walk", house.pk, stop, by=by, at=at, **row["walked"])
    if "reopen" in row:
        call_command(
            "rehearse",
            "reopen",
            house.pk,
            row["reopen"]["point"],
            by=by,
            place=row["reopen"]["places"],
            reason=row["reopen"]["reason"],
        )
