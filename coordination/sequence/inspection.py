"""The port: what coordination asks of the package that judges hold points, and the default that refuses.

One settings string, ``COORDINATION_INSPECTION_PORT``, names the class that answers. Every method takes bulk
arguments and runs inside the caller's transaction. Nothing that is asked here is stored on this side.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, BinaryIO, Protocol

from django.conf import settings
from django.utils.module_loading import import_string
from django.utils.translation import gettext as _

from coordination.people.refusals import WrongState
from coordination.sequence.statements import Stated, StatementShown

if TYPE_CHECKING:
    from coordination.people.models import Crew, Person
    from coordination.sequence.models import Detail, House, Place
    from coordination.sequence.standard import ResolvedSequence


@dataclass(frozen=True)
class Missing:
    """One thing that keeps a hold closed: 'void caps: 0 of 3 checked'."""

    words: str
    section: str = ""
    waits_for: str = ""
    """Who has to act: a crew, 'supervisor', or empty."""
    since: dt.datetime | None = None


@dataclass(frozen=True)
class HoldState:
    """State of one hold in words for lists and the programme."""

    hold_id: int
    missing: tuple[Missing, ...]
    checks_open: int
    checks_total: int
    put_right_open: int
    walk_called_at: dt.datetime | None = None
    reopened_at: dt.datetime | None = None
    reopened_places: tuple[str, ...] = ()
    released_by: str = ""
    """Initials of the signer of the latest whole release, also when it was re-opened since."""
    released_at: dt.datetime | None = None
    concessions: int = 0
    """Checks of it that are not met and may stay so, each with its follow-up."""
    page: str = ""


@dataclass(frozen=True)
class WorkItem:
    """What a crew has to do or show at one visit, beyond its activities' names."""

    kind: str
    """'check' (what the walk looks for), 'photo' or 'statement' (one is wanted), or 'rework'."""
    words: str
    place: str = ""
    limit: str = ""
    applies: str = ""
    """Where the limit applies; the local figure prevails everywhere."""
    caution: str = ""
    put_right_until: int | None = None
    nonconformity_id: int | None = None
    point_id: int | None = None
    detail_id: int | None = None
    place_id: int | None = None
    done: bool = False
    photo_ids: tuple[int, ...] = ()
    """Photographs that show it; `show_photo` gives them to the crew."""
    photos_coming: int = 0
    """Photographs that are on the record and of which there is no copy to show yet."""
    drawing: str = ""
    drawing_numbers: Mapping[str, float] = field(default_factory=dict)
    check_id: int | None = None
    """The check for which the crew's own statement is wanted."""
    statements: tuple[StatementShown, ...] = ()
    closed: bool = False
    """Whether its part is released, so that nothing more is stated for it."""


class InspectionPort(Protocol):
    """Answers only hold_points has."""

    def on_set_out(self, house: House, resolved: ResolvedSequence) -> None:
        """Make the inspections and checks of a house that was just set out."""
        ...

    def on_change(self, house: House, resolved: ResolvedSequence) -> Sequence[str]:
        """Bring checks in line with changed features; returns in words what re-opened."""
        ...

    def missing(self, hold_ids: Iterable[int]) -> Mapping[int, HoldState]:
        """State of each hold and what keeps it closed, one entry per id asked."""
        ...

    def work(self, visit_ids: Iterable[int]) -> Mapping[int, Sequence[WorkItem]]:
        """What the crews of these visits have to do and show, one entry per id asked."""
        ...

    def accept_photo(
        self,
        *,
        house: House,
        crew: Crew,
        file: BinaryIO,
        point_id: int | None = None,
        nonconformity_id: int | None = None,
        detail: Detail | None = None,
        place: Place | None = None,
        words: str = "",
    ) -> str:
        """Keep a crew's photograph as evidence; returns its SHA-256. Bad files raise BadInput."""
        ...

    def show_photo(self, *, photo_id: int, crew: Crew) -> bytes:
        """JPEG of a photograph of what the crew has to put right, or of its own; others raise NotAllowed."""
        ...

    def say_put_right(self, *, nonconformity_id: int, crew: Crew) -> None:
        """A crew says that something is put right. Another crew's raises NotAllowed."""
        ...

    def state_runs(self, *, check_id: int, crew: Crew, stated: Stated) -> None:
        """Keep what a crew states of its own work. Another crew's raises NotAllowed."""
        ...

    def call_ready(self, *, visit_id: int, crew: Crew, note: str = "") -> Sequence[str]:
        """A crew calls its points ready for the walk; returns the labels of the points called."""
        ...

    def take_back_call(self, *, visit_id: int, crew: Crew) -> Sequence[str]:
        """A crew is not ready after all; returns the labels of the points that are called no more."""
        ...

    def judged_points(self, house_ids: Iterable[int]) -> Mapping[int, Sequence[tuple[int, str]]]:
        """By house, points (id, name) that can be re-opened; what was judged last first."""
        ...

    def reopen_by_crew(self, *, point_id: int, crew: Crew, place_ids: Iterable[int], reason: str) -> None:
        """A crew says that it disturbed work behind a released point: re-opens without blame."""
        ...

    def reopen_by_person(
        self, *, point_id: int, person: Person, place_ids: Iterable[int], reason: str
    ) -> None:
        """A person with the role re-opens a released point for the named places."""
        ...

    def record_act(self, house: House, kind: str, facts: Mapping[str, object]) -> None:
        """Put an act of this side ('set aside', 'went past') on the house's record; the house is locked."""
        ...


class RefusingPort:
    """Without the other package nothing behind a hold can be firm: every question is refused."""

    def __getattr__(self, name: str) -> object:
        raise WrongState(
            _(
                "No package answers for hold points, so nothing behind one can be firm. "
                "Set COORDINATION_INSPECTION_PORT."
            )
        )


@cache
def _port_named(path: str) -> InspectionPort:
    port: InspectionPort = import_string(path)()
    return port


def port() -> InspectionPort:
    """The port that the settings name; the refusing one when they name none."""
    path = getattr(settings, "COORDINATION_INSPECTION_PORT", "") or f"{__name__}.RefusingPort"
    return _port_named(path)
