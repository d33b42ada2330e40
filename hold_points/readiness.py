"""Pure: the state of each check of a point, and what is missing before its release, in words.

No database, no clock. A check is judged by its outcomes after the latest re-opening of its place; older ones
stay on the record but count no more, and nothing there is left to the sample. The same goes for what a tablet
brings late. Looked at before the re-opening, or found good before somebody else found it not met, it is kept
and shown as overtaken, and is looked at again. Nothing that nobody saw is ever met.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from hold_points.point_facts import (
    CheckFacts,
    NonconformityFacts,
    OutcomeFacts,
    PointFacts,
    count_photographs,
    reopened_at,
)

FOUND_GOOD = ("met", "put right", "not on this house")
"""Kinds of outcomes with which a check may pass."""


class State(StrEnum):
    """State of one check. `PASSING` are those with which a point may be released."""

    OPEN = "open"
    MET = "met"
    PUT_RIGHT = "put right"
    NOT_HERE = "not on this house"
    NOT_HERE_ASKED = "not on this house, to be confirmed"
    NOT_SEEN = "not seen"
    NOT_MET = "not met"
    SECOND_PERSON = "own hand, second person needed"
    NO_EVIDENCE = "evidence missing"
    CONCESSION = "under concession"
    NOT_DRAWN = "not in the sample"


PASSING = frozenset({State.MET, State.PUT_RIGHT, State.NOT_HERE, State.CONCESSION, State.NOT_DRAWN})


@dataclass(frozen=True)
class CheckState:
    """A check with its state. `latest` is the outcome that counts; `first_time`: met at once.

    `overtaken`: an outcome that came in last and does not count, because it was looked at too early.
    """

    check: CheckFacts
    state: State
    latest: OutcomeFacts | None = None
    nonconformity: NonconformityFacts | None = None
    photos: int = 0
    first_time: bool | None = None
    hands: frozenset[int] = frozenset()
    """People whose own hand put it right and who may not close it."""
    overtaken: OutcomeFacts | None = None

    @property
    def passes(self) -> bool:
        """Whether the point may be released as far as this check goes."""
        return self.state in PASSING


@dataclass(frozen=True)
class Gap:
    """One line of what is missing, and who has to act: a crew's name, 'supervisor', 'planner'."""

    words: str
    section: str
    waits_for: str
    since: dt.datetime | None = None


@dataclass(frozen=True)
class Readiness:
    """The states of a point's checks."""

    states: tuple[CheckState, ...]

    def of_section(self, section: str) -> Readiness:
        """The part that one section covers; an empty name is the whole."""
        if not section:
            return self
        return Readiness(tuple(one for one in self.states if one.check.section == section))

    @property
    def ready(self) -> bool:
        """Whether nothing is missing. A point without a single check is not ready: nothing was looked at."""
        return bool(self.states) and all(one.passes for one in self.states)

    @property
    def asked(self) -> int:
        """How many checks are asked for."""
        return sum(one.state is not State.NOT_DRAWN for one in self.states)

    @property
    def left(self) -> int:
        """How many checks still keep it closed."""
        return sum(not one.passes for one in self.states)

    @property
    def to_put_right(self) -> int:
        """How many checks are not met and under no concession."""
        return sum(one.state is State.NOT_MET for one in self.states)

    @property
    def missing(self) -> tuple[Gap, ...]:
        """What is missing, grouped: open checks by subject, everything else one by one.

        Safety stands first, then what costs most when it is left; else in the order of the walk.
        """
        if not self.states:
            return (Gap(_("no check is set out for this point"), "", "planner"),)
        return tuple(gap for _rank, gap in sorted(_gaps(self.states), key=lambda ranked: ranked[0]))


def judge(facts: PointFacts) -> Readiness:
    """The state of every check of a point."""
    failed_keys = {
        check.key
        for check in facts.checks
        if check.drawn and any(one.kind == "not met" for one in _count(check, facts)[0])
    }
    return Readiness(tuple(_judge_check(check, facts, failed_keys) for check in facts.checks))


def _count(
    check: CheckFacts, facts: PointFacts
) -> tuple[list[OutcomeFacts], OutcomeFacts | None, frozenset[int]]:
    """Outcomes that count, one that came in after them but was looked at too early, and the own hands."""
    since = reopened_at(check, facts.reopenings)
    counting: list[OutcomeFacts] = []
    standing: list[OutcomeFacts] = []
    overtaken: OutcomeFacts | None = None
    failed_at: dt.datetime | None = None
    for one in facts.outcomes.get(check.id, ()):
        if since is not None and one.at <= since:
            overtaken = one if one.arrived > since else overtaken
            continue
        late = failed_at is not None and one.kind in FOUND_GOOD and one.at < failed_at
        if one.own_hand or not late:
            # Whose hand it was stays known; but nobody is cleared by what does not count.
            standing.append(one)
        if late:
            overtaken = one
            continue
        if one.kind == "not met":
            failed_at = one.at if failed_at is None else max(failed_at, one.at)
        counting.append(one)
        overtaken = None
    return counting, overtaken, own_hands(standing)


def _judge_check(check: CheckFacts, facts: PointFacts, failed_keys: set[str]) -> CheckState:
    since = reopened_at(check, facts.reopenings)
    outcomes, overtaken, hands = _count(check, facts)
    photos = count_photographs(check, facts, outcomes, since)
    stated = any(since is None or at > since for at in facts.statements.get(check.id, ()))
    trouble = facts.nonconformities.get(check.id)
    latest = outcomes[-1] if outcomes else None
    first = None if latest is None else outcomes[0].kind in ("met", "not on this house")
    state = _state(check, outcomes, photos, stated, trouble, since, failed_keys, hands)
    return CheckState(check, state, latest, trouble, photos, first, hands, overtaken)


def _state(
    check: CheckFacts,
    outcomes: Sequence[OutcomeFacts],
    photos: int,
    stated: bool,
    trouble: NonconformityFacts | None,
    since: dt.datetime | None,
    failed_keys: set[str],
    hands: frozenset[int],
) -> State:
    latest = outcomes[-1] if outcomes else None
    if latest is not None and latest.kind in ("met", "put right") and hands:
        return State.SECOND_PERSON
    if latest is not None and latest.kind == "not on this house":
        return State.NOT_HERE if _agreed_not_here(check, outcomes) else State.NOT_HERE_ASKED
    # A concession of what was there before a re-opening needs eyes on it since; 'not seen' is none.
    if trouble is not None and (since is None or any(one.kind != "not seen" for one in outcomes)):
        last_failure = max((one.at for one in outcomes if one.kind == "not met"), default=since)
        conceded = trouble.conceded_at is not None and (
            last_failure is None or trouble.conceded_at >= last_failure
        )
        # No concession sets a safety check aside, whatever the row says.
        return State.CONCESSION if conceded and not check.safety else State.NOT_MET
    if latest is None:
        if check.by_photograph and photos:
            return State.MET
        # A sample speaks of the work as it was drawn from; what was disturbed since is looked at itself.
        if not check.drawn and check.key not in failed_keys and since is None:
            return State.NOT_DRAWN
        return State.OPEN
    if latest.kind == "not met":
        return State.NOT_MET
    if latest.kind == "not seen":
        return State.NOT_SEEN
    hand_used = any(one.own_hand for one in outcomes)
    # What somebody's own hand did is shown; but not when it was found wrong since and is put right by others.
    if not _evidence_is_there(check, latest, photos, stated) or (_is_own_work(outcomes) and not photos):
        return State.NO_EVIDENCE
    return State.PUT_RIGHT if latest.kind == "put right" or hand_used else State.MET


def _is_own_work(outcomes: Sequence[OutcomeFacts]) -> bool:
    """Whether what is there now was put right by somebody's own hand, since it was last found wrong."""
    for one in reversed(outcomes):
        if one.own_hand or one.kind == "not met":
            return one.own_hand
    return False


def own_hands(outcomes: Iterable[OutcomeFacts]) -> frozenset[int]:
    """People whose own hand put it right since someone else last judged it: none of them may close it."""
    hands: set[int] = set()
    for one in outcomes:
        if one.own_hand:
            hands.add(one.by)
        elif one.kind in ("met", "put right") and one.by not in hands:
            hands.clear()
    return frozenset(hands)


def _agreed_not_here(check: CheckFacts, outcomes: Sequence[OutcomeFacts]) -> bool:
    """Without a place in the set-out it agrees; else two people have to say so, one of them as planner."""
    if not check.placed:
        return True
    said: list[OutcomeFacts] = []
    for one in reversed(outcomes):
        if one.kind != "not on this house":
            break
        said.append(one)
    return any(one.role == "planner" for one in said) and len({one.by for one in said}) > 1


def _evidence_is_there(check: CheckFacts, latest: OutcomeFacts, photos: int, stated: bool) -> bool:
    if check.needs == "none" or photos or (check.needs == "statement" and stated):
        return True
    return check.needs == "document" and len(latest.note.strip()) >= 3


def _rank(one: CheckState) -> tuple[bool, float]:
    return (not one.check.safety, -one.check.cost)


def _gaps(states: Iterable[CheckState]) -> Iterable[tuple[tuple[bool, float], Gap]]:
    groups: dict[tuple[str, str], list[CheckState]] = {}
    for one in states:
        subject = (one.check.subject or one.check.text).rstrip(".")
        groups.setdefault((one.check.section, subject), []).append(one)
    for (section, subject), members in groups.items():
        asked = [one for one in members if one.state is not State.NOT_DRAWN]
        still = [one for one in asked if one.state is State.OPEN and one.overtaken is None]
        if still:
            done = sum(one.state is not State.OPEN for one in asked)
            if len(asked) == 1 and not done:
                words = _("%(subject)s: not checked yet") % {"subject": _where(still[0], subject)}
            else:
                words = _("%(subject)s: %(done)d of %(all)d checked") % {
                    "subject": subject,
                    "done": done,
                    "all": len(asked),
                }
            waits = _("crew's photograph") if still[0].check.by_photograph else "supervisor"
            yield min(_rank(one) for one in still), Gap(words, section, waits)
        for one in asked:
            if not one.passes and (one.state is not State.OPEN or one.overtaken is not None):
                words, waits = _say_trouble(one)
                yield _rank(one), Gap(words, section, waits, one.latest.at if one.latest else None)


def _where(one: CheckState, words: str) -> str:
    # A full stop in the middle of a line stops the eye.
    words = words.rstrip(".")
    return f"{one.check.place_name}: {words}" if one.check.place_name else words


def _say_trouble(one: CheckState) -> tuple[str, str]:
    what = {"what": _where(one, one.check.text)}
    if one.state is State.OPEN:
        return _("%(what)s: looked at before it was re-opened; look again") % what, "supervisor"
    if one.state is State.NOT_MET:
        return _say_not_met(one, what["what"])
    if one.state is State.NOT_SEEN:
        return _("%(what)s: not seen; look again or show it otherwise") % what, "supervisor"
    if one.state is State.NOT_HERE_ASKED:
        return _("%(what)s: 'not on this house' against the set-out; the planner confirms") % what, "planner"
    if one.state is State.SECOND_PERSON:
        return (
            _("%(what)s: put right by own hand; a second person closes it from the photograph") % what,
            "second person",
        )
    needed = {
        "document": _("%(what)s: the document's photograph or number is missing"),
        "statement": _("%(what)s: nothing is stated yet, and no photograph of a paper statement is there"),
        "photo with tape": _("%(what)s: the photograph with the tape in it is missing"),
    }.get(one.check.needs, _("%(what)s: the photograph is missing"))
    return needed % what, "supervisor"


def _say_not_met(one: CheckState, what: str) -> tuple[str, str]:
    trouble = one.nonconformity
    words = _("%(what)s: not met") % {"what": what}
    if trouble is None:
        return words, "supervisor"
    if trouble.with_whom:
        words += _("; with %(crew)s") % {"crew": trouble.with_whom}
    if one.overtaken is not None:
        return words + _("; found good before that, which came in late; look again"), "supervisor"
    if trouble.said_done:
        return words + _("; said to be put right, to be looked at again"), "supervisor"
    if trouble.until:
        words += _(", put right until %(until)s") % {"until": trouble.until}
    return words, trouble.with_whom or "supervisor"


def say_left(left: int) -> str:
    """'1 left', '4 left'."""
    return ngettext("%(count)d left", "%(count)d left", left) % {"count": left}
