"""Which drawings a mail carries: few, those of the work it speaks of, the dearest to miss first.

Everything a drawing shows stands in the text part too, so that a mail says the same without pictures.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from coordination.outbox.models import Message
from coordination.reminders.spoken_of import bookings_of
from coordination.sequence.misses_told import weight_of
from coordination.sequence.models import Booking, Detail
from coordination.sequence.queries import CrewVisit, visits_for
from coordination.sequence.sketch_pictures import Picture, paint_picture

MOST = 3
"""Drawings in one mail; the rest stand on the crew's page."""

MOST_BYTES = 120_000
"""Of all drawings of a mail together: with its text and in base64 the mail stays under 200 kB."""

SHOWN = (Message.Kind.VISIT, Message.Kind.EVE, Message.Kind.WINDOW, Message.Kind.REWORK)
"""Kinds that send somebody to the work; a look-ahead and a changed date need no drawing."""


@dataclass(frozen=True)
class MailPicture:
    """A drawing in a mail.

    Attributes:
        cid: its Content-ID without brackets; the same again when the mail is sent again.
        caption: house and detail.
    """

    cid: str
    caption: str
    picture: Picture

    @property
    def file(self) -> str:
        """Name under which a mail program saves it."""
        return f"{self.cid.split('@')[0]}.png"


@dataclass(frozen=True)
class _Wanted:
    """A drawing that would help; `rank` orders it: first by message, then by what a miss costs."""

    rank: tuple[int, float]
    caption: str
    drawing: str
    numbers: Mapping[str, Any]


def choose_pictures(messages: Sequence[Message], domain: str) -> list[MailPicture]:
    """The drawings for one mail, at most `MOST` of them and `MOST_BYTES` together, each section once."""
    chosen: list[MailPicture] = []
    seen: set[tuple[str, str]] = set()
    left = MOST_BYTES
    for one in sorted(_find_wanted(messages), key=lambda one: one.rank):
        same = (one.drawing, repr(sorted(one.numbers.items())))
        if len(chosen) == MOST or same in seen:
            continue
        picture = paint_picture(one.drawing, one.numbers)
        if picture is None or len(picture.png) > left:
            continue
        seen.add(same)
        left -= len(picture.png)
        cid = f"drawing-{len(chosen) + 1}-{one.drawing.replace('_', '-')}@{domain}"
        chosen.append(MailPicture(cid, one.caption, picture))
    return chosen


def _find_wanted(messages: Sequence[Message]) -> Iterable[_Wanted]:
    speaking = [one for one in messages if one.kind in SHOWN]
    visits = _visits_of(speaking)
    details = Detail.objects.select_related("house").in_bulk(
        [one.facts["detail"] for one in speaking if isinstance(one.facts.get("detail"), int)]
    )
    for number, message in enumerate(speaking):
        detail = details.get(message.facts.get("detail", 0))
        if detail is not None:
            yield _want(number, detail.house.name, detail)
            continue
        for visit in (visits[one] for one in bookings_of(message) if one in visits):
            for piece in visit.details:
                if not piece.installed and piece.drawing:
                    yield _want(number, visit.house.name, piece)


def _want(number: int, house: str, detail: Any) -> _Wanted:
    return _Wanted(
        rank=(number, -weight_of(detail.miss)),
        caption=f"{house}: {detail.name}",
        drawing=detail.drawing,
        numbers=detail.drawing_numbers,
    )


def _visits_of(messages: Iterable[Message]) -> dict[int, CrewVisit]:
    ids = {booking for one in messages for booking in bookings_of(one)}
    if not ids:
        return {}
    return {visit.booking.id: visit for visit in visits_for(Booking.objects.filter(pk__in=ids))}
