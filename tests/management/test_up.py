"""`manage.py up` as a person starts it: its own process, port and data folder."""

import contextlib
import http.client
import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from tests.waiting import PATIENCE, free_port, wait_for_end, wait_until

PROJECT = Path(__file__).resolve().parent.parent.parent


class Started:
    """A running `up` and what it has printed so far."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process
        self.lines: list[str] = []
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        with self.process.stdout as lines:
            for line in lines:
                self.lines.append(line.rstrip())

    @property
    def words(self) -> str:
        return "\n".join(self.lines)

    def wait_for(self, pattern: str, seconds: float = PATIENCE) -> re.Match[str]:
        """Wait for words and return what was found."""

        def look() -> re.Match[str] | None:
            # Asked in this order: one that has ended, with all its words read, says nothing more.
            ended = self.process.poll() is not None
            if ended:
                wait_for_end([self._reader])
            found = re.search(pattern, self.words)
            assert found or not ended, f"up ended and did not say '{pattern}':\n{self.words}"
            return found

        found = wait_until(f"up says '{pattern}'", look, seconds)
        assert found is not None
        return found

    def wait_until_open(self, seconds: float = PATIENCE) -> str:
        """Wait for the printed address and all ways in, and return the address."""
        self.wait_for("Ctrl-C", seconds)
        return self.wait_for(r"is open at (http://\S+)/", seconds).group(1)

    def stop(self, number: int = signal.SIGINT) -> int:
        """Send the signal and return the exit code."""
        self.process.send_signal(number)
        return self.wait_for_end()

    def wait_for_end(self, seconds: float = PATIENCE) -> int:
        """Wait until it ends, with all its words read; return the exit code."""
        code = self.process.wait(seconds)
        wait_for_end([self._reader])
        return code


def environment_for(data: Path, settings: str = "coordination.settings.local") -> dict[str, str]:
    """The environment of this run without the suite's own addresses, and with a data folder of its own."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("BEFORE_THE_BOARD")}
    return kept | {"DJANGO_SETTINGS_MODULE": settings, "BEFORE_THE_BOARD_DATA": str(data)}


@contextlib.contextmanager
def up(data: Path, *arguments: str, settings: str = "coordination.settings.local") -> Iterator[Started]:
    process = subprocess.Popen(
        [sys.executable, str(PROJECT / "manage.py"), "up", *arguments],
        cwd=data.parent,
        env=environment_for(data, settings),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    started = Started(process)
    try:
        yield started
    finally:
        if process.poll() is None:
            process.kill()
        started.wait_for_end()


def fetch(
    address: str, path: str, method: str = "GET", body: str | None = None, cookie: str = ""
) -> tuple[int, str]:
    """Return the status and the body of one answer."""
    parts = urlsplit(address)
    link = http.client.HTTPConnection(parts.hostname or "", parts.port, timeout=PATIENCE)
    headers = {"Cookie": cookie} if cookie else {}
    link.request(method, path, body=body, headers=headers)
    answer = link.getresponse()
    text = answer.read().decode()
    link.close()
    return answer.status, text


def test_first_start_answers_and_second_start_keeps_the_data(tmp_path):
    data = tmp_path / "data"
    with up(data, "--without-demo", "--port", str(free_port())) as first:
        address = first.wait_until_open()
        assert fetch(address, "/accounts/sign-in/")[0] == 200
        assert fetch(address, "/static/coordination/base.css")[0] == 200
        assert "add_builder" in first.words
        assert first.stop(signal.SIGINT) == 0, first.words
        assert first.lines[-1] == "Stopped."

    file = data / "before-the-board.sqlite3"
    with contextlib.closing(sqlite3.connect(file)) as database, database:
        database.execute(
            "INSERT INTO people_trade (key, name) VALUES (?, ?)", ("thatcher", "thatcher of the second start")
        )
        database.execute(
            "INSERT INTO people_person (email, name, phone, password, is_superuser, is_staff, is_active,"
            " first_name, last_name, date_joined, pin)"
            " VALUES ('a@example.org', 'A', '', '!', 0, 0, 1, '', '', '2026-04-13 00:00:00', '')"
        )

    with up(data, "--port", str(free_port())) as second:
        second.wait_until_open()
        assert "stay as they are" in second.words
        assert second.stop(signal.SIGTERM) == 0, second.words
    with contextlib.closing(sqlite3.connect(file)) as database:
        assert database.execute("SELECT count(*) FROM people_trade WHERE key = 'thatcher'").fetchone() == (1,)
        assert database.execute("SELECT count(*) FROM people_person").fetchone() == (1,)
        assert database.execute("PRAGMA journal_mode").fetchone() == ("wal",)


# For somebody who is in no digest: it leaves with the next tick.
PUT_AN_URGENT_NOTICE = """
from django.db import transaction
from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.models import Builder, Person
with transaction.atomic():
    put(
        builder=Builder.objects.get_or_create(name="Fernhollow Homes", slug="fernhollow")[0],
        to=Person.objects.create_user("NAME@example.org", name="Kit Marlow"),
        kind=Message.Kind.NOTICE, about="test:NAME", version="1", urgent=True,
        subject="Scaffold stays until Friday", body="The scaffold of Lot 7 stays.",
    )
"""


def run_in_shell(data: Path, script: str) -> None:
    """Run a script against the data folder, in a process of its own."""
    done = subprocess.run(
        [sys.executable, str(PROJECT / "manage.py"), "shell", "-v", "0", "-c", script],
        env=environment_for(data),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def send_a_notice(started: Started, data: Path, name: str) -> None:
    """Put a notice and wait until a tick has sent it."""
    run_in_shell(data, PUT_AN_URGENT_NOTICE.replace("NAME", name))
    started.wait_for(f"Mail to {name}@example.org: ")


def wait_for_two_ticks(started: Started, data: Path) -> None:
    """A notice that is put now leaves with a later tick than all before it, and the next one with another."""
    for name in ("ash", "bay"):
        send_a_notice(started, data, name)


def test_a_message_that_another_process_wrote_is_sent_by_the_next_tick(tmp_path):
    data = tmp_path / "data"
    with up(data, "--without-demo", "--port", str(free_port())) as started:
        address = started.wait_until_open()
        send_a_notice(started, data, "kit")
        # Two more ticks send nothing a second time.
        wait_for_two_ticks(started, data)
        assert started.words.count("Mail to kit@example.org: ") == 1, started.words
        # The link leads to the port of this run.
        assert f"{address}\n" in (data / "mail" / "message-1.eml").read_text()
        assert started.stop() == 0, started.words
    with contextlib.closing(sqlite3.connect(data / "before-the-board.sqlite3")) as database:
        assert database.execute(
            "SELECT count(*) FROM outbox_message WHERE sent_at IS NOT NULL"
        ).fetchone() == (3,)


def test_it_listens_on_this_machine_only(tmp_path):
    with up(tmp_path / "data", "--without-demo", "--port", str(free_port())) as started:
        address = started.wait_until_open()
        assert urlsplit(address).hostname == "127.0.0.1"
        port = urlsplit(address).port
        # All of 127.0.0.0/8 is this machine; a server bound to every address would answer here as well.
        with socket.socket() as probe, pytest.raises(ConnectionRefusedError):
            probe.connect(("127.0.0.2", port))
        assert started.stop() == 0


def test_a_taken_port_is_named_and_nothing_is_left_running(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with up(tmp_path / "data", "--without-demo", "--port", str(port)) as refused:
            assert refused.wait_for_end() == 1
            assert f"Port {port} is taken" in refused.words


def test_missing_trigger_keeps_the_doors_shut(tmp_path):
    data = tmp_path / "data"
    with up(data, "--without-demo", "--port", str(free_port())) as first:
        first.wait_until_open()
        assert first.stop() == 0
    with contextlib.closing(sqlite3.connect(data / "before-the-board.sqlite3")) as database, database:
        triggers = [
            row[0] for row in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        ]
        assert triggers, "the migrations make no trigger"
        for name in triggers:
            database.execute(f'DROP TRIGGER "{name}"')
    with up(data, "--without-demo", "--port", str(free_port())) as refused:
        assert refused.wait_for_end() == 1
        assert "trigger" in refused.words.lower()
        assert "is open at" not in refused.words


def test_settings_of_an_installation_are_refused(tmp_path):
    with up(tmp_path / "data", settings="coordination.settings.test") as refused:
        assert refused.wait_for_end() == 1
        assert "coordination.settings.local" in refused.words


@pytest.mark.slow
def test_a_first_start_answers_before_its_demonstration_is_loaded_and_then_prints_the_ways_in(tmp_path):
    data = tmp_path / "data"
    with up(data, "--port", str(free_port())) as first:
        address = first.wait_for(r"(http://\S+)/ answers\.").group(1)
        assert fetch(address, "/accounts/sign-in/")[0] == 200
        first.wait_until_open(10 * PATIENCE)
        for way in ("planner", "supervisor", "assessor", "electrician", "plumber"):
            assert f"  {way}, " in first.words
        assert first.stop(signal.SIGINT) == 0, first.words
    with contextlib.closing(sqlite3.connect(data / "before-the-board.sqlite3")) as database:
        assert database.execute("SELECT count(*) FROM sequence_house").fetchone() >= (7,)
        held = "SELECT count(*) FROM sequence_hold WHERE lifted_at IS NULL AND set_aside_at IS NULL"
        assert database.execute(held).fetchone() >= (3,)
        firm = "SELECT count(*) FROM sequence_booking WHERE state = 'firm'"
        assert database.execute(firm).fetchone() >= (1,)
        assert database.execute("SELECT count(*) FROM hold_points_reopening").fetchone() == (1,)
