"""A fit with the real worker and the real queue, in an embedded run, and with two planners at once."""

import datetime as dt
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import time_machine
from django.db import connection, connections

from coordination.people.refusals import WrongState
from coordination.sequence import fitting, tasks
from coordination.sequence.models import Booking, Fit, FittedHouse, FittedStart
from tests.races.links import VIOLATIONS
from tests.sequence.builders import START
from tests.sequence.fits import computed, shared_houses, starts_of
from tests.waiting import PATIENCE, wait_until

pytestmark = pytest.mark.django_db(transaction=True)


def wait_for(fit: Fit, *states: str) -> Fit:
    def is_there() -> bool:
        fit.refresh_from_db()
        return fit.state in states

    wait_until(f"the fit is {' or '.join(states)}", is_there)
    return fit


@pytest.fixture
def two(transactional_db: None) -> Iterator[Any]:
    """The clock runs from Monday 13 April 2026, 8:00 in Hobart; no told date is near."""
    with time_machine.travel(dt.datetime(2026, 4, 12, 22, tzinfo=dt.UTC), tick=True):
        houses = shared_houses()
        for one in houses:
            one.builder.freeze_days = 0
            one.builder.save()
        yield houses


def test_a_worker_takes_the_fit_from_the_queue_and_says_how_far_it_is(two, celery_worker, monkeypatch):
    fit = fitting.start_fit(two[0].builder, two[0].planner, seconds=10)
    said = set()
    while fit.state in Fit.LIVE:
        said.add(fit.done)
        fit = wait_for(fit, *Fit.State.values)
        time.sleep(0.05)
    assert [done for done in said if 0 < done < 100], said
    assert (fit.state, fit.words, fit.done) == (Fit.State.READY, "", 100)
    assert fit.result["moved"] > 0
    fitting.apply_fit(fit, two[0].planner)
    assert sorted(start for one in two for start in starts_of(one, "frame")) == [START, START + 4]


def test_a_running_fit_is_stopped_by_the_planner(two, celery_worker):
    fit = fitting.start_fit(two[0].builder, two[0].planner, seconds=60)
    wait_for(fit, Fit.State.COMPUTING)
    fitting.ask_to_stop(fit)
    fit = wait_for(fit, Fit.State.STOPPED)
    assert fit.result == {}


def test_a_ring_that_was_lost_is_rung_again(two, celery_worker):
    """A row of a queue that went with its process: the tick's doorbell finds it."""
    fit = Fit.objects.create(
        builder=two[0].builder,
        by=two[0].planner,
        asked_at=two[0].house.created_at,
        heard_at=two[0].house.created_at,
        seconds=0,
    )
    FittedHouse.objects.bulk_create(FittedHouse(fit=fit, house=one.house) for one in two)
    tasks.ring_waiting.delay()
    assert wait_for(fit, Fit.State.READY, Fit.State.FAILED).state == Fit.State.READY


def test_an_embedded_run_computes_a_fit(two, celery_app):
    """Pages, worker and beat in one process, as `manage.py up` has them."""
    from coordination.management.embedded import EmbeddedRun, open_web_server

    run = EmbeddedRun(open_web_server(None))
    run.start_pages()
    run.start_work()
    try:
        fit = fitting.start_fit(two[0].builder, two[0].planner, seconds=10)
        assert wait_for(fit, Fit.State.READY, Fit.State.FAILED).state == Fit.State.READY
    finally:
        assert run.stop() == []


def test_an_embedded_run_stops_in_the_middle_of_a_fit_and_leaves_it_to_the_next(two, celery_app):
    """Stopping waits a while for each part, but not for a search that was asked for an hour."""
    from coordination.management.embedded import EmbeddedRun, open_web_server

    run = EmbeddedRun(open_web_server(None))
    run.start_pages()
    run.start_work()
    fit = fitting.start_fit(two[0].builder, two[0].planner, seconds=60)
    wait_for(fit, Fit.State.COMPUTING)
    assert run.stop() == []
    fit.refresh_from_db()
    assert (fit.state, fit.worker) == (Fit.State.WAITING, "")


# ---------------------------------------------------------------- at once


def at_once(*acts: Callable[[], object]) -> list[object]:
    """Do the acts in threads that begin together; what each gave or refused."""
    gate, given = threading.Barrier(len(acts)), [object()] * len(acts)

    def run(number: int, act: Callable[[], object]) -> None:
        gate.wait(PATIENCE)
        try:
            given[number] = act()
        except WrongState as refusal:
            given[number] = refusal
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=one) for one in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert not any(thread.is_alive() for thread in threads)
    return given


@pytest.fixture
def quiet_queue(monkeypatch):
    """No ring: these tests are about rows."""
    monkeypatch.setattr(tasks.fit_to_crews, "delay", lambda _pk: None)


@pytest.mark.race
def test_of_two_planners_who_press_at_once_one_is_told_of_the_other(two, quiet_queue):
    builder, first, second = two[0].builder, two[0].planner, two[1].planner
    given = at_once(lambda: fitting.start_fit(builder, first), lambda: fitting.start_fit(builder, second))
    assert sorted(type(one).__name__ for one in given) == ["Fit", "WrongState"]
    [fit] = Fit.objects.all()
    [refusal] = [one for one in given if isinstance(one, WrongState)]
    assert str(fit.by) in refusal.words


@pytest.mark.race
def test_twin_without_the_constraint_both_would_start(two, quiet_queue):
    """The rule is the database's: take the unique index away and two are computed at once."""
    [constraint] = [one for one in Fit._meta.constraints if one.name == "one_fit_at_a_time"]
    with connection.schema_editor() as editor:
        editor.remove_constraint(Fit, constraint)
    builder, first, second = two[0].builder, two[0].planner, two[1].planner
    try:
        at_once(lambda: fitting.start_fit(builder, first), lambda: fitting.start_fit(builder, second))
        assert Fit.objects.filter(state__in=Fit.LIVE).count() == 2
    finally:
        FittedHouse.objects.all().delete()
        Fit.objects.all().delete()
        with connection.schema_editor() as editor:
            editor.add_constraint(Fit, constraint)


@pytest.mark.race
def test_of_two_who_apply_at_once_one_does(two, quiet_queue):
    fit = computed(two)
    given = at_once(
        lambda: fitting.apply_fit(Fit.objects.get(pk=fit.pk), two[0].planner),
        lambda: fitting.apply_fit(Fit.objects.get(pk=fit.pk), two[1].planner),
    )
    assert sorted(type(one).__name__ for one in given) == ["Fit", "WrongState"]
    assert FittedStart.objects.count() == len(set(FittedStart.objects.values_list("activity", flat=True)))
    plans = [one.house.plans.count() for one in two]
    assert sorted(plans) == [1, 2]


@pytest.mark.race
def test_a_crew_made_firm_while_a_fit_is_applied_keeps_its_date_or_stops_the_fit(two, quiet_queue):
    """Whoever comes first, no firm booking moves and none stands behind an open hold."""
    from coordination.sequence import bookings

    frames = [Booking.objects.get(visit=one.visits["frame"]) for one in two]
    for frame in frames:
        Booking.objects.filter(pk=frame.pk).update(
            state=Booking.State.PENCILLED, told_start=START, told_finish=START + 4
        )
    fit = computed(two)
    moving = next(row for row in fit.houses.all() if row.result["visits"])
    frame = next(one for one in frames if one.house_id == moving.house_id)
    at_once(
        lambda: fitting.apply_fit(Fit.objects.get(pk=fit.pk), two[0].planner),
        lambda: bookings.make_firm(Booking.objects.get(pk=frame.pk), two[1].planner),
    )
    frame.refresh_from_db()
    fit.refresh_from_db()
    # Applied first: the date told moved, and what became firm is the new one. Firm first: the fit is refused.
    told = START + 4 if fit.state == Fit.State.APPLIED else START
    assert (frame.state, frame.told_start) == (Booking.State.FIRM, told)
    with connection.cursor() as cursor:
        cursor.execute(VIOLATIONS)
        assert cursor.fetchone() == (0,)
