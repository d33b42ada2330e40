"""The parts of an embedded run, started inside the test's process."""

import socket

import pytest
from celery.worker import state as worker_state
from django.core.management import CommandError

from coordination.management.embedded import EmbeddedRun, open_web_server


@pytest.fixture
def web():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = open_web_server(port)
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
