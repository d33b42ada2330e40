"""Promises given: a date told to a crew, and how sure it was when it was told.

A promise is a row beside what was told (`telling.note_told`); `scoring` says later whether it was kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coordination import clock
from coordination.sequence.models import Booking, GivenPromise, HouseForecast, Plan
from coordination.sequence.unreported import read_unreported

TELLING = (Booking.State.PENCILLED, Booking.State.FIRM)


def share_by(prospect: Mapping[str, Any], half_day: int) -> float:
    """The share of a stored prospect's draws that were ready by a half-day."""
    counts = prospect["counts"]
    return float(sum(counts[: max(0, half_day - prospect["first"] + 1)]) / sum(counts))


def give_promise(booking: Booking) -> GivenPromise | None:
    """Keep what was promised with the date just told; None where nothing is forecast for the visit.

    The same date told again is the same promise. A date of a house that nobody reports on is told and no
    promise: what it rests on is not known.
    """
    if booking.told_start is None or booking.state not in TELLING:
        return None
    forecast = HouseForecast.objects.filter(house=booking.house_id, revision__isnull=False).first()
    if forecast is None or forecast.revision is None:
        return None
    if read_unreported([booking.house]):
        return None
    prospect = forecast.result.get("visits", {}).get(str(booking.visit_id))
    if prospect is None:
        return None
    latest = Plan.objects.filter(house=booking.house_id).order_by("-number").values_list("number", flat=True)
    promise, _made = GivenPromise.objects.get_or_create(
        booking=booking,
        promised=booking.told_start,
        defaults={
            "house_id": booking.house_id,
            "crew_id": booking.crew_id,
            "confidence": share_by(prospect, booking.told_start),
            "revision": forecast.revision,
            "stale": latest.first() != forecast.revision,
            "given_at": clock.now(),
        },
    )
    return promise
