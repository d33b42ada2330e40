"""A hold point as a small model beside the real one: every act is foretold, done, and compared.

The model knows four checks in two parts, what was found of each, which parts are released, and nothing of
tables. Acts come in any order, repeated, late and by the wrong person; after each one the model and what is
stored must say the same of the hold, and no booking may be firm behind it.
"""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.db import connection, transaction
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence import bookings, holds
from coordination.sequence.models import Booking
from hold_points import record
from hold_points.identifiers import new_id
from hold_points.models import Nonconformity, Outcome, Release
from hold_points.releasing import concede, reopen
from hold_points.rework import say_put_right
from hold_points.verify_record import verify_export
from hold_points.walking import confirm_not_here
from tests.hold_points.houses import Site
from tests.races.links import VIOLATIONS

PARTS = {"pipes": ("pipe-off", "pipe-test"), "air seal": ("cap-count", "hot")}
PART_OF = {key: part for part, keys in PARTS.items() for key in keys}
ROOMS = {"bath": PARTS["pipes"], "bed": PARTS["air seal"]}
PASSING = ("met", "conceded")
REFUSED = (BadInput, NotAllowed, WrongState)
CHECKS = st.sampled_from(sorted(PART_OF))


def done(act: Any, *arguments: Any, **more: Any) -> bool:
    """Whether an act was done; a refusal changes nothing, any other error is one."""
    try:
        with transaction.atomic():
            act(*arguments, **more)
    except REFUSED:
        return False
    return True


class HoldPointMachine(RuleBasedStateMachine):
    """The second hold of the small house; the first is released, its crews are pencilled."""

    site: Site
    clock: Any

    def __init__(self) -> None:
        super().__init__()
        self.found = dict.fromkeys(PART_OF, "open")
        self.released: set[str] = set()
        self.judged = False
        self.kept: list[tuple[uuid.UUID, str, str]] = []
        self.signed: list[tuple[uuid.UUID, str]] = []
        self.started_at = dt.datetime.now(dt.UTC)
        self.undo = transaction.atomic()
        self.undo.__enter__()

    def teardown(self) -> None:
        """The whole record fits, the closure is what the network asks for; then everything is undone."""
        try:
            entries = verify_export(record.export_record(self.site.house).encode())
            assert entries
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
        assert hold.is_open == (self.released != set(PARTS)), (self.released, self.found)
        if hold.lifted_by is not None:
            assert Release.objects.filter(pk=hold.lifted_by, inspection__point=hold.point_id).exists()

    # ------------------------------------------------------------ acts

    def _judge(self, key: str, kind: str, **more: Any) -> bool:
        self.clock.shift(60)
        found_id = more.pop("id", new_id())
        value = {"met": 3, "not met": 2, "put right": 3}.get(kind) if key == "cap-count" else None
        check = self.site.check(key)
        happened = done(self.site.find, check, kind, value=value, note="no. 12", id=found_id, **more)
        assert happened == (PART_OF[key] not in self.released), (key, kind)
        if happened:
            self.judged = True
            self.kept.append((found_id, key, kind))
        return happened

    @rule(key=CHECKS)
    def find_met(self, key: str) -> None:
        if self._judge(key, "met"):
            self.found[key] = "met"

    @rule(key=CHECKS)
    def find_not_met(self, key: str) -> None:
        if self._judge(key, "not met"):
            self.found[key] = "not met"

    @rule(key=CHECKS)
    def put_right_at_once(self, key: str) -> None:
        if self._judge(key, "put right"):
            self.found[key] = "met"

    @rule(key=CHECKS)
    def see_nothing(self, key: str) -> None:
        if self._judge(key, "not seen"):
            self.found[key] = "open"

    @rule(key=CHECKS)
    def miss_it_in_this_house(self, key: str) -> None:
        if self._judge(key, "not on this house"):
            self.found[key] = "asked"

    @rule(key=CHECKS)
    def confirm_that_it_is_not_here(self, key: str) -> None:
        self.clock.shift(60)
        if self.found[key] == "asked" and PART_OF[key] not in self.released:
            confirm_not_here(self.site.check(key), self.site.planner)
            self.found[key] = "met"

    @rule(key=CHECKS)
    def judge_late_with_a_slow_clock(self, key: str) -> None:
        """A tablet of an hour ago: what counts is when it arrives."""
        now = dt.datetime.now(dt.UTC)
        if self._judge(key, "met", at=now - dt.timedelta(hours=1)):
            self.found[key] = "met"

    @rule(data=st.data())
    def send_an_outcome_again(self, data: st.DataObject) -> None:
        if not self.kept:
            return
        found_id, key, kind = data.draw(st.sampled_from(self.kept))
        before = Outcome.objects.count()
        value = {"met": 3, "not met": 2, "put right": 3}.get(kind) if key == "cap-count" else None
        self.site.find(self.site.check(key), kind, value=value, note="no. 12", id=found_id)
        other = "met" if kind != "met" else "not met"
        assert not done(self.site.find, self.site.check(key), other, value=1, note="other", id=found_id)
        assert Outcome.objects.count() == before

    @rule(key=CHECKS)
    def concede_it(self, key: str) -> None:
        self.clock.shift(60)
        if self.found[key] != "not met" or PART_OF[key] in self.released:
            return
        trouble = Nonconformity.objects.filter(check_failed__key=key).exclude(state="closed").get()
        happened = done(
            concede,
            trouble,
            by=self.site.planner,
            authority="Toni Vale, assessor",
            reason="small",
            follow_up="look with the camera",
            follow_up_on=dt.date(2026, 9, 1),
            follow_up_owner="Toni Vale",
        )
        assert happened == (key != "hot"), "never for safety"
        if happened:
            self.found[key] = "conceded"

    @rule(key=CHECKS)
    def crew_says_put_right(self, key: str) -> None:
        """It stays open until someone has looked at it."""
        for trouble in Nonconformity.objects.filter(check_failed__key=key, state="raised"):
            if trouble.crew is not None:
                say_put_right(trouble.pk, trouble.crew)

    @rule(section=st.sampled_from(["", *PARTS]))
    def sign_it(self, section: str) -> None:
        self.clock.shift(60)
        keys = PARTS[section] if section else tuple(PART_OF)
        ready = all(self.found[key] in PASSING for key in keys)
        free = section not in self.released if section else self.released != set(PARTS)
        release_id = new_id()
        happened = done(self.site.sign, "H4", section=section, id=release_id)
        assert happened == (ready and free), (section, self.found, self.released)
        if happened:
            self.released |= {section} if section else set(PARTS)
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
        happened = done(reopen, self.site.point("H4"), places, "disturbed", by=self.site.supervisor)
        assert happened == self.judged
        if happened:
            self.clock.shift(60)
            self.released.clear()
            self.found |= dict.fromkeys(ROOMS[room], "open")
            assert not firm or self.site.booking("batts").state == "pencilled"

    @rule()
    def pencil_the_next(self) -> None:
        self.clock.shift(60)
        done(self.site.pencil, "batts")

    @rule()
    def make_the_next_firm(self) -> None:
        happened = done(bookings.make_firm, self.site.booking("batts"), self.site.planner)
        assert not happened or self.released == set(PARTS)

    @rule()
    def stand_the_next_down_and_ask_again(self) -> None:
        self.clock.shift(60)
        booking = self.site.booking("batts")
        bookings.stand_down(booking, "another day", self.site.planner)
        bookings.ask(booking.visit, booking.crew, self.site.planner)


RULES = [name for name, value in vars(HoldPointMachine).items() if hasattr(value, "hypothesis_stateful_rule")]
