"""Re-planning: lock the house, compute its dates, save them as a new revision, tell who must be told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.db import transaction
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Crew, Person
from coordination.people.refusals import BadInput
from coordination.sequence import telling, told_dates
from coordination.sequence.house_network import HouseNetwork, WhatIf, read_house_network
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Booking, House, Plan, PlannedDate, PlannedWindow
from coordination.sequence.moves import Dated, Move, Was, find_moves
from coordination.sequence.scoring import score_begun
from coordination.sequence.solved import Solved
from coordination.sequence.to_engine import solve


@dataclass(frozen=True)
class ToldMove:
    """A crew whose told date could not stand in the imagined plan.

    Attributes:
        booking: the live booking, with its crew.
        start, finish: imagined first half-day and exclusive finish of the visit.
        by: half-days of the axis from the told start to the imagined one.
        frozen: the told date is so near that it does not move by itself: the planner decides.
    """

    booking: Booking
    start: int
    finish: int
    by: int
    frozen: bool


@dataclass(frozen=True)
class Preview:
    """What a change would move, computed and not saved; finishes are exclusive."""

    moved: tuple[Move, ...]
    told: tuple[ToldMove, ...]
    finish_before: int
    finish_after: int
    stake_before: int | None
    stake_after: int | None
    solved: Solved


def current_plan(house: House) -> Plan | None:
    """The latest revision of a house's plan."""
    return house.plans.order_by("-number").first()


@transaction.atomic
def replan(
    house: House,
    *,
    cause: str,
    by: Person | None = None,
    crew: Crew | None = None,
    fresh_holidays: bool = False,
) -> Plan:
    """Compute the house's dates anew and save them as the next revision; told dates follow per thresholds.

    Locks the house's row, so call it inside the transaction that changed the network, before or after any
    other change to this house.

    Args:
        cause: what happened, in words for the list of revisions.
        by, crew: who caused it; a crew's act has no person, and is named in the cause.
        fresh_holidays: ask the library for public holidays anew instead of keeping those of the plan before.

    Raises:
        BadInput: the network cannot be planned; nothing is saved.
    """
    locked = lock_house(house.pk)
    previous = current_plan(locked)
    rows = read_house_network(locked)
    stored = None if previous is None or fresh_holidays else previous.calendars
    solved = solve(locked, stored=stored, rows=rows)
    moved = find_moves_against(previous, solved)
    if crew is not None and by is None:
        cause = _("%(crew)s: %(cause)s") % {"crew": crew, "cause": cause}
    plan = Plan.objects.create(
        house=locked,
        number=previous.number + 1 if previous else 1,
        at=clock.now(),
        recorded_up_to=locked.recorded_up_to,
        cause=cause[:200],
        by=by,
        finish=solved.finish,
        stake_start=solved.stake_start,
        driving_chain=solved.driving_chain,
        stake_chain=solved.stake_chain,
        warnings=solved.warnings,
        calendars=solved.days.as_stored(),
        moved=[move.as_stored() for move in moved],
    )
    _save_dates(plan, rows, solved)
    score_begun(rows, solved)
    told_dates.tell_moved(locked, plan)
    return plan


def preview(house: House, change: WhatIf) -> Preview:
    """What would move, and who would have to be told, if the change were made; saves nothing.

    Raises:
        BadInput: a key of the change that this house does not have, or a change that cannot be planned.
    """
    previous = current_plan(house)
    rows = read_house_network(house)
    _refuse_unknown_keys(rows, change)
    stored = previous.calendars if previous else None
    now = solve(house, stored=stored, rows=rows)
    then = solve(house, change, stored=stored, rows=rows)
    return Preview(
        moved=_compare(now.dates, then),
        told=tuple(_find_told_moves(rows, then)),
        finish_before=now.finish,
        finish_after=then.finish,
        stake_before=now.stake_start,
        stake_after=then.stake_start,
        solved=then,
    )


def find_moves_against(previous: Plan | None, solved: Solved) -> tuple[Move, ...]:
    """What moved against a saved revision; nothing against none."""
    if previous is None:
        return ()
    before = {
        date.activity.key: Was(date.start, date.last, date.reason)
        for date in previous.dates.select_related("activity").only(
            "start", "last", "reason", "activity__key", "plan"
        )
    }
    return _compare(before, solved)


def _compare(before: Mapping[str, Dated], solved: Solved) -> tuple[Move, ...]:
    rows = solved.rows
    described = {
        one.key: (
            one.name,
            one.trade.key if one.trade else "",
            one.visit.key if one.visit else "",
        )
        for one in rows.activities
    }
    calendars = {one.key: solved.calendar_of(one.key) for one in rows.activities}
    return find_moves(before, solved.dates, described, calendars)


def _save_dates(plan: Plan, rows: HouseNetwork, solved: Solved) -> None:
    PlannedDate.objects.bulk_create(
        PlannedDate(
            plan=plan,
            activity=rows.by_key[date.key],
            es=date.es,
            ef=date.ef,
            ls=date.ls,
            lf=date.lf,
            start=date.start,
            last=date.last,
            total_float=date.total_float,
            free_float=date.free_float,
            float_to_stake=date.float_to_stake,
            critical=date.critical,
            reason=date.reason,
        )
        for date in solved.dates.values()
    )
    details = {detail.key: detail for detail in rows.details}
    PlannedWindow.objects.bulk_create(
        PlannedWindow(
            plan=plan,
            detail=details[window.key],
            opens=window.opens,
            due=window.due,
            buried=window.buried,
            put_right_until=window.put_right_until,
            slack_due=window.slack_due,
            slack_buried=window.slack_buried,
            inverted=window.inverted,
        )
        for window in solved.windows.values()
    )


def visit_dates(rows: HouseNetwork, solved: Solved) -> dict[int, tuple[int, int]]:
    """Visit id → first half-day worked and exclusive finish, over the visit's activities."""
    dates: dict[int, tuple[int, int]] = {}
    for activity in rows.activities:
        if activity.visit_id is None:
            continue
        one = solved.dates[activity.key]
        start, finish = dates.get(activity.visit_id, (one.start, one.last + 1))
        dates[activity.visit_id] = (min(start, one.start), max(finish, one.last + 1))
    return dates


def _find_told_moves(rows: HouseNetwork, then: Solved) -> list[ToldMove]:
    """Live bookings whose told dates the imagined plan would break, by the rule of `told_dates`."""
    builder = rows.house.builder
    now = clock.current_half_day(builder.time_zone)
    dates = visit_dates(rows, then)
    told = []
    for visit_id, booking in rows.bookings.items():
        if booking.told_start is None or booking.told_finish is None:
            continue
        if booking.state in (Booking.State.UNDER_WAY, Booking.State.DONE) or visit_id not in dates:
            continue
        start, finish = dates[visit_id]
        if max(start - booking.told_start, finish - booking.told_finish) < builder.retell_half_days:
            continue
        frozen = telling.weekday_half_days(now, booking.told_start) < 2 * builder.freeze_days
        told.append(ToldMove(booking, start, finish, start - booking.told_start, frozen))
    return sorted(told, key=lambda one: (one.start, one.booking.pk))


def _refuse_unknown_keys(rows: HouseNetwork, change: WhatIf) -> None:
    for key in [*change.delays, *change.not_before]:
        if key not in rows.by_key:
            raise BadInput(key, _("This house has no such activity. Choose one of its programme."))
    visits = {activity.visit.key for activity in rows.activities if activity.visit}
    for key in change.crews:
        if key not in visits:
            raise BadInput(key, _("This house has no such visit. Choose one of its programme."))
