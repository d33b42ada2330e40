"""The question that a crew is asked before "at work" or "done" is recorded, and what it is answered."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from coordination import clock
from coordination.sequence.answers import is_before_its_day
from coordination.sequence.holds import open_holds_before
from coordination.sequence.models import Booking
from coordination.sequence.taking_back import whom_to_ring


@dataclass(frozen=True)
class Answer:
    """What the page says after an act; an alarm is shown like an error, though the act was taken."""

    words: str
    alarm: bool = False


@dataclass(frozen=True)
class Question:
    """What a crew is asked before its report is recorded, and why; `stop` names open hold points."""

    title: str
    words: tuple[str, ...]
    stop: str
    yes: str


ASKED_ABOUT = ("begun", "done", "ready")
"""Verbs that are asked about first where something speaks against them."""


def question_before(booking: Booking, verb: str) -> Question | None:
    """The question before a report or a call; None where nothing speaks against it.

    Against 'begun' and 'done' speak a day that has not come and an open hold; against 'ready', that nothing
    of the visit was reported as begun.
    """
    if verb == "ready":
        return _question_before_call(booking)
    stop = stop_words(booking)
    early = is_before_its_day(booking.state, booking.told_start, booking.house.builder.time_zone)
    if not stop and not early:
        return None
    words = []
    if early and booking.told_start is None:
        words.append(_("You have been told no day for this visit yet."))
    elif early:
        words.append(_("You are booked for %(when)s.") % {"when": clock.say_half_day(booking.told_start)})
    if stop:
        words.append(_("If you say yes, it is recorded, and planner and supervisor are told at once."))
    return Question(
        title=_("Really done today?") if verb == "done" else _("Really at work here today?"),
        words=tuple(words),
        stop=stop,
        yes=_("Yes, done today") if verb == "done" else _("Yes, at work here today"),
    )


def _question_before_call(booking: Booking) -> Question | None:
    at_work = (Booking.State.UNDER_WAY, Booking.State.DONE)
    if booking.state in at_work or booking.visit.activities.filter(actual_start__isnull=False).exists():
        return None
    return Question(
        title=_("Really ready for the walk?"),
        words=(
            _("Nothing of this visit is reported as begun: a walk is for what is done."),
            _("If you say yes, %(who)s is told and comes to look.") % {"who": whom_to_ring(booking)},
        ),
        stop=stop_words(booking),
        yes=_("Yes, all of it is done: ready for the walk"),
    )


def stop_words(booking: Booking) -> str:
    """'Hold point Insulation is not released. Stop and ring …'; empty where no hold before it is open."""
    labels = list(open_holds_before(booking.visit).order_by("point__order").values_list("label", flat=True))
    if not labels:
        return ""
    return _("Hold point not released: %(holds)s. Stop and ring %(who)s.") % {
        "holds": ", ".join(labels),
        "who": whom_to_ring(booking),
    }
