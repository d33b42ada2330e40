"""Starts everything in one process: web pages, Celery worker and Celery beat, on SQLite."""

import os
import signal
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from coordination.management.commands.ways_in import HOW_TO_BEGIN
from coordination.management.embedded import STOP_SECONDS, EmbeddedRun, StopWish, WebServer, open_web_server
from coordination.people.models import Builder, Person


class Command(BaseCommand):
    """Brings the database up to date, loads the demonstration once, and serves until Ctrl-C."""

    # handle() runs them itself, after the migration and with the database.
    requires_system_checks = ()
    help = "Start the pages, the worker and the beat in one process and print the ways in."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add --port and --without-demo."""
        parser.add_argument(
            "--port", type=int, help="port to listen on; default: the first free one from 8000"
        )
        parser.add_argument(
            "--without-demo",
            action="store_true",
            help="start with an empty database, without the demonstration",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Prepare, start, wait for a signal, stop."""
        if not settings.COORDINATION_ONE_CLICK_SIGN_IN or not settings.CELERY_BROKER_URL.startswith(
            "memory:"
        ):
            raise CommandError(
                "`up` is for one machine and needs the settings coordination.settings.local. "
                "An installation runs a WSGI server, `celery -A coordination.celery_app worker` and one beat."
            )
        web = open_web_server(options["port"])
        try:
            wants_demo = self.prepare_database(with_demo=not options["without_demo"])
        except BaseException:
            web.server_close()
            raise
        self.serve(web, wants_demo)

    def say(self, words: str = "") -> None:
        """Print a line at once, also into a pipe."""
        self.stdout.write(words)
        self.stdout.flush()

    def prepare_database(self, with_demo: bool) -> bool:
        """Migrate and check; returns whether the demonstration is to be loaded."""
        file = Path(str(settings.DATABASES["default"]["NAME"]))
        # Only when something is pending: migrate also puts back triggers that are missing, and one that
        # somebody took away must be told, not mended in silence.
        if self.has_pending_migrations():
            call_command("migrate", interactive=False, verbosity=0)
        # With the database: the triggers that refuse the impossible must be there, or nothing is served.
        call_command("check", databases=["default"], stdout=self.stdout, stderr=self.stderr)
        if Builder.objects.exists() or Person.objects.exists():
            self.say(
                f"The data in {file} stay as they are; the demonstration is loaded into an empty one only."
            )
            return False
        if not with_demo:
            self.say(f"{file} is empty. Begin with: {HOW_TO_BEGIN}")
        return with_demo

    def has_pending_migrations(self) -> bool:
        """Whether the database is new, or older than the program."""
        executor = MigrationExecutor(connection)
        return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))

    def serve(self, web: WebServer, wants_demo: bool) -> None:
        """Run until Ctrl-C or SIGTERM. Raises CommandError when a part ends by itself or does not stop."""
        if "SITE_URL" not in os.environ:
            # Only now is the port known, and links in messages must lead to this run.
            settings.COORDINATION_SITE_URL = web.address
        run = EmbeddedRun(web)
        ask_to_stop = StopWish(run.stopping)
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, ask_to_stop)
        run.start_pages()
        if wants_demo:
            # Pages answer meanwhile; it is one transaction, so they show all of it or nothing.
            self.say(f"{web.address}/ answers. Loading the demonstration, a little patience ...")
            try:
                call_command("load_demo", stdout=self.stdout, stderr=self.stderr)
            except BaseException:
                run.stop()
                raise
        run.start_work()
        self.say()
        self.say(f"Before the Board is open at {web.address}/")
        self.say()
        call_command("ways_in", address=web.address, stdout=self.stdout)
        self.say()
        self.say("Ctrl-C ends it.")
        ended = run.watch()
        if ended is None:
            self.say("Stopping ...")
        left = run.stop()
        if ended is not None:
            raise CommandError(
                f"The {ended} ended by itself; its reason stands above. Everything was stopped."
            )
        if left:
            raise CommandError(f"Did not stop within {STOP_SECONDS} s: {', '.join(left)}.")
        self.say("Stopped.")
