"""The parts of an embedded run, started inside the test's process."""

import signal
import threading

import pytest
from celery.worker import state as worker_state
from django.core.management import CommandError

from coordination.management.embedded import EmbeddedRun, StopWish, open_web_server
from tests.waiting import free_port


@pytest.fixture
def web():
    server = open_web_server(free_port())
    yield server
    server.server_close()


def test_a_part_that_ends_by_itself_is_named_and_the_others_stop(web, celery_app, transactional_db):
    run = EmbeddedRun(web)
    run.start_pages()
    run.start_work()
    web.shutdown()
    assert run.watch() == "web server"
    assert run.stop() == []
    # Celery's flag is the process's: left standing, it would stop every later worker at its start.
    assert worker_state.should_stop is None


def test_without_a_wish_the_first_free_port_is_taken(web):
    server = open_web_server(None)
    try:
        assert server.address.startswith("http://127.0.0.1:80")
        assert server.server_port != web.server_port
    finally:
        server.server_close()


@pytest.mark.parametrize("port", [0, -1, 65536])
def test_a_number_that_is_no_port_is_refused(port):
    with pytest.raises(CommandError, match=f"{port} is no port"):
        open_web_server(port)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_passed_on_twice_is_one_wish_and_a_later_one_does_not_wait(monkeypatch, number):
    done = []
    monkeypatch.setattr(signal, "signal", lambda *given: done.append(given))
    monkeypatch.setattr(signal, "raise_signal", lambda given: done.append(given))
    moments, stopping = iter([100.0, 100.2, 101.0, 101.1]), threading.Event()
    wish = StopWish(stopping, lambda: next(moments))
    for _arrival in ("from the terminal", "passed on", "passed on late"):
        wish(number, None)
        assert stopping.is_set()
        assert done == []
    wish(number, None)
    assert done == [(number, signal.SIG_DFL), number]
