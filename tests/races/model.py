"""A hold point as a small model beside the real one: every act is foretold, done, and compared.

The model knows four checks in two parts, what was last found of each, whose hand was at it, which parts are
released, and nothing of tables. Acts come in any order, repeated, late and by the wrong person; after each
one the model and what is stored must say the same of the hold, and no booking may be firm behind it.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections import Counter
from dataclasses import dataclass
from typing import Any

from django.db import connection, transaction
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.models import Person
from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence import bookings, holds, progress
from coordination.sequence.models import Booking
from coordination.sequence.progress import Report
from hold_points import record
from hold_points.identifiers import new_id
from hold_points.models import Nonconformity, Outcome, Release, Reopening
from hold_points.releasing import concede, reopen
from hold_points.rework import say_put_right
from hold_points.verify_record import verify_export
from hold_points.walking import confirm_not_here
from tests.hold_points.houses import PASSWORD, Site
from tests.races.links import VIOLATIONS

PARTS = {"pipes": ("pipe-off", "pipe-test"), "air seal": ("cap-count", "hot")}
PART_OF = {key: part for part, keys in PARTS.items() for key in keys}
ROOMS = {"bath": PARTS["pipes"], "bed": PARTS["air seal"]}
SAFETY = "hot"
REFUSED = (BadInput, NotAllowed, WrongState)
CHECKS = st.sampled_from(sorted(PART_OF))
COUNTS = {"met": 3, "not met": 2, "put right": 3}
"""What is counted where a check has a number, by what is said of it."""


def done(act: Any, *arguments: Any, **more: Any) -> bool:
    """Whether an act was done; a refusal changes nothing, any other error is one."""
    try:
        with transaction.atomic():
            act(*arguments, **more)
    except REFUSED:
        return False
    return True


@dataclass
class Judged:
    """What the model knows of one check since its room was last opened."""

    last: str = ""
    looked: bool = False
    hand: bool = False
    """The supervisor's own hand was at it, and nobody else has closed it."""
    failed_at: dt.datetime | None = None
    opened_at: dt.datetime | None = None
    trouble: str = ""
    """What is to be put right: '', 'raised' or 'conceded'."""
    conceded: bool = False
    """The concession is younger than the last failure and the last re-opening."""

    @property
    def passes(self) -> bool:
        if self.last in ("met", "put right") and self.hand:
            return False
        if self.last in ("asked", "not here"):
            return self.last == "not here"
        if self.trouble and (self.looked or self.opened_at is None):
            return self.conceded
        return self.last in ("met", "put right")

    def find_good(self, kind: str, at: dt.datetime) -> None:
        """Found good at a moment; one from before a re-opening or a failure changes nothing."""
        early = (self.opened_at is not None and at <= self.opened_at) or (
            self.failed_at is not None and at < self.failed_at
        )
        if not early:
            self.last, self.looked = kind, True
            if not self.hand:
                self.trouble, self.conceded = "", False

    def find_wrong(self, at: dt.datetime) -> None:
        """Found not met: raised however late it comes; it counts if it is younger than the re-opening."""
        if self.opened_at is None or at > self.opened_at:
            self.last, self.looked = "not met", True
            self.failed_at = max(at, self.failed_at or at)
            self.conceded = False
        if self.trouble == "conceded":
            self.conceded = False
        self.trouble = "raised"

    def open_again(self, at: dt.datetime) -> None:
        """The room was disturbed: what was found counts no more, what is to be put right still is."""
        self.last, self.looked, self.hand, self.failed_at, self.conceded = "", False, False, None, False
        self.opened_at = at


class HoldPointMachine(RuleBasedStateMachine):
    """The second hold of the small house; the first is released, its crews are pencilled."""

    site: Site
    clock: Any
    reached: Counter[str]
    """How often something came about, over all runs: a search that reaches nothing finds nothing."""

    def __init__(self) -> None:
        super().__init__()
        self.checks = {key: Judged() for key in PART_OF}
        self.released: set[str] = set()
        self.kept: list[tuple[uuid.UUID, str, str]] = []
        self.signed: list[tuple[uuid.UUID, str]] = []
        self.started_at = dt.datetime.now(dt.UTC)
        self.undo = transaction.atomic()
        self.undo.__enter__()

    def teardown(self) -> None:
        """The whole record fits, the closure is what the network asks for; then everything is undone."""
        try:
            assert verify_export(record.export_record(self.site.house).encode())
            assert holds.recount(self.site.house) == []
        finally:
            transaction.set_rollback(True)
            self.undo.__exit__(None, None, None)
            self.clock.move_to(self.started_at)

    # ------------------------------------------------------------ what is compared after each act

    @invariant()
    def nothing_is_firm_behind_an_open_hold(self) -> None:
        with connection.cursor() as cursor:
            cursor.execute(VIOLATIONS)
            assert cursor.fetchone() == (0,)

    @invariant()
    def the_hold_is_open_as_long_as_a_part_is(self) -> None:
        hold = self.site.hold("H4")
        assert hold.is_open == (self.released != set(PARTS)), (self.released, self.checks)
        if hold.lifted_by is not None:
            assert Release.objects.filter(pk=hold.lifted_by, inspection__point=hold.point_id).exists()

    # ------------------------------------------------------------ acts

    def _judge(
        self, key: str, kind: str, by: Person | None = None, at: dt.datetime | None = None, **more: Any
    ) -> dt.datetime | None:
        """Judge a check; the moment when it was looked at, or None when it was refused, as foretold."""
        self.clock.shift(60)
        found_id, person = new_id(), by or self.site.supervisor
        value = COUNTS.get(kind) if key == "cap-count" else None
        happened = done(
            self.site.find,
            self.site.check(key),
            kind,
            person,
            value=value,
            note="no. 12",
            id=found_id,
            at=at,
            **more,
        )
        own = self.checks[key].hand and kind in ("met", "put right") and person == self.site.supervisor
        foretold = PART_OF[key] not in self.released and (not own or more.get("own_hand", False))
        assert happened == foretold, (key, kind, self.checks[key], self.released)
        if happened and by is None and not more:
            self.kept.append((found_id, key, kind))
        return (at or dt.datetime.now(dt.UTC)) if happened else None

    @rule(key=CHECKS, kind=st.sampled_from(["met", "put right"]))
    def find_good(self, key: str, kind: str) -> None:
        if (at := self._judge(key, kind)) is not None:
            self.checks[key].find_good(kind, at)

    @rule(key=CHECKS)
    def find_not_met(self, key: str) -> None:
        if (at := self._judge(key, "not met")) is not None:
            self.checks[key].find_wrong(at)

    @rule(key=CHECKS)
    def put_right_by_own_hand(self, key: str) -> None:
        at = self._judge(key, "put right", own_hand=True, photo=True)
        if at is not None:
            self.checks[key].hand = True
            self.checks[key].find_good("put right", at)

    @rule(key=CHECKS)
    def a_second_person_finds_it_met(self, key: str) -> None:
        at = self._judge(key, "met", by=self.site.deputy)
        if at is not None:
            self.reached["own hand closed by another"] += self.checks[key].hand
            self.checks[key].hand = False
            self.checks[key].find_good("met", at)

    @rule(part=st.sampled_from(sorted(PARTS)))
    def walk_a_part(self, part: str) -> None:
        """A second person looks at all of it and finds it met: now it may be signed."""
        for key in PARTS[part]:
            self.a_second_person_finds_it_met(key)
        assert part in self.released or all(self.checks[key].passes for key in PARTS[part])

    @rule(part=st.sampled_from(sorted(PARTS)))
    def walk_and_sign_a_part(self, part: str) -> None:
        self.walk_a_part(part)
        self.sign_it(part)

    @rule()
    def walk_sign_and_make_firm(self) -> None:
        """The good day, from whatever stands: everything met, signed, the next crew made firm."""
        for part in PARTS:
            self.walk_a_part(part)
        self.sign_it("")
        self.pencil_the_next()
        self.make_the_next_firm()
        assert self.site.booking("batts").state == "firm"

    @rule(key=CHECKS)
    def see_nothing(self, key: str) -> None:
        if self._judge(key, "not seen") is not None:
            self.checks[key].last = "not seen"

    @rule(key=CHECKS)
    def miss_it_in_this_house(self, key: str) -> None:
        if self._judge(key, "not on this house") is not None:
            one = self.checks[key]
            one.looked = True
            if one.last == "not here":
                one.trouble, one.conceded = "", False
            else:
                one.last = "asked"

    @rule(key=CHECKS)
    def confirm_that_it_is_not_here(self, key: str) -> None:
        self.clock.shift(60)
        one = self.checks[key]
        happened = done(confirm_not_here, self.site.check(key), self.site.planner)
        assert happened == (one.last == "asked" and PART_OF[key] not in self.released), one
        if happened:
            self.reached["not on this house"] += 1
            one.last, one.trouble, one.conceded = "not here", "", False

    @rule(key=CHECKS, kind=st.sampled_from(["met", "not met"]), minutes=st.integers(1, 40))
    def bring_it_late(self, key: str, kind: str, minutes: int) -> None:
        """A tablet without reception, or with a slow clock: looked at some minutes before it arrives."""
        at = dt.datetime.now(dt.UTC) - dt.timedelta(minutes=minutes)
        if self._judge(key, kind, at=at) is not None:
            one, before = self.checks[key], self.checks[key].last
            (one.find_good("met", at) if kind == "met" else one.find_wrong(at))
            self.reached["late and overtaken"] += one.last == before and kind != before

    @rule(data=st.data())
    def send_an_outcome_again(self, data: st.DataObject) -> None:
        if not self.kept:
            return
        found_id, key, kind = data.draw(st.sampled_from(self.kept))
        before = Outcome.objects.count()
        value = COUNTS.get(kind) if key == "cap-count" else None
        self.site.find(self.site.check(key), kind, value=value, note="no. 12", id=found_id)
        other = "met" if kind != "met" else "not met"
        assert not done(self.site.find, self.site.check(key), other, value=1, note="other", id=found_id)
        assert Outcome.objects.count() == before

    @rule(key=CHECKS)
    def concede_it(self, key: str) -> None:
        self.clock.shift(60)
        one = self.checks[key]
        trouble = Nonconformity.objects.filter(check_failed__key=key).exclude(state="closed").first()
        assert (trouble is not None) == bool(one.trouble), one
        if trouble is None:
            return
        happened = done(
            concede,
            trouble,
            by=self.site.planner,
            authority="Toni Vale, assessor",
            reason="small",
            follow_up="look with the camera",
            follow_up_on=dt.date(2026, 9, 1),
            follow_up_owner="Toni Vale",
            password=PASSWORD,
        )
        assert happened == (one.trouble == "raised" and key != SAFETY), one
        if happened:
            self.reached["conceded"] += 1
            one.trouble, one.conceded = "conceded", True

    @rule(key=CHECKS)
    def find_it_wrong_and_concede_it(self, key: str) -> None:
        self.find_not_met(key)
        self.concede_it(key)

    @rule(key=CHECKS)
    def crew_says_put_right(self, key: str) -> None:
        """It stays open until someone has looked at it."""
        for trouble in Nonconformity.objects.filter(check_failed__key=key, state="raised", concession=None):
            if trouble.crew is not None:
                say_put_right(trouble.pk, trouble.crew)

    @rule(section=st.sampled_from(["", *PARTS]))
    def sign_it(self, section: str) -> None:
        self.clock.shift(60)
        keys = PARTS[section] if section else tuple(PART_OF)
        ready = all(self.checks[key].passes for key in keys)
        free = section not in self.released if section else self.released != set(PARTS)
        release_id = new_id()
        happened = done(self.site.sign, "H4", section=section, id=release_id)
        assert happened == (ready and free), (section, self.checks, self.released)
        if happened:
            self.released |= {section} if section else set(PARTS)
            self.reached["part released" if section else "released"] += 1
            self.signed.append((release_id, section))

    @rule(data=st.data())
    def sign_again_under_the_same_id(self, data: st.DataObject) -> None:
        if self.signed:
            release_id, section = data.draw(st.sampled_from(self.signed))
            before = Release.objects.count()
            self.site.sign("H4", section=section, id=release_id)
            assert not done(self.site.sign, "H4", by=self.site.deputy, section=section, id=release_id)
            assert Release.objects.count() == before

    @rule(who=st.sampled_from(["planner", "tradesman"]))
    def sign_without_the_right(self, who: str) -> None:
        assert not done(self.site.sign, "H4", by=getattr(self.site, who))

    @rule(room=st.sampled_from(sorted(ROOMS)))
    def re_open(self, room: str) -> None:
        self.clock.shift(60)
        places = [self.site.place(room).pk]
        firm = Booking.objects.filter(state="firm", visit__activities__key="batts").exists()
        # Other words each time: the same again would be taken for a repeat.
        reason = f"disturbed {new_id()}"
        happened = done(reopen, self.site.point("H4"), places, reason, by=self.site.supervisor)
        judged = bool(self.signed) or any(one.last for one in self.checks.values())
        assert happened == judged, self.checks
        if happened:
            now = dt.datetime.now(dt.UTC)
            self.clock.shift(60)
            self.reached["released one re-opened" if self.released else "re-opened"] += 1
            self.released.clear()
            for key in ROOMS[room]:
                self.checks[key].open_again(now)
            if firm:
                self.reached["taken back to pencilled"] += 1
                assert self.site.booking("batts").state == "pencilled"

    @rule(room=st.sampled_from(sorted(ROOMS)))
    def disturb_a_room_behind_a_firm_booking(self, room: str) -> None:
        """The good day, and then somebody moves a pipe before the next crew has come."""
        self.walk_sign_and_make_firm()
        self.re_open(room)

    @rule()
    def pencil_the_next(self) -> None:
        self.clock.shift(60)
        done(self.site.pencil, "batts")

    @rule()
    def make_the_next_firm(self) -> None:
        before = self.site.booking("batts").state
        happened = done(bookings.make_firm, self.site.booking("batts"), self.site.planner)
        assert happened == (self.released == set(PARTS) and before == "pencilled"), (before, self.released)
        self.reached["firm"] += happened

    @rule(room=st.sampled_from(sorted(ROOMS)))
    def a_room_is_re_opened_while_the_next_are_at_work_by_mistake(self, room: str) -> None:
        """Begun behind an open hold it went past it; it is stopped; taken back, it stands as before."""
        before, held = self.site.booking("batts"), self.released != set(PARTS)
        report = Report("batts", started=clock.current_half_day(self.site.builder.time_zone))
        progress.record_progress(self.site.house, [report], by=self.site.planner)
        now = self.site.booking("batts")
        told = ("under way", True) if held else (before.state, before.went_past_hold)
        assert (now.state, now.went_past_hold) == told
        assert not held or Nonconformity.objects.filter(gone_past__point__key="H4").exclude(state="closed")
        counted = (Message.objects.filter(kind="stop"), Reopening.objects.all())
        stops, opened = (one.count() for one in counted)
        self.re_open(room)
        assert counted[0].count() - stops == counted[1].count() - opened, "one stop for each re-opening"
        self.reached["stopped at work"] += counted[0].count() - stops
        progress.take_back(now.visit.activities.get(), "the wrong house", by=self.site.planner)
        assert self.site.booking("batts").state == before.state.replace("firm", "pencilled")

    @rule()
    def stand_the_next_down_and_ask_again(self) -> None:
        self.clock.shift(60)
        booking = self.site.booking("batts")
        bookings.stand_down(booking, "another day", self.site.planner)
        bookings.ask(booking.visit, booking.crew, self.site.planner)


RULES = [name for name, value in vars(HoldPointMachine).items() if hasattr(value, "hypothesis_stateful_rule")]
