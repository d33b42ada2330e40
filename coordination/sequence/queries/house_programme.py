"""One house's programme: when is what, why then, what does it hide, what moved."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

from coordination.sequence.calendars import ResolvedCalendar, calendar_key, read_stored
from coordination.sequence.models import (
    Activity,
    Change,
    Covering,
    Delay,
    HoldBefore,
    House,
    Installer,
    Plan,
    PlannedDate,
    Relationship,
    Visit,
)
from coordination.sequence.moves import read_moves
from coordination.sequence.publishing import stage_names
from coordination.sequence.queries.facts import (
    BookingFact,
    HoldFact,
    dates_of,
    find_ready_points,
    last_worked_before,
    live_bookings,
    read_holds,
    read_windows,
)
from coordination.sequence.queries.programme_rows import (
    ActivityRow,
    DelayFact,
    DiaryLine,
    Programme,
    Revision,
    VisitRow,
)
from coordination.sequence.reasons import say_reason, say_warning

SHOWN_REVISIONS = 20
SHOWN_DIARY = 50


def programme(house: House, number: int | None = None) -> Programme | None:
    """The programme of a house by its latest plan, or by the revision with that number.

    Returns None when there is no such plan. What was reported and booked is always as of now.
    """
    plans = list(house.plans.select_related("by").order_by("-number"))
    plan = next((one for one in plans if number is None or one.number == number), None)
    if plan is None:
        return None
    dates = dates_of([plan])
    activities = list(house.activities.select_related("trade").order_by("order", "pk"))
    by_id = {one.pk: one for one in activities}
    links = list(Relationship.objects.filter(house=house))
    ready = find_ready_points(
        activities, [(one.predecessor_id, one.successor_id) for one in links if one.kind == "FS"]
    )
    holds = read_holds([house], dates, ready).get(house.pk, [])
    bookings = live_bookings([house])
    calendars = read_stored(plan.calendars)
    calendar = calendars.get(calendar_key(house.calendar_id))
    windows = read_windows([plan], by_id, {house.pk: calendar} if calendar else {}).get(house.pk, [])
    names = {one.key: one.name for one in activities}
    about = _About(plan, names, calendar, bookings)
    about.read(house, by_id, links)
    rows = tuple(about.row(one, dates[one.pk]) for one in activities if one.pk in dates)
    first = min((row.es for row in rows), default=plan.recorded_up_to)
    known = {stage for row in rows if (stage := row.stage)}
    titles = stage_names(house.sequence_version)
    ordered = [key for key in titles if key in known] + sorted(known - set(titles))
    return Programme(
        house=house,
        plan=plan,
        stages=tuple((key, titles.get(key, key)) for key in ordered),
        activities=rows,
        visits=tuple(_read_visits(house, rows, holds, bookings, calendar)),
        windows=tuple(windows),
        holds=tuple(holds),
        driving_chain=tuple(link["key"] for link in plan.driving_chain),
        stake_chain=tuple(link["key"] for link in plan.stake_chain),
        warnings=tuple(
            say_warning(one, names, {window.key: window.name for window in windows}) for one in plan.warnings
        ),
        moved=read_moves(plan.moved),
        revisions=tuple(_describe_revision(one) for one in plans[:SHOWN_REVISIONS]),
        diary=tuple(_read_diary(house)),
        non_working=frozenset(
            half_day for half_day in range(first, plan.finish) if calendar and not calendar.works(half_day)
        ),
        first=first,
        finish=plan.finish,
    )


class _About:
    """What is said about activities, gathered once."""

    def __init__(
        self,
        plan: Plan,
        names: Mapping[str, str],
        calendar: ResolvedCalendar | None,
        bookings: Mapping[int, BookingFact],
    ) -> None:
        self.names, self.calendar, self.bookings = names, calendar, bookings
        self.end_chain = {link["key"] for link in plan.driving_chain}
        self.stake_chain = {link["key"] for link in plan.stake_chain}
        self.delays: dict[int, list[DelayFact]] = defaultdict(list)
        self.installs: dict[int, list[str]] = defaultdict(list)
        self.hides: dict[int, list[str]] = defaultdict(list)
        self.waits: dict[int, list[str]] = defaultdict(list)

    def read(self, house: House, by_id: Mapping[int, Activity], links: list[Relationship]) -> None:
        for delay in Delay.objects.filter(activity__house=house).select_related("by").order_by("at", "pk"):
            by = delay.by.name if delay.by else ""
            self.delays[delay.activity_id].append(DelayFact(delay.half_days, delay.why, by, delay.at))
        for activity, key in Installer.objects.filter(detail__house=house).values_list(
            "activity", "detail__key"
        ):
            self.installs[activity].append(key)
        for activity, key in Covering.objects.filter(detail__house=house).values_list(
            "activity", "detail__key"
        ):
            self.hides[activity].append(key)
        for link in links:
            self.waits[link.successor_id].append(by_id[link.predecessor_id].key)

    def row(self, one: Activity, date: PlannedDate) -> ActivityRow:
        delays = tuple(self.delays[one.pk])
        half_days = max(0, one.half_days + sum(delay.half_days for delay in delays))
        return ActivityRow(
            id=one.pk,
            key=one.key,
            name=one.name,
            trade_key=one.trade.key if one.trade else "",
            trade=one.trade.name if one.trade else "",
            stage=one.stage,
            order=one.order,
            half_days=half_days,
            is_point=one.is_point,
            point_kind=one.point_kind,
            walker=one.walker,
            notice=one.notice,
            is_stake=one.is_stake,
            outdoor=one.outdoor,
            visit_id=one.visit_id,
            es=date.es,
            ef=date.ef,
            ls=date.ls,
            lf=date.lf,
            start=date.start,
            last=date.last,
            by_end_of=last_worked_before(date.es, self.calendar) if date.es == date.ef else None,
            total_float=date.total_float,
            free_float=date.free_float,
            float_to_stake=date.float_to_stake,
            critical=date.critical,
            reason=date.reason,
            reason_words=say_reason(date.reason, self.names),
            actual_start=one.actual_start,
            actual_finish=one.actual_finish,
            remaining=one.remaining,
            delays=delays,
            drives_end=one.key in self.end_chain,
            drives_stake=one.key in self.stake_chain,
            installs=tuple(sorted(self.installs[one.pk])),
            hides=tuple(sorted(self.hides[one.pk])),
            waits_for=tuple(self.waits[one.pk]),
            booking=self.bookings.get(one.visit_id) if one.visit_id else None,
        )


def _read_visits(
    house: House,
    rows: tuple[ActivityRow, ...],
    holds: list[HoldFact],
    bookings: Mapping[int, BookingFact],
    calendar: ResolvedCalendar | None,
) -> list[VisitRow]:
    members: dict[int, list[ActivityRow]] = defaultdict(list)
    for row in rows:
        if row.visit_id is not None:
            members[row.visit_id].append(row)
    before: dict[int, set[int]] = defaultdict(set)
    for visit_id, hold_id in HoldBefore.objects.filter(visit__house=house).values_list("visit", "hold"):
        before[visit_id].add(hold_id)
    found = []
    for visit in Visit.objects.filter(house=house).select_related("trade").order_by("order", "pk"):
        work = members.get(visit.pk)
        if not work:
            continue
        start = min(row.start for row in work)
        behind = tuple(hold for hold in holds if hold.id in before[visit.pk])
        found.append(
            VisitRow(
                id=visit.pk,
                key=visit.key,
                name=visit.name,
                trade_key=visit.trade.key,
                trade=visit.trade.name,
                delivery=visit.delivery,
                order_by=count_back(start, visit.order_lead, calendar),
                change_by=count_back(start, visit.cut_off, calendar),
                start=start,
                finish=max(row.last for row in work) + 1,
                activities=tuple(row.key for row in work),
                holds=behind,
                held_by=tuple(hold for hold in behind if hold.is_open),
                booking=bookings.get(visit.pk),
            )
        )
    return found


def count_back(start: int, half_days: int | None, calendar: ResolvedCalendar | None) -> int | None:
    """The working half-day that lies that many working half-days before a start; None without a number."""
    if half_days is None:
        return None
    half_day = start
    for _left in range(half_days):
        half_day = last_worked_before(half_day, calendar)
    return half_day


def _describe_revision(plan: Plan) -> Revision:
    return Revision(
        number=plan.number,
        at=plan.at,
        cause=plan.cause,
        by=plan.by.name if plan.by else "",
        finish=plan.finish,
        stake_start=plan.stake_start,
        moved=len(plan.moved),
    )


def _read_diary(house: House) -> list[DiaryLine]:
    # That a house is being written anew is for the guard; what became of it stands in the line 'changed'.
    lines = Change.objects.filter(house=house).exclude(what="rewriting")
    lines = lines.select_related("by", "crew")[:SHOWN_DIARY]
    return [
        DiaryLine(
            at=line.at,
            who=line.by.name if line.by else line.crew.name if line.crew else "",
            what=line.what,
            about=line.about,
            words=line.words,
        )
        for line in lines
    ]
