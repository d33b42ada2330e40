"""Pencil several visits of a house as planned: looked at first, then all of them or none."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext as _

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.models import Builder, Person
from coordination.people.refusals import BadInput, WrongState
from coordination.planner.crew_reading import read_stays
from coordination.planner.crew_weeks import find_over
from coordination.sequence import bookings, guard
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Booking, House, Visit


@dataclass(frozen=True)
class Chosen:
    """A visit as it was looked at: its booking and the dates that its crew would be told."""

    visit: int
    booking: int
    start: int
    finish: int

    def __str__(self) -> str:
        return f"{self.visit} {self.booking} {self.start} {self.finish}"


@dataclass(frozen=True)
class PencilLine:
    """One visit of several that are to be pencilled.

    Attributes:
        chosen: what is sent along with the decision; None where it cannot be pencilled.
        dates: what the crew would be told; `at_once` whether it hears of it at once, else with its next mail.
        clash: the first half-day on which the crew would then be told more houses than it takes; or empty.
        refusal, remedy, remedy_link: why not, what to do, and where.
    """

    visit: Visit
    crew: str
    chosen: Chosen | None
    dates: str = ""
    at_once: bool = False
    clash: str = ""
    refusal: str = ""
    remedy: str = ""
    remedy_link: str = ""


class SeveralRefused(Exception):
    """Some visits cannot be pencilled as they were looked at, so none was; `lines` says which, and why."""

    def __init__(self, lines: Sequence[PencilLine]) -> None:
        super().__init__("; ".join(line.refusal for line in lines if line.refusal))
        self.lines = tuple(lines)


def read_chosen(texts: Iterable[str]) -> list[Chosen]:
    """What a page sent along.

    Raises:
        BadInput: nothing, or no text of that page.
    """
    found = []
    for text in texts:
        numbers = text.split(" ")
        if len(numbers) != 4 or not all(one.isascii() and one.isdigit() and len(one) < 10 for one in numbers):
            raise BadInput(_("visits"), _("The page was changed on its way. Tick the visits again."))
        found.append(Chosen(*map(int, numbers)))
    if not found:
        raise BadInput(_("visits"), _("None is ticked. Tick the visits to pencil."))
    return found


def look_at_pencilling(house: House, visits: Iterable[int], by: Person) -> list[PencilLine]:
    """What pencilling these visits as planned would tell whom; it is done and rolled back, messages and all.

    Ids of other houses' visits are left out.
    """
    with transaction.atomic():
        lines = _pencil_each(lock_house(house.pk), visits, {}, by)
        transaction.set_rollback(True)
    return lines


@guard.speaking()
def pencil_chosen(house: House, chosen: Sequence[Chosen], by: Person) -> list[PencilLine]:
    """Pencil all of these visits, each with the dates that were looked at, and tell their crews.

    Raises:
        SeveralRefused: one of them cannot be pencilled, or not with those dates; nothing is saved.
    """
    seen = {one.visit: one for one in chosen}
    lines = _pencil_each(lock_house(house.pk), seen, seen, by)
    if len(lines) < len(seen) or any(line.refusal for line in lines):
        raise SeveralRefused(lines)
    return lines


def _pencil_each(
    house: House, visits: Iterable[int], seen: Mapping[int, Chosen], by: Person
) -> list[PencilLine]:
    """Pencil one after the other, under the house's lock; a refused one leaves nothing and is named."""
    rows = Visit.objects.filter(house=house, pk__in=list(visits)).select_related("trade").order_by("order")
    live = {
        one.visit_id: one
        for one in Booking.objects.filter(house=house, state__in=Booking.LIVE).select_related("crew")
    }
    lines = [_pencil(house, row, live.get(row.pk), seen.get(row.pk), by) for row in rows]
    return _name_clashes(house, lines, live)


def _pencil(
    house: House, visit: Visit, booking: Booking | None, seen: Chosen | None, by: Person
) -> PencilLine:
    if booking is None:
        words = _("Choose a crew first")
        return _refuse(visit, "", _("It has no crew."), words, f"{_page_of(visit)}#crew")
    crew = booking.crew.name
    if booking.state != Booking.State.ASKED:
        return _refuse(visit, crew, _("It is %(state)s already.") % {"state": booking.get_state_display()})
    planned = bookings.planned_window(visit)
    if planned is None:
        return _refuse(visit, crew, _("The plan has no date for it."))
    if planned[0] < clock.current_half_day(house.builder.time_zone):
        return _refuse(
            visit,
            crew,
            _("Its day, %(day)s, has passed.") % {"day": clock.say_half_day(planned[0])},
            _("Report what was done, or that nothing is new"),
            reverse("planner:progress", args=[house.pk]),
        )
    now = Chosen(visit.pk, booking.pk, *planned)
    if seen is not None and seen != now:
        return _refuse(
            visit,
            crew,
            _("Since you looked it was planned or booked otherwise: now %(dates)s with %(crew)s.")
            % {"dates": clock.say_dates(*planned), "crew": crew},
        )
    try:
        done = bookings.pencil(booking, by=by)
    except (BadInput, WrongState) as refusal:
        return _refuse(visit, crew, refusal.words)
    about, version = f"booking:{done.pk}", str(done.sequence)
    urgent = Message.objects.filter(about=about, version=version, urgent=True).exists()
    return PencilLine(visit, done.crew.name, now, clock.say_dates(*planned), urgent)


def _page_of(visit: Visit) -> str:
    return reverse("planner:visit", args=[visit.house_id, visit.pk])


def _refuse(visit: Visit, crew: str, why: str, remedy: str = "", link: str = "") -> PencilLine:
    remedy, link = remedy or _("Open the visit"), link or _page_of(visit)
    return PencilLine(visit, crew, None, refusal=why, remedy=remedy, remedy_link=link)


def _name_clashes(house: House, lines: Sequence[PencilLine], live: Mapping[int, Booking]) -> list[PencilLine]:
    """The lines, with the first half-day on which a crew would be told too many houses."""
    told = [line.chosen for line in lines if line.chosen is not None]
    if not told:
        return list(lines)
    crews = {live[one.visit].crew_id: live[one.visit].crew for one in told}
    own = Builder.objects.filter(pk=house.builder_id)
    span = min(one.start for one in told), max(one.finish for one in told)
    stays = read_stays(list(crews.values()), own, *span)
    found = []
    for line in lines:
        if line.chosen is None:
            found.append(line)
            continue
        crew = crews[live[line.chosen.visit].crew_id]
        others = [stay for stay in stays.get(crew.pk, ()) if stay.settled]
        over = find_over(others, crew.capacity, line.chosen.start, line.chosen.finish)
        found.append(line if over is None else replace(line, clash=clock.say_half_day(over)))
    return found
