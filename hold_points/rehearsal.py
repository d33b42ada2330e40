"""Walks for a demonstration house: every check judged through the same doors that a supervisor uses.

Values are made up to fit the limits, and photographs are boards that say that they are demonstrations, so
that no one can take them for a house.
"""

from __future__ import annotations

import datetime as dt
import io
import math
from collections.abc import Collection

from django.db import transaction
from PIL import Image, ImageDraw

from coordination.people.models import Person
from coordination.sequence.models import Booking, Detail, House
from hold_points import calling, copies, releasing, walking
from hold_points.entering import NUMBERED, Found
from hold_points.evidence import read_photograph
from hold_points.facts import load_point
from hold_points.identifiers import new_id
from hold_points.installing import last_installers, live_bookings, visits_installing
from hold_points.models import Check, Evidence, Inspection, Outcome
from hold_points.port import HoldPointsPort
from hold_points.readiness import State
from hold_points.signing import Signature

STROKES = [[[60, 120], [90, 60], [120, 130], [150, 80]], [[180, 110], [260, 90], [340, 120]]]
"""A drawn name, as a pen would leave it in the box of 600 by 200."""


def value_within(check: Check) -> float | None:
    """A value that meets the check's limit: on it for counts, a little inside for measures."""
    if check.kind not in NUMBERED:
        return None
    if check.limit is None:
        return 1.0
    step = 0.0 if check.kind == Check.Kind.COUNTED else max(round(check.limit * 0.02, 2), 0.0)
    if check.compare == Check.Compare.AT_LEAST:
        return round(check.limit + step, 2)
    if check.compare == Check.Compare.AT_MOST:
        return float(math.floor((check.limit - step) * 10) / 10)
    if check.compare == Check.Compare.BETWEEN and check.limit_high is not None:
        return (check.limit + check.limit_high) / 2
    return check.limit


def value_outside(check: Check) -> float | None:
    """A value that misses the limit by a little; None for what is only seen."""
    if check.kind not in NUMBERED or check.limit is None:
        return None
    return check.limit - 1 if check.compare == Check.Compare.AT_LEAST else check.limit + 1


def make_board(words: str, number: int) -> bytes:
    """A plain picture with its words on it; the number makes each one different."""
    board = Image.new("RGB", (480, 360), (232 - number % 17, 226 - number % 13, 212))
    pen = ImageDraw.Draw(board)
    pen.rectangle((12, 12, 467, 347), outline=(60, 66, 74), width=3)
    for line, text in enumerate(["Demonstration picture", *_wrapped(words, 40), f"no. {number}"]):
        pen.text((32, 40 + 28 * line), text, fill=(34, 38, 44))
    kept = io.BytesIO()
    board.save(kept, "JPEG", quality=70)
    return kept.getvalue()


def _wrapped(words: str, width: int) -> list[str]:
    lines: list[str] = [""]
    for word in words.split():
        if len(lines[-1]) + len(word) >= width:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return lines[:6]


@transaction.atomic
def walk(
    inspection: Inspection,
    by: Person,
    *,
    at: dt.datetime,
    leave: int = 0,
    fail: Collection[str] = (),
) -> int:
    """Judge the checks of a point that are still open; returns how many were judged.

    Args:
        at: when it is said to have been judged.
        leave: so many checks at the end stay open, as in a walk that was broken off.
        fail: checks that are not met, each as 'key@place' (or its key alone, for one without a place).
    """
    rows = load_point(inspection)
    states = [state for state in rows.readiness.states if state.state is State.OPEN]
    if leave:
        states = states[:-leave]
    judged = []
    for state in states:
        check = rows.checks[state.check.id]
        name = f"{check.key}@{check.place.key}" if check.place else check.key
        judged.append((check, _find(check, name in fail, at)))
    if judged:
        walking.record_outcomes(judged, by)
    _prepare(inspection)
    return len(judged)


def _prepare(inspection: Inspection) -> None:
    """Make the copies at once: whoever looks at a demonstration has not waited for a worker yet."""
    copies.prepare_waiting(
        Evidence.objects.filter(inspection=inspection, prepared_at=None).values_list("pk", flat=True)
    )


def _find(check: Check, misses: bool, at: dt.datetime) -> Found:
    photos = []
    if misses or check.evidence != Check.Evidence.NONE:
        photos = [read_photograph(io.BytesIO(make_board(check.text, check.pk)))]
    return Found(
        id=new_id(),
        kind=Outcome.Kind.NOT_MET if misses else Outcome.Kind.MET,
        value=value_outside(check) if misses else value_within(check),
        note="One of them does; see the picture." if misses else "",
        at=at,
        device="demonstration",
        photos=photos,
    )


def release(inspection: Inspection, by: Person, *, at: dt.datetime, section: str = "") -> None:
    """Sign for a point, or one of its sections, as its walker would."""
    releasing.release(
        inspection,
        by=by,
        signature=Signature(name=by.name, strokes=STROKES),
        id=new_id(),
        section=section,
        at=at,
        device="demonstration",
    )


def call_ready(house: House, point_key: str) -> None:
    """Every crew whose work is judged at the point calls it ready."""
    inspection = Inspection.objects.get(house=house, point__key=point_key)
    for visit, booking in sorted(_bookings_at(inspection).items()):
        calling.call_ready(visit, booking.crew)


def _bookings_at(inspection: Inspection) -> dict[int, Booking]:
    """Bookings of the visits that install what the point judges, by visit."""
    details = Detail.objects.filter(point=inspection.point).values_list("pk", flat=True)
    return live_bookings({visit for ones in visits_installing(details).values() for visit in ones})


def send_photographs(house: House, point_key: str) -> int:
    """The crews' own photographs of a point: one for each check and place that asks for one."""
    inspection = Inspection.objects.select_related("point").get(house=house, point__key=point_key)
    sent = 0
    checks = inspection.checks.filter(withdrawn_at=None).select_related("detail", "place")
    # Each by the crew that installs it: another's proves nothing.
    installers = last_installers({check.detail_id for check in checks if check.detail_id is not None})
    for check in checks:
        if check.detail_id not in installers:
            continue
        HoldPointsPort().accept_photo(
            house=house,
            crew=installers[check.detail_id].crew,
            file=io.BytesIO(make_board(f"{inspection.point.name}: {check.text}", check.pk)),
            point_id=inspection.point_id,
            detail=check.detail,
            place=check.place,
            words=check.text[:200],
        )
        sent += 1
    _prepare(inspection)
    return sent
