"""Begins a builder with its first planner; all that follows is done on the pages."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse

from coordination.people.founding import PLACES, found_builder
from coordination.people.models import Person, Role
from coordination.people.one_click import sign_person
from coordination.people.passwords import way_to_set
from coordination.people.refusals import BadInput


class Command(BaseCommand):
    """Adds a builder and prints the planner's way in."""

    help = "Add a builder with its region, a five-day week and its first planner; print the way in."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the name, --planner, --mail, and where the builder builds."""
        parser.add_argument("name", help="name of the builder")
        parser.add_argument("--planner", default="", help="name of the first planner")
        parser.add_argument("--mail", required=True, help="e-mail address that the planner signs in with")
        parser.add_argument(
            "--also",
            action="append",
            default=[],
            choices=[Role.Kind.SUPERVISOR.value, Role.Kind.ASSESSOR.value],
            help="another role of the same person; in an office of one",
        )
        parser.add_argument("--state", default="TAS", help=f"one of {', '.join(PLACES)}; default TAS")
        parser.add_argument(
            "--climate-zone", type=int, default=7, help="of the National Construction Code; default 7"
        )
        parser.add_argument("--time-zone", default="", help="default: that of the state's capital")
        parser.add_argument("--phone", default="", help="number of the office, named in messages")
        parser.add_argument(
            "--address", default=settings.COORDINATION_SITE_URL, help="where the pages are served"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Add the builder and say how to go on."""
        try:
            builder, person = found_builder(
                options["name"],
                planner=options["planner"],
                mail=options["mail"],
                kinds=[Role.Kind.PLANNER, *options["also"]],
                state=options["state"],
                climate_zone=options["climate_zone"],
                time_zone=options["time_zone"],
                phone=options["phone"],
            )
        except BadInput as refused:
            raise CommandError(f"{str(refused).rstrip('.')}. Nothing was saved.") from refused
        self.stdout.write(f"{builder.name} is there ('{builder.slug}'); {person} plans for it.")
        for words, path in self.find_ways(person):
            self.stdout.write(f"{words}: {options['address'].rstrip('/')}{path}")

    def find_ways(self, person: Person) -> list[tuple[str, str]]:
        """What to open next."""
        ways = []
        if settings.COORDINATION_ONE_CLICK_SIGN_IN:
            one_click = reverse("people:one_click", args=[sign_person(person)])
            ways.append(("On this computer sign in at", one_click))
        if person.has_usable_password():
            ways.append(("Sign in at", reverse("people:sign_in")))
        else:
            ways.append(("Set a password within an hour at", way_to_set(person)))
        return ways
