"""The sheets of a pack as plain values, and how a pack speaks to its reader."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from coordination import clock
from coordination.sequence.models import House
from hold_points.readiness import State

SENTENCE = gettext_lazy(
    "Records that the builder's own checks were made. It is no certificate and replaces no statutory "
    "inspection."
)
LOCAL = gettext_lazy(
    "Limits are defaults. The approved plan, the local code, the maker and your certifier prevail."
)


class Reader(StrEnum):
    """Whom a pack is for."""

    BUILDER = "builder"
    OWNER = "owner"


@dataclass(frozen=True)
class Photograph:
    """A photograph as the pack shows it: its clean copy, never the original with what a camera writes."""

    evidence: int
    sha256: str
    words: str
    ready: bool
    shown: str = ""


@dataclass(frozen=True)
class Judged:
    """What was found for a check in one place. `before`: what had been found there first."""

    place: str
    state: State
    found: str
    judged: str
    note: str = ""
    before: tuple[str, ...] = ()

    @property
    def passes(self) -> bool:
        """Whether it counts as done; anything else is printed bold."""
        return self.state in (State.MET, State.PUT_RIGHT, State.NOT_HERE)


@dataclass(frozen=True)
class CheckSheet:
    """A check with its limit and everything that was found for it."""

    key: str
    text: str
    kind: str
    limit: str
    why: str
    source: str
    applies: str
    sure: str
    safety: bool
    rows: tuple[Judged, ...]
    not_drawn: int
    stated: tuple[str, ...] = ()
    """What the trade stated for it, a line for who and when, then one for each run."""


@dataclass(frozen=True)
class DetailSheet:
    """One concealed detail; or, without a key, what a point asks of the house itself."""

    key: str
    name: str
    places: tuple[str, ...]
    points: tuple[str, ...]
    buried_by: tuple[str, ...]
    drawing: str
    numbers: Mapping[str, Any]
    checks: tuple[CheckSheet, ...]
    photographs: tuple[Photograph, ...]


@dataclass(frozen=True)
class PointSheet:
    """One point: whether it was released, by whom, when; what re-opened it. `struck`: no longer counts."""

    name: str
    kind: str
    state: str
    signed: tuple[str, ...]
    struck: tuple[str, ...]
    reopened: tuple[str, ...]
    plain: bool
    """Whether nothing about it went another way than planned."""


@dataclass(frozen=True)
class Conceded:
    """A release in spite of something not met: on whose authority, why, and what is to follow."""

    check: str
    place: str
    authority: str
    reason: str
    follow_up: str
    on: str


@dataclass(frozen=True)
class Pack:
    """Everything that a pack prints; `head` and `entries` are those of the record at this moment."""

    house: House
    reader: Reader
    printed_on: str
    sequence: str
    published_on: str
    entries: int
    head: str
    seal: str
    seal_words: str
    details: tuple[DetailSheet, ...]
    points: tuple[PointSheet, ...]
    concessions: tuple[Conceded, ...]
    went_past: tuple[str, ...]
    set_aside: tuple[str, ...]
    sentence: str = field(default_factory=lambda: str(SENTENCE))
    local: str = field(default_factory=lambda: str(LOCAL))

    @property
    def title(self) -> str:
        """What stands on its first sheet."""
        if self.reader is Reader.OWNER:
            return _("What is in the walls")
        return _("Pack of the house")

    @property
    def photographs(self) -> int:
        """How many photographs it shows."""
        return len({one.evidence for sheet in self.details for one in sheet.photographs})

    @property
    def coming(self) -> int:
        """How many photographs are on the record and have no copy yet that could be shown."""
        return len({one.evidence for sheet in self.details for one in sheet.photographs if not one.ready})


class Words:
    """How a pack speaks of moments and people to its reader."""

    def __init__(self, reader: Reader, zone: str) -> None:
        self.reader, self.zone = reader, zone

    def on(self, moment: dt.datetime) -> str:
        """'Tue 14 Apr 2026': a sheet of paper outlives its year."""
        return self.day(moment.astimezone(clock.zone(self.zone)).date())

    def day(self, day: dt.date) -> str:
        """The same of a date."""
        return date_format(day, _("D j M Y"))

    def by(self, name: str, role: str, moment: dt.datetime) -> str:
        """Who did something, and when; for the owner what the person is stands for the name."""
        if self.reader is Reader.OWNER:
            return _("%(role)s, %(on)s") % {"role": role, "on": self.on(moment)}
        return _("%(name)s (%(role)s), %(on)s") % {"name": name, "role": role, "on": self.on(moment)}

    def remark(self, words: str) -> str:
        """Free text may name anybody: the owner's pack has none."""
        return words if self.reader is Reader.BUILDER else ""
