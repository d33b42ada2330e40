"""Which pages a tablet takes along for one walk, and how it knows that a copy is out of date."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from django.urls import reverse

from hold_points.facts import PointRows
from hold_points.queries import Room


@dataclass(frozen=True)
class PageAlong:
    """A page to take along: its address, and a mark that changes with what it shows of the record."""

    address: str
    mark: str


def list_pages(rows: PointRows, rooms: list[Room]) -> list[PageAlong]:
    """The pages of every room of a walk and of every check in it, in the order of the walk."""
    walk = reverse("hold_points:walk", args=[rows.inspection.pk])
    pages = []
    for room in rooms:
        mark = mark_of(rows, room)
        pages.append(PageAlong(f"{walk}?room={room.place_id}", mark))
        pages += [PageAlong(reverse("hold_points:check", args=[one.check.id]), mark) for one in room.states]
    return pages


def mark_of(rows: PointRows, room: Room) -> str:
    """What stands on the record of a room, as one short text; another one when any of it changes."""
    seen = [
        (
            one.check.id,
            str(one.state),
            str(one.latest.id if one.latest else ""),
            str(one.overtaken.id if one.overtaken else ""),
            one.photos,
            one.nonconformity,
            rows.checks[one.check.id].version,
            [photo.pk for photo in rows.evidence.get(one.check.id, ())],
        )
        for one in room.states
    ]
    whole = (rows.released, sorted(rows.released_sections), seen)
    return hashlib.sha256(repr(whole).encode()).hexdigest()[:16]
