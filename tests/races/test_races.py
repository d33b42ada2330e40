"""Two who act at once: never a firm booking behind an open hold. Each race has a twin without its guard.

The deterministic ones place one transaction inside another; the random ones run under an observer until each
act was done and refused, at least 3 seconds, or as many as `BEFORE_THE_BOARD_RACE_SECONDS` says. Their twins
run until the observer sees it, however slow the machine is, and say how much work that took.
"""

import sqlite3
import sys
import threading
import time

import psycopg
import pytest
from django.db import connection, connections

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.refusals import WrongState
from coordination.sequence import bookings, guard, holds
from coordination.sequence.models import Booking, Hold, ReservedTime
from hold_points.models import Release
from tests.races.links import count_violations, without_lock
from tests.races.runners import ACTS, race
from tests.races.seed import seed
from tests.sequence.builders import record_release
from tests.sequence.conftest import AnsweringPort
from tests.waiting import PATIENCE, wait_for_end, wait_until

pytestmark = pytest.mark.race


def judge_of(vendor):
    return next(piece for piece in guard.read_pieces(vendor) if piece.name == "guard_judge")


def mutate_judge(link, change):
    """Put a changed judge in the place of the real one."""
    sql = (judge_of("postgresql").sql + "\n").replace("{schema}", "public")
    link.run(change(sql))


def run_in_thread(link, statement):
    """Run a statement on another connection; returns the thread and a list that gets its error."""
    errors = []

    def run():
        try:
            link.run(statement)
        except psycopg.Error as error:
            errors.append(error)

    thread = threading.Thread(target=run)
    thread.start()
    return thread, errors


def overlap(first, second, watcher, statements):
    """The first transaction writes and waits; the second starts, and only then the first commits."""
    first.begin()
    first.run(statements[0])
    thread, errors = run_in_thread(second, statements[1])

    def waits_or_is_through():
        # Asked in this order: one that is through no longer waits.
        waits = second.is_waiting(watcher)
        return waits or not thread.is_alive()

    wait_until("the second waits for the first, or is through", waits_or_is_through)
    waited = thread.is_alive()
    first.commit()
    wait_for_end([thread])
    return waited, errors


ORDERS = {"open, then firm": ("open", "firm"), "firm, then open": ("firm", "open")}


@pytest.mark.parametrize("order", ORDERS)
def test_the_lock_puts_overlapping_transactions_in_a_row_on_postgresql(order, postgres_link, postgres_ids):
    first, second, watcher = (postgres_link() for _ in range(3))
    first.run(ACTS["soften"].format(**postgres_ids))
    waited, errors = overlap(
        first, second, watcher, [ACTS[one].format(**postgres_ids) for one in ORDERS[order]]
    )
    assert waited
    assert len(errors) == 1
    assert "guard refuses: a firm booking would stand behind an open hold" in str(errors[0])
    assert count_violations(watcher) == 0


@pytest.mark.parametrize("order", ORDERS)
def test_twin_a_trigger_without_the_lock_lets_both_through(order, postgres_link, postgres_ids):
    first, second, watcher = (postgres_link() for _ in range(3))
    mutate_judge(first, without_lock)
    first.run(ACTS["soften"].format(**postgres_ids))
    waited, errors = overlap(
        first, second, watcher, [ACTS[one].format(**postgres_ids) for one in ORDERS[order]]
    )
    assert (waited, errors) == (False, [])
    assert count_violations(watcher) == 1
    assert guard.missing_triggers(connection) == ["function guard_judge is not as its file says"]


@pytest.mark.parametrize("level", ["REPEATABLE READ", "SERIALIZABLE"])
@pytest.mark.parametrize("guarded", [True, False])
def test_a_fixed_snapshot_is_refused_for_the_lock_does_not_help_it(
    level, guarded, postgres_link, postgres_ids
):
    """Its twin: with the lock but without this refusal, a stale snapshot firms behind the open hold."""
    stale, other = postgres_link(), postgres_link()
    if not guarded:
        mutate_judge(other, lambda sql: sql.replace("<> 'read committed'", "= 'never'"))
    other.run(ACTS["soften"].format(**postgres_ids))
    stale.run(f"BEGIN ISOLATION LEVEL {level}")
    stale.run("SELECT count(*) FROM sequence_hold")
    other.run(ACTS["open"].format(**postgres_ids))
    if guarded:
        with pytest.raises(psycopg.errors.CheckViolation, match="read committed"):
            stale.run(ACTS["firm"].format(**postgres_ids))
        stale.undo()
    else:
        stale.run(ACTS["firm"].format(**postgres_ids))
        stale.commit()
    assert count_violations(other) == (0 if guarded else 1)


@pytest.mark.parametrize("guarded", [True, False])
def test_looking_first_is_not_enough_on_sqlite(guarded, sqlite_link, sqlite_ids):
    """A client reads 'lifted', another opens the hold, the first writes 'firm'. The twin has no triggers."""
    careful, other = sqlite_link(), sqlite_link()
    if not guarded:
        drop_triggers(other)
    other.run(ACTS["soften"].format(**sqlite_ids))
    [(lifted,)] = careful.run(
        "SELECT lifted_at IS NOT NULL FROM sequence_hold WHERE id = {a_hold}".format(**sqlite_ids)
    )
    assert lifted
    other.run(ACTS["open"].format(**sqlite_ids))
    if guarded:
        with pytest.raises(sqlite3.IntegrityError, match="guard refuses"):
            careful.run(ACTS["firm"].format(**sqlite_ids))
    else:
        careful.run(ACTS["firm"].format(**sqlite_ids))
    assert count_violations(other) == (0 if guarded else 1)


def drop_triggers(link):
    for (name,) in link.run("SELECT name FROM sqlite_master WHERE type = 'trigger'"):
        link.run(f"DROP TRIGGER {name}")


def judge_tally(tally):
    assert tally.problems == []
    assert tally.violations == 0
    assert tally.saw_everything, tally


def judge_twin(tally, begun):
    """The observer saw it, and said in how many seconds of this machine's work."""
    sys.stdout.write(f"seen after {time.process_time() - begun:.2f} s of work, {tally.transactions} acts\n")
    assert tally.violations == 1


def test_random_clients_never_break_the_rule_on_postgresql(postgres_link, postgres_ids):
    judge_tally(race(postgres_link, postgres_ids))


def test_twin_random_clients_break_it_when_the_lock_is_gone(postgres_link, postgres_ids):
    mutate_judge(postgres_link(), without_lock)
    begun = time.process_time()
    judge_twin(race(postgres_link, postgres_ids, stop_at_violation=True), begun)


def test_random_clients_never_break_the_rule_on_sqlite(sqlite_link, sqlite_ids):
    judge_tally(race(sqlite_link, sqlite_ids))


def test_twin_random_clients_break_it_when_the_triggers_are_gone(sqlite_link, sqlite_ids):
    drop_triggers(sqlite_link())
    begun = time.process_time()
    judge_twin(race(sqlite_link, sqlite_ids, stop_at_violation=True), begun)


# ---------------------------------------------------------------- through the services


def at_once(*acts):
    """Run acts in threads that start together, each on its own connection; returns their refusals."""
    together, refusals = threading.Barrier(len(acts)), []

    def run(act):
        try:
            together.wait(PATIENCE)
            act()
        except WrongState as refusal:
            refusals.append(refusal)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(act,)) for act in acts]
    for thread in threads:
        thread.start()
    wait_for_end(threads)
    return refusals


@pytest.mark.django_db(transaction=True)
def test_re_opening_and_making_firm_at_once_end_with_an_open_hold_and_one_message(monkeypatch):
    monkeypatch.setattr("coordination.sequence.bookings.port", AnsweringPort)
    ids = seed()
    hold, booking = Hold.objects.get(pk=ids["a_hold"]), Booking.objects.get(pk=ids["a_linings"])
    holds.close_again(hold, reason="to begin with")
    # Far ahead of today, whatever today is: a told date that has passed would be refused for that.
    Booking.objects.filter(pk=booking.pk).update(told_start=100_000, told_finish=100_004)

    for round_number in range(4):
        release = Release.objects.get(pk=ids["release"])
        holds.lift(hold, record_release(release.inspection, release.by))
        before = Message.objects.filter(crew=booking.crew).count()
        refusals = at_once(
            lambda: holds.close_again(hold, reason="cable added"), lambda: bookings.make_firm(booking)
        )
        booking.refresh_from_db()
        hold.refresh_from_db()
        assert hold.is_open, f"round {round_number}"
        assert booking.state == Booking.State.PENCILLED
        # Firm first: told firm, then fallen back (the unsent one taken back). Open first: firm was refused.
        assert Message.objects.filter(crew=booking.crew).count() - before == (0 if refusals else 2)
        live = Message.objects.filter(crew=booking.crew, superseded_at__isnull=True, sent_at__isnull=True)
        assert live.count() <= 1


@pytest.mark.django_db(transaction=True)
def test_of_two_who_make_firm_at_once_one_does_nothing(monkeypatch):
    monkeypatch.setattr("coordination.sequence.bookings.port", AnsweringPort)
    ids = seed()
    Booking.objects.filter(pk=ids["a_linings"]).update(
        state="pencilled", told_start=100_000, told_finish=100_004
    )
    booking = Booking.objects.get(pk=ids["a_linings"])
    refusals = at_once(lambda: bookings.make_firm(booking), lambda: bookings.make_firm(booking))
    assert len(refusals) == 1
    booking.refresh_from_db()
    assert (booking.state, booking.sequence) == (Booking.State.FIRM, 1)
    assert Message.objects.filter(crew=booking.crew).count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_houses_that_draw_on_the_last_unit_at_once_do_not_overdraw():
    ids = seed()
    first, second = (Booking.objects.get(pk=ids[name]) for name in ("a_linings", "b_linings"))
    Booking.objects.filter(pk=second.pk).update(state="stood down")
    told = {"told_start": second.told_start, "told_finish": second.told_finish}
    second = bookings.ask(second.visit, first.crew)
    Booking.objects.filter(pk=second.pk).update(state="pencilled", **told)
    second.refresh_from_db()
    reserved = ReservedTime.objects.create(
        builder=first.house.builder, crew=first.crew, first=0, end=100_000, units=1, agreed_at=clock.now()
    )
    refusals = at_once(
        lambda: bookings.draw_reserved_time(first, reserved),
        lambda: bookings.draw_reserved_time(second, reserved),
    )
    assert len(refusals) == 1
    assert Booking.objects.filter(reserved_time=reserved).count() == 1
