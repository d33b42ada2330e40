"""A visit as a whole is reported: its booking and its activities change together, or neither does."""

from __future__ import annotations

from django.db import transaction

from coordination import clock
from coordination.people.models import Crew, Person
from coordination.sequence import answers, progress
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Activity, Booking
from coordination.sequence.reports import Report


@transaction.atomic
def report_visit_begun(
    booking: Booking, *, by: Person | None = None, crew: Crew | None = None, at: int | None = None
) -> Booking:
    """The crew is at work: the booking is under way, the first piece of its work has started.

    Args:
        at: first half-day worked; None: the present one.

    Raises:
        NotAllowed: another crew reports.
        WrongState: the visit is booked with another crew by now.
        BadInput: a half-day in the future.
    """
    lock_house(booking.house_id)
    booking = answers.report_under_way(booking, by=by, crew=crew)
    pieces = _unfinished(booking)
    if pieces and all(piece.actual_start is None for piece in pieces):
        report = Report(pieces[0].key, started=_now(booking) if at is None else at)
        progress.record_progress(booking.house, [report], by=by, crew=crew)
    return booking


@transaction.atomic
def report_visit_done(
    booking: Booking, *, by: Person | None = None, crew: Crew | None = None, at: int | None = None
) -> Booking:
    """The crew is done: so is every activity of the visit. Points are not reported, they are judged.

    Args:
        at: last half-day worked; None: the present one.

    Raises: as `report_visit_begun`.
    """
    lock_house(booking.house_id)
    booking = answers.report_done(booking, by=by, crew=crew)
    last = _now(booking) if at is None else at
    reports = [Report(piece.key, last=last) for piece in _unfinished(booking)]
    if reports:
        progress.record_progress(booking.house, reports, by=by, crew=crew)
    return booking


def _unfinished(booking: Booking) -> list[Activity]:
    return list(
        Activity.objects.filter(visit=booking.visit_id, is_point=False, actual_finish__isnull=True).order_by(
            "order", "pk"
        )
    )


def _now(booking: Booking) -> int:
    return clock.current_half_day(booking.house.builder.time_zone)
