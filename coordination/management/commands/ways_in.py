"""Prints a link for each role: the office signs in by one click, a trade has its page."""

import json
import os
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse

from coordination.people.links import crew_for_token, make_link
from coordination.people.models import Crew, CrewLink, Role
from coordination.people.one_click import sign_person

OFFICE = (Role.Kind.PLANNER, Role.Kind.SUPERVISOR, Role.Kind.ASSESSOR)
TRADES = ("electrician", "plumber")

HOW_TO_BEGIN = 'manage.py add_builder "NAME" --planner "NAME" --mail ADDRESS'
"""What makes the first builder and planner of an empty installation."""


class Command(BaseCommand):
    """Prints ways in for planner, supervisor, assessor, electrician and plumber, as far as there are any."""

    help = "Print links for planner, supervisor, assessor, electrician and plumber (local settings only)."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add --address."""
        parser.add_argument("--address", default="http://127.0.0.1:8000", help="where the pages are served")

    def handle(self, *args: Any, **options: Any) -> None:
        """Print one line for each way in."""
        if not settings.COORDINATION_ONE_CLICK_SIGN_IN:
            raise CommandError("Ways in are printed under coordination.settings.local only.")
        lines = [*self.list_office(), *self.list_crews()]
        if not lines:
            self.stdout.write(f"Nobody can sign in yet. Begin with: {HOW_TO_BEGIN}")
        for who, path in lines:
            self.stdout.write(f"  {who:<32} {options['address']}{path}")
        self.stdout.flush()

    def list_office(self) -> list[tuple[str, str]]:
        """One person for each role of the office."""
        found = []
        for kind in OFFICE:
            role = (
                Role.objects.filter(kind=kind, person__is_active=True, ended_at__isnull=True)
                .select_related("person")
                .order_by("pk")
                .first()
            )
            if role is not None:
                path = reverse("people:one_click", args=[sign_person(role.person)])
                found.append((f"{kind.label}, {role.person}", path))
        return found

    def list_crews(self) -> list[tuple[str, str]]:
        """One crew of each trade, with the link to its page."""
        kept = self.read_kept()
        found = []
        for trade in TRADES:
            crew = Crew.objects.filter(trade__key=trade).order_by("pk").first()
            if crew is None:
                continue
            token = kept.get(str(crew.pk), "")
            if crew_for_token(token, CrewLink.Kind.PAGE) != crew:
                token = kept[str(crew.pk)] = make_link(crew, CrewLink.Kind.PAGE)
            found.append((f"{trade}, {crew}", reverse("visits:page", args=[token])))
        if found:
            self.write_kept(kept)
        return found

    # The database holds only hashes of links, so the local ones are kept beside it, readable by the owner.
    # Otherwise each start would add another valid link to each crew.

    @property
    def file(self) -> Path:
        """Where the local links are kept."""
        return Path(settings.DATA_DIR) / "ways-in.json"

    def read_kept(self) -> dict[str, str]:
        """Links printed before; an unreadable file counts as none, since fresh links replace them."""
        try:
            kept = json.loads(self.file.read_text())
        except (FileNotFoundError, json.JSONDecodeError):
            return {}
        return kept if isinstance(kept, dict) else {}

    def write_kept(self, kept: dict[str, str]) -> None:
        """Keep the links for the next start."""
        descriptor = os.open(self.file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(descriptor, "w") as file:
            json.dump(kept, file)
