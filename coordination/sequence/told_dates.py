"""Told dates follow the plan, but only where they must (rule 7), and time reserved with a crew.

A told date moves by itself when the plan starts, or ends, later than told by at least the builder's smallest
told move. Inside the freeze it does not: the office is told and decides. Earlier is never told, only offered
(`find_offers`), for a crew that is told to come earlier without being asked does not come.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import F, Max, Min
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Person
from coordination.people.refusals import WrongState
from coordination.sequence import guard, telling
from coordination.sequence.diary import write_change
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Booking, House, Plan, PlannedDate, ReservedTime, Visit

MOVABLE = (Booking.State.PENCILLED, Booking.State.FIRM)


@dataclass(frozen=True)
class Offer:
    """A visit that could start earlier than its crew was told, by half-days of the axis."""

    booking: Booking
    start: int
    finish: int
    earlier_by: int


def planned_windows(plan: Plan) -> dict[int, tuple[int, int]]:
    """Visit id → first half-day worked and exclusive finish, in a saved plan."""
    rows = (
        PlannedDate.objects.filter(plan=plan, activity__visit__isnull=False)
        .order_by()
        .values_list("activity__visit_id")
        .annotate(Min("start"), Max("last"))
    )
    return {visit: (start, last + 1) for visit, start, last in rows}


def planned_window(visit: Visit) -> tuple[int, int] | None:
    """First half-day worked and exclusive finish of a visit in the current plan; None without a plan."""
    plan = Plan.objects.filter(house=visit.house_id).order_by("-number").first()
    return planned_windows(plan).get(visit.pk) if plan else None


def _movable(house: House) -> list[Booking]:
    """Told bookings whose work has not started."""
    return list(
        Booking.objects.filter(house=house, state__in=MOVABLE, told_start__isnull=False)
        .exclude(visit__activities__actual_start__isnull=False)
        .select_related("house__builder", "crew", "visit", "reserved_time")
        .order_by("told_start", "pk")
    )


def find_offers(house: House, windows: Mapping[int, tuple[int, int]]) -> list[Offer]:
    """Told bookings that could start earlier by at least the smallest move told; for the planner to ask."""
    offers = []
    for booking in _movable(house):
        if booking.visit_id not in windows or booking.told_start is None:
            continue
        start, finish = windows[booking.visit_id]
        if booking.told_start - start >= house.builder.retell_half_days:
            offers.append(Offer(booking, start, finish, booking.told_start - start))
    return offers


def tell_moved(house: House, plan: Plan) -> list[Booking]:
    """Move told dates that must move and tell each crew once; returns the bookings that moved.

    Called by `replan`, inside its transaction and under its lock. A booking whose hold is lifted stays firm
    at its new date. A move that the plan takes back before it was sent is never heard of.
    """
    windows = planned_windows(plan)
    now = clock.current_half_day(house.builder.time_zone)
    moved = []
    for booking in _movable(house):
        if booking.visit_id not in windows or booking.told_start is None or booking.told_finish is None:
            continue
        told, planned = (booking.told_start, booking.told_finish), windows[booking.visit_id]
        target = _find_target(booking, told, planned, house.builder.retell_half_days)
        if target is None:
            continue
        if telling.weekday_half_days(now, told[0]) < 2 * house.builder.freeze_days and target > told:
            _ask_office(booking, planned, plan)
            continue
        move_told_date(booking, target, plan.cause)
        moved.append(booking)
    return moved


def _find_target(
    booking: Booking, told: tuple[int, int], planned: tuple[int, int], least: int
) -> tuple[int, int] | None:
    """The dates that must be told instead, or None when what was told can stand."""

    def fits(dates: tuple[int, int]) -> bool:
        return planned[0] - dates[0] < least and planned[1] - dates[1] < least

    if not fits(told):
        return planned
    if telling.waiting_for(booking) and (seen := telling.last_seen(booking)):
        before = (seen["told_start"], seen["told_finish"])
        if None not in before and before < told and fits(before):
            return before
    return None


def _ask_office(booking: Booking, planned: tuple[int, int], plan: Plan) -> None:
    """Inside the freeze: the planner decides whether the crew is moved or kept; told once per new date."""
    telling.tell_office(
        booking.house,
        about=f"booking:{booking.pk}",
        version=f"frozen {booking.sequence} {planned[0]} {planned[1]}",
        news=_("%(visit)s told %(told)s, planned %(planned)s. Move it, or keep the day.")
        % {
            "visit": booking.visit.name,
            "told": clock.say_half_day(booking.told_start),
            "planned": clock.say_half_day(planned[0]),
        },
        why=_("Why: %(why)s.") % {"why": plan.cause.rstrip(".")},
        urgent=True,
    )


def move_told_date(booking: Booking, dates: tuple[int, int], why: str, by: Person | None = None) -> None:
    """Give a told booking new dates, free time reserved that no longer covers them, and tell the crew."""
    was = (booking.told_start or 0, booking.told_finish or 0)
    keeps = booking.reserved_time is not None and _covers(booking.reserved_time, dates)
    Booking.objects.filter(pk=booking.pk).update(
        told_start=dates[0],
        told_finish=dates[1],
        sequence=F("sequence") + 1,
        changed_at=clock.now(),
        confirmed_at=None,
        **({} if keeps else {"reserved_time": None}),
    )
    booking.refresh_from_db()
    words = _("%(visit)s moved from %(was)s to %(now)s: %(why)s") % {
        "visit": booking.visit.name,
        "was": clock.say_half_day(was[0]),
        "now": clock.say_half_day(dates[0]),
        "why": why,
    }
    facts = {"was": list(was), "now": list(dates)}
    write_change(booking.house, "told date moved", f"booking:{booking.pk}", words, facts, by)
    if telling.tell_crew(booking, why, was=was) is None:
        telling.note_told(booking, _("moved back before it was sent"))


# ---------------------------------------------------------------- reserved time


def _covers(reserved: ReservedTime, dates: tuple[int, int]) -> bool:
    return reserved.first <= dates[0] and dates[1] <= reserved.end


@guard.speaking()
def draw_reserved_time(booking: Booking, reserved: ReservedTime, by: Person | None = None) -> Booking:
    """Let a told booking use time that was reserved with its crew, never more than there is.

    In no half-day may more live bookings draw on it than it has units, so all together never draw more than
    units × half-days. Moving the booking out of it frees it.

    Raises:
        WrongState: not agreed, of another crew or builder, not covering the told dates, or used up.
    """
    house = lock_house(booking.house_id)
    # The second lock, always after a house's: two houses that draw on the same time queue here.
    reserved = ReservedTime.objects.select_for_update().get(pk=reserved.pk)
    booking = Booking.objects.select_related("house__builder", "crew", "visit").get(pk=booking.pk)
    if booking.told_start is None or booking.told_finish is None:
        raise WrongState(_("%(visit)s has no date yet. Pencil it first.") % {"visit": booking.visit.name})
    if booking.state not in (Booking.State.PENCILLED, Booking.State.FIRM):
        raise WrongState(
            _("%(visit)s is %(state)s; only a pencilled or firm booking draws on reserved time.")
            % {"visit": booking.visit.name, "state": booking.get_state_display()}
        )
    if reserved.crew_id != booking.crew_id or reserved.builder_id != house.builder_id:
        raise WrongState(_("That time is reserved with another crew, or by another builder."))
    if reserved.agreed_at is None:
        raise WrongState(_("%(crew)s has not agreed to that time yet.") % {"crew": booking.crew.name})
    dates = (booking.told_start, booking.told_finish)
    if not _covers(reserved, dates):
        raise WrongState(
            _("%(visit)s is told %(dates)s; the reserved time is %(reserved)s. Move one of them.")
            % {
                "visit": booking.visit.name,
                "dates": clock.say_dates(*dates),
                "reserved": clock.say_dates(reserved.first, reserved.end),
            }
        )
    _refuse_overdraw(reserved, booking, dates)
    Booking.objects.filter(pk=booking.pk).update(reserved_time=reserved, changed_at=clock.now())
    booking.refresh_from_db()
    words = _("%(visit)s uses time reserved with %(crew)s") % {
        "visit": booking.visit.name,
        "crew": booking.crew.name,
    }
    facts = {"reserved_time": reserved.pk}
    write_change(house, "reserved time used", f"booking:{booking.pk}", words, facts, by)
    return booking


def _refuse_overdraw(reserved: ReservedTime, booking: Booking, dates: tuple[int, int]) -> None:
    others = list(
        Booking.objects.filter(reserved_time=reserved, state__in=Booking.LIVE, told_start__isnull=False)
        .exclude(pk=booking.pk)
        .values_list("told_start", "told_finish")
    )
    for half_day in range(*dates):
        used = sum(start <= half_day < (finish or start) for start, finish in others if start is not None)
        if used >= reserved.units:
            raise WrongState(
                _("On %(day)s all %(units)s of the reserved time is used. Choose another day.")
                % {"day": clock.say_half_day(half_day), "units": reserved.units}
            )
