"""Whole installations that can be killed part by part: a served one on PostgreSQL, and `up` on SQLite."""

from __future__ import annotations

import contextlib
import datetime as dt
import http.client
import json
import os
import random
import sqlite3
import subprocess
import sys
import time
from pathlib import Path
from typing import Any, ClassVar

import psycopg

from tests.crashes.mail_server import MailServer
from tests.races.links import VIOLATIONS
from tests.server_processes import BrokenServer, PostgresServer, Server, ValkeyServer
from tests.waiting import free_port

ROOT = Path(__file__).resolve().parent.parent.parent
HOST = "board.example.org"
READY_SECONDS = 300
MOMENT = dt.datetime(2026, 4, 13, 5, 29, 30, tzinfo=dt.UTC)
"""Monday 13 April 2026, 15:29:30 in Hobart: half a minute before the digests of the day are made."""


class DurablePostgres(PostgresServer):
    """PostgreSQL as it is installed: what it has acknowledged is on the disk."""

    options: ClassVar[dict[str, str]] = {"max_connections": "60", "timezone": "UTC"}

    def start(self) -> None:
        """Start it. After a kill the old processes take a moment to notice that their parent is gone."""
        deadline = time.monotonic() + READY_SECONDS
        while True:
            try:
                super().start()
                with self.connect() as link:
                    link.execute("SELECT 1")
                return
            except (BrokenServer, psycopg.OperationalError):
                if time.monotonic() > deadline:
                    raise
                time.sleep(0.1)

    def connect(self) -> psycopg.Connection[Any]:
        """A connection past the program."""
        return psycopg.connect(
            f"host={self.folder} user=postgres dbname=before_the_board",
            autocommit=True,
            connect_timeout=READY_SECONDS,
        )


class Part(Server):
    """One process of the program."""

    def __init__(self, folder: Path, installation: Installation, *arguments: str) -> None:
        super().__init__(folder)
        self.environment, self.headers = dict(installation.environment), installation.headers
        self.arguments = arguments

    def launch(self) -> None:
        """Start it and wait until pages are answered, if it is one that answers."""
        self.spawn(
            [sys.executable, "-m", "tests.crashes.starting", *self.arguments], env=self.environment, cwd=ROOT
        )
        if self.arguments[0] in ("web", "up"):
            self._wait_for_pages(int(self.arguments[1]))

    def _wait_for_pages(self, port: int) -> None:
        deadline = time.monotonic() + READY_SECONDS
        while time.monotonic() < deadline and self.process is not None and self.process.poll() is None:
            link = http.client.HTTPConnection("127.0.0.1", port, timeout=READY_SECONDS)
            with contextlib.suppress(OSError, http.client.HTTPException):
                link.request("GET", "/accounts/sign-in/", headers=self.headers)
                if link.getresponse().status == 200:
                    return
            time.sleep(0.05)
        raise BrokenServer(f"No pages: {self.log.read_text(errors='replace')[-3000:]}")


class Installation:
    """Processes by name. `senders` are those whose death may leave a mail sent and not marked."""

    headers: ClassVar[dict[str, str]] = {}
    """What a request carries besides its own."""
    parts: dict[str, Server]
    senders: tuple[str, ...]

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.mail = MailServer()
        self.port = free_port()
        shift = MOMENT.timestamp() - time.time()
        kept = {name: value for name, value in os.environ.items() if not name.startswith("BEFORE_THE_BOARD")}
        self.environment = kept | {
            "BEFORE_THE_BOARD_CRASH_SHIFT": f"{shift:.3f}",
            "BEFORE_THE_BOARD_DATA": str(folder / "data"),
            "EMAIL_HOST": "127.0.0.1",
            "EMAIL_PORT": str(self.mail.port),
        }

    def run(self, module: str, *arguments: str, given: str = "") -> Any:
        """Run a module against the database in a process of its own; what it prints is JSON."""
        done = subprocess.run(
            [sys.executable, "-m", module, *arguments],
            input=given,
            env=self.environment,
            cwd=ROOT,
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, done.stderr[-3000:]
        return json.loads(done.stdout)

    def start(self) -> list[dict[str, Any]]:
        """Seed, start every part, return what clients need."""
        raise NotImplementedError

    def count_violations(self) -> int:
        """Firm bookings behind an open hold, seen past the program."""
        raise NotImplementedError

    def kill_and_restart(self, name: str, dice: random.Random) -> None:
        """Kill a part in whatever it does, let the others go on without it for a moment, start it again."""
        self.parts[name].kill()
        time.sleep(dice.random() * 0.5)
        self.parts[name].start()

    def say_logs(self) -> str:
        """The end of what each part has written."""
        logs = {name: part.log.read_text(errors="replace")[-2000:] for name, part in self.parts.items()}
        return "\n".join(f"---- {name}\n{text}" for name, text in logs.items())

    def stop_program(self) -> None:
        """Stop politely what is of the program; servers stay, so that what it left can be looked at."""
        for part in self.parts.values():
            if isinstance(part, Part):
                part.stop()

    def stop(self) -> None:
        """Stop every part, the last started first."""
        for part in reversed(list(self.parts.values())):
            part.stop()
        self.mail.shutdown()
        self.mail.server_close()


class Served(Installation):
    """PostgreSQL, Valkey, web server, worker and beat, each a process, under production's settings."""

    senders = ("worker", "database")
    # As the proxy in front would hand it on.
    headers: ClassVar[dict[str, str]] = {
        "Host": HOST,
        "X-Forwarded-Proto": "https",
        "Referer": f"https://{HOST}/",
    }

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.database = DurablePostgres(folder / "pg")
        queue = ValkeyServer(folder / "vk")
        self.environment |= {
            "DJANGO_SETTINGS_MODULE": "tests.crashes.served",
            "SECRET_KEY": "only-for-crashes-" + "0123456789abcdef" * 4,
            "ALLOWED_HOSTS": HOST,
            "DATABASE_URL": self.database.address,
            "REDIS_URL": queue.address,
            "MEDIA_ROOT": str(folder / "photographs"),
            "TRUSTED_PROXY": "1",
            "EMAIL_USE_TLS": "0",
        }
        schedule = str(folder / "schedule")
        self.parts = {
            "database": self.database,
            "queue": queue,
            "app": Part(folder / "web", self, "web", str(self.port)),
            "worker": Part(folder / "worker", self, "worker"),
            "beat": Part(folder / "beat", self, "beat", schedule),
        }

    def start(self) -> list[dict[str, Any]]:
        self.database.start()
        houses: list[dict[str, Any]] = self.run("tests.crashes.seeding")
        for part in self.parts.values():
            part.start()
        return houses

    def count_violations(self) -> int:
        with self.database.connect() as link:
            row = link.execute(VIOLATIONS.encode()).fetchone()
        assert row is not None
        return int(row[0])


class Embedded(Installation):
    """`up`: pages, worker and beat in one process, on an SQLite file."""

    senders = ("app",)

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.environment |= {"DJANGO_SETTINGS_MODULE": "tests.crashes.embedded"}
        self.file = folder / "data" / "before-the-board.sqlite3"
        self.parts = {"app": Part(folder / "up", self, "up", str(self.port))}

    def start(self) -> list[dict[str, Any]]:
        houses: list[dict[str, Any]] = self.run("tests.crashes.seeding")
        self.parts["app"].start()
        return houses

    def count_violations(self) -> int:
        with contextlib.closing(sqlite3.connect(self.file, timeout=20)) as link:
            return int(link.execute(VIOLATIONS).fetchone()[0])
