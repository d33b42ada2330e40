"""Photographs kept as evidence: as they came, under the hash of their bytes, once per house.

They count from the moment they are kept. What pages show of them is made in a task afterwards (`copies`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import BinaryIO

from celery import current_app
from django.db import transaction
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Crew, Person
from coordination.people.refusals import BadInput
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Detail, House, Place
from hold_points.keeping_files import keep_file
from hold_points.models import Check, Evidence, Inspection, Nonconformity, Outcome
from hold_points.moments import next_moment
from hold_points.photographs import WHERE, Photograph, read_photograph

__all__ = ["Photograph", "Shows", "accept", "keep_photograph", "read_photograph", "store"]

PREPARE_TASK = "hold_points.prepare_photographs"


@dataclass(frozen=True)
class Shows:
    """What a photograph shows, who sent it, and in whose words."""

    inspection: Inspection | None = None
    check: Check | None = None
    outcome: Outcome | None = None
    nonconformity: Nonconformity | None = None
    detail: Detail | None = None
    place: Place | None = None
    by: Person | None = None
    crew: Crew | None = None
    words: str = ""


def accept(file: BinaryIO, house: House, shows: Shows) -> Evidence:
    """Read and keep a photograph; see `read_photograph` and `keep_photograph` for what is refused."""
    photograph = read_photograph(file, house.builder.time_zone)
    with transaction.atomic():
        return keep_photograph(photograph, lock_house(house.pk), shows)


def keep_photograph(photograph: Photograph, house: House, shows: Shows) -> Evidence:
    """Store a photograph once per house; sending it again for the same thing returns the row that is there.

    The caller holds the house's lock. Its position is kept only if the builder has agreed to that.

    Raises:
        BadInput: the very same picture already stands as evidence of something else.
    """
    if shows.check is not None:
        shows = replace(
            shows, detail=shows.detail or shows.check.detail, place=shows.place or shows.check.place
        )
    there = Evidence.objects.filter(house=house, sha256=photograph.sha256).first()
    if there is not None:
        _require_same(there, shows)
        return there
    position = photograph.position if house.builder.keeps_positions else None
    ending = photograph.media_type.removeprefix("image/").replace("jpeg", "jpg")
    now = clock.now()
    received = next_moment(shows.inspection.pk) if shows.inspection is not None else now
    kept = Evidence.objects.create(
        house=house,
        inspection=shows.inspection,
        check_shown=shows.check,
        outcome=shows.outcome,
        nonconformity=shows.nonconformity,
        detail=shows.detail,
        place=shows.place,
        sha256=photograph.sha256,
        size=len(photograph.original),
        media_type=photograph.media_type,
        original=store("originals", photograph.sha256, ending, photograph.original),
        taken_at=photograph.taken_at,
        latitude=position.latitude if position else None,
        longitude=position.longitude if position else None,
        received_at=received,
        prepare_after=now,
        by=shows.by,
        crew=shows.crew,
        words=shows.words[:200],
    )
    # Nobody hears it when the broker is down: the row is there, and the next tick finds it.
    # No partial: Django names what failed by its __qualname__, and one without would answer 500 after all.
    transaction.on_commit(lambda: current_app.send_task(PREPARE_TASK, args=[[kept.pk]]), robust=True)
    return kept


def _require_same(there: Evidence, shows: Shows) -> None:
    asked = (shows.inspection, shows.detail, shows.place, shows.check, shows.nonconformity)
    shown = (
        there.inspection_id,
        there.detail_id,
        there.place_id,
        there.check_shown_id,
        there.nonconformity_id,
    )
    if shown != tuple(one.pk if one else None for one in asked):
        raise BadInput(
            WHERE,
            _("This very picture already shows something else (%(what)s). Take a photograph of this.")
            % {"what": there.words or there.check_shown or there.place or there.house},
        )


def store(folder: str, sha256: str, ending: str, content: bytes) -> str:
    """Keep a file under a name made of the original's hash; it is there once and whole, whoever sent it."""
    return keep_file(f"evidence/{folder}/{sha256[:2]}/{sha256}.{ending}", content)
