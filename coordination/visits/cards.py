"""What a crew's page shows: one card per visit, gathered in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.contrib.messages.storage.base import Message as Told
from django.db.models import QuerySet
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.models import Crew
from coordination.sequence.answers import is_before_its_day
from coordination.sequence.cautions import cautions_of
from coordination.sequence.inspection import WorkItem, port
from coordination.sequence.misses_told import MissTold, tell_miss
from coordination.sequence.models import Place
from coordination.sequence.queries import CrewVisit, DetailWork, Heed, crew_visits, read_heeds
from coordination.sequence.sketches import draw_sketch
from coordination.sequence.statements import EMPTY, StatedRun
from coordination.sequence.taking_back import latest_reports
from coordination.visits.stating import CHOICES, StatementForm

ANSWERABLE = ("asked", "pencilled", "firm")

NEAR = 30
"""Half-days ahead in which a visit is shown with everything; later ones show date, place and answer."""


@dataclass(frozen=True)
class DetailCard:
    """A detail of the visit with its drawing and what the walk will look for."""

    detail: DetailWork
    places: str
    walk_when: str
    buried_when: str
    drawing: SafeString | None
    miss: MissTold | None
    checks: tuple[WorkItem, ...]


@dataclass(frozen=True)
class VisitCard:
    """One visit as the crew reads it, most urgent first."""

    visit: CrewVisit
    when: str
    until: str
    length: str
    rework: tuple[WorkItem, ...]
    photos: tuple[WorkItem, ...]
    statements: tuple[WorkItem, ...]
    details: tuple[DetailCard, ...]
    walks: tuple[tuple[str, str], ...]
    rooms: tuple[Place, ...]
    reopenable: tuple[tuple[int, str], ...] = ()
    """Points of the house that were judged, whoever's work they judge: a later trade may disturb it."""
    caution: str = ""
    """The usual warning of the visit's trade."""
    heeds: tuple[Heed, ...] = ()
    """What others made, or will make, and this visit covers or could spoil."""
    can_take_back: bool = False
    """Whether what the crew reported last may still be a mistake."""
    form: StatementForm | None = None
    """A statement that was entered and is not kept yet."""
    answer: Told | None = None
    """What the act just done was answered."""

    @property
    def asked_statements(self) -> tuple[tuple[WorkItem, StatementForm | None, tuple[StatedRun, ...]], ...]:
        """Each statement that is wanted, what was entered of it and not kept, and the rows of its form."""
        return tuple(
            (item, form, form.stated.form_rows if form else EMPTY.form_rows)
            for item in self.statements
            for form in (self.form if self.form and self.form.check_id == item.check_id else None,)
        )

    @property
    def choices(self) -> Mapping[str, tuple[tuple[str, object], ...]]:
        """What a statement's form offers."""
        return CHOICES

    @property
    def answer_place(self) -> str:
        """The id of its answer on the page."""
        return f"answer-{self.visit.booking.id}"

    @property
    def asks_first(self) -> bool:
        """Whether a report is unlikely by now: its day has not come, or a hold point before it is open."""
        booking, zone = self.visit.booking, self.visit.builder.time_zone
        return bool(self.visit.held_by) or is_before_its_day(booking.state, booking.told_start, zone)

    @property
    def is_done(self) -> bool:
        """Whether the visit is over and nothing is left to put right."""
        return self.visit.booking.state == "done" and all(item.done for item in self.rework)

    @property
    def can_answer(self) -> bool:
        """Whether the crew may still say yes or no."""
        return self.visit.booking.state in ANSWERABLE

    @property
    def can_report(self) -> bool:
        """Whether the crew may report being at work, or done."""
        return self.visit.booking.state != "done"


@dataclass(frozen=True)
class Cards:
    """A crew's visits: those that matter now, those to come, those that are over (the latest first)."""

    near: tuple[VisitCard, ...]
    later: tuple[VisitCard, ...]
    over: tuple[VisitCard, ...]


@dataclass(frozen=True)
class TopAnswer:
    """An answer about a visit without an open card: over, or no longer the crew's."""

    message: Told
    place: str
    card: VisitCard | None


def cards_for(crew: Crew) -> Cards:
    """All live visits of the crew, of all builders. Work to be put right stands before everything else."""
    visits = crew_visits(crew)
    work = port().work([visit.visit_id for visit in visits]) if visits else {}
    rooms = _places_of(visits)
    judged = port().judged_points({visit.house.pk for visit in visits}) if visits else {}
    cautions = cautions_of([visit.visit_id for visit in visits])
    heeds = read_heeds(visits)
    mistakes = latest_reports({visit.booking.id: visit.house.pk for visit in visits}, crew)
    cards = [
        replace(
            _card(visit, work.get(visit.visit_id, ()), rooms.get(visit.house.pk, ())),
            caution=cautions.get(visit.visit_id, ""),
            reopenable=tuple(judged.get(visit.house.pk, ())),
            heeds=heeds.get(visit.visit_id, ()),
            can_take_back=visit.booking.id in mistakes,
        )
        for visit in visits
    ]
    running = sorted(
        (card for card in cards if not card.is_done), key=lambda card: all(item.done for item in card.rework)
    )
    return Cards(
        near=tuple(card for card in running if _is_near(card)),
        later=tuple(card for card in running if not _is_near(card)),
        over=tuple(reversed([card for card in cards if card.is_done])),
    )


def find_card(cards: Cards, booking: int) -> VisitCard | None:
    """The card of a booking; None where the crew has no such visit."""
    every = (*cards.near, *cards.later, *cards.over)
    return next((card for card in every if card.visit.booking.id == booking), None)


def answer_on(cards: Cards, told: Iterable[Told]) -> tuple[Cards, list[TopAnswer]]:
    """The cards with what their latest act was answered; the rest, for the top of the page."""
    by_visit: dict[str, Told] = {}
    top: list[TopAnswer] = []
    shown = {card.answer_place for card in (*cards.near, *cards.later)}
    over = {card.answer_place: card for card in cards.over}
    for message in told:
        place = message.extra_tags or ""
        if place in shown:
            by_visit[place] = message
        else:
            top.append(TopAnswer(message, place, over.get(place)))

    def answered(rows: tuple[VisitCard, ...]) -> tuple[VisitCard, ...]:
        return tuple(replace(card, answer=by_visit.get(card.answer_place)) for card in rows)

    return replace(cards, near=answered(cards.near), later=answered(cards.later)), top


def _is_near(card: VisitCard) -> bool:
    if any(not item.done for item in card.rework):
        return True
    visit = card.visit
    start = visit.booking.told_start if visit.booking.told_start is not None else visit.start
    return start is not None and start < clock.current_half_day(visit.builder.time_zone) + NEAR


def open_questions(crew: Crew) -> list[Message]:
    """Messages that wait for the crew's acknowledgement, the newest first.

    Of several about one thing only the newest: what it replaced is no longer true.
    """
    waiting = unanswered(crew).select_related("builder").order_by("-created_at", "-pk")
    newest: dict[str, Message] = {}
    for message in waiting:
        newest.setdefault(message.about, message)
    return list(newest.values())


def unanswered(crew: Crew) -> QuerySet[Message]:
    """Messages to the crew that need an answer and have none."""
    return Message.objects.filter(
        crew=crew, needs_answer=True, acknowledged_at__isnull=True, superseded_at__isnull=True
    )


def _places_of(visits: Sequence[CrewVisit]) -> Mapping[int, tuple[Place, ...]]:
    found: dict[int, list[Place]] = {}
    for place in Place.objects.filter(house__in={visit.house.pk for visit in visits}).order_by("order"):
        found.setdefault(place.house_id, []).append(place)
    return {house: tuple(places) for house, places in found.items()}


def _card(visit: CrewVisit, work: Sequence[WorkItem], rooms: tuple[Place, ...]) -> VisitCard:
    booking = visit.booking
    start = booking.told_start if booking.told_start is not None else visit.start
    last = booking.told_last if booking.told_last is not None else (visit.finish or 1) - 1
    details = tuple(_detail_card(detail, work) for detail in visit.details)
    walks = {one.detail.walk: one.walk_when for one in reversed(details) if one.detail.walk}
    return VisitCard(
        visit=visit,
        when=clock.say_half_day(start),
        until=clock.say_half_day(last) if start is not None and last != start else "",
        length=clock.say_length(sum(piece.half_days for piece in visit.work)),
        rework=tuple(item for item in work if item.kind == "rework"),
        photos=tuple(item for item in work if item.kind == "photo"),
        statements=tuple(item for item in work if item.kind == "statement"),
        details=details,
        walks=tuple(sorted(walks.items(), key=lambda one: one[1])),
        rooms=rooms,
    )


def _detail_card(detail: DetailWork, work: Sequence[WorkItem]) -> DetailCard:
    if detail.due_by_end_of is None:
        walk_when = clock.say_half_day(detail.due)
    else:
        walk_when = _("by the end of %(when)s") % {"when": clock.say_half_day(detail.due_by_end_of)}
    return DetailCard(
        detail=detail,
        places=", ".join(place.name for place in detail.places),
        walk_when=walk_when,
        buried_when=clock.say_half_day(detail.buried),
        drawing=draw_sketch(detail.drawing, detail.drawing_numbers),
        miss=tell_miss(detail.miss),
        checks=tuple(item for item in work if item.kind == "check" and item.detail_id == detail.detail_id),
    )
