"""Several people at one house at once: the chain stays whole, a point is released once."""

import threading

import pytest
from django.db import IntegrityError, connection, transaction

from coordination.people.refusals import WrongState
from coordination.sequence.locking import lock_house
from coordination.sequence.models import House
from hold_points import record
from hold_points.models import RecordEntry, Release
from hold_points.record import export_record
from hold_points.verify_record import verify_export
from tests.hold_points.houses import make_site
from tests.waiting import PATIENCE, wait_for_end, wait_until

pytestmark = [pytest.mark.race, pytest.mark.django_db(transaction=True)]
WORKERS, ROUNDS = 4, 8


@pytest.fixture
def open_site(transactional_db, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    return make_site()


def run_together(act):
    """Run `act(number)` in several threads that start together; returns what they raised."""
    start, raised = threading.Barrier(WORKERS), []

    def work(number):
        try:
            start.wait(PATIENCE)
            act(number)
        except Exception as error:  # noqa: BLE001 - handed to the test, which judges it
            raised.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=work, args=(number,)) for number in range(WORKERS)]
    for thread in threads:
        thread.start()
    wait_for_end(threads)
    return raised


def append_rounds(house_id, lock):
    def act(number):
        for turn in range(ROUNDS):
            with transaction.atomic():
                house = lock(house_id)
                record.append(house, "outcome", {"worker": number, "turn": turn})

    return act


def test_entries_of_several_writers_make_one_chain(open_site):
    assert run_together(append_rounds(open_site.house.pk, lock_house)) == []
    assert RecordEntry.objects.count() == WORKERS * ROUNDS
    assert len(verify_export(export_record(open_site.house).encode())) == WORKERS * ROUNDS


def test_without_the_lock_the_same_writers_get_in_each_others_way(open_site, on_sqlite):
    """The first writer stays in its transaction until another, who read the same head, waits for it."""
    written = threading.Event()

    def somebody_waits():
        with connection.cursor() as cursor:
            cursor.execute("SELECT count(*) FROM pg_locks WHERE NOT granted")
            return cursor.fetchone()[0]

    def append(number):
        if number and not on_sqlite:
            assert written.wait(PATIENCE)
        with transaction.atomic():
            house = House.objects.get(pk=open_site.house.pk)
            record.append(house, "outcome", {"worker": number})
            if not number and not on_sqlite:
                written.set()
                wait_until("another writer waits", somebody_waits)

    raised = run_together(append)
    # On SQLite an IMMEDIATE transaction is itself the lock and cannot be left out: all come in turn.
    assert any(isinstance(one, IntegrityError) for one in raised) is not on_sqlite
    # Even then nothing false is kept: the losers are refused by the database.
    assert verify_export(export_record(open_site.house).encode())


def test_a_point_that_several_sign_at_once_is_released_once(open_site):
    open_site.pass_checks("H3")
    raised = run_together(lambda _number: open_site.sign("H3"))
    assert len(raised) == WORKERS - 1
    assert all(isinstance(one, WrongState) for one in raised), raised
    assert Release.objects.count() == 1
    assert open_site.hold("H3").lifted_by == Release.objects.get().pk
