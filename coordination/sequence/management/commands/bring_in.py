"""`manage.py bring_in HOUSE LAST_ACTIVITY DATE --by E-MAIL`: state what is finished at a house half built."""

from __future__ import annotations

import datetime as dt
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from coordination.people.access import has_role
from coordination.people.models import Person, Role
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence.bringing_in import bring_in
from coordination.sequence.models import House


class Command(BaseCommand):
    """Bring in one house; says what is set aside and what needs a walk."""

    help = "State the last finished activity of a house that is half built; set aside what is buried."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the house, the activity, the day and the planner."""
        parser.add_argument("house", help="key of the house")
        parser.add_argument("last", help="key of the last finished activity")
        parser.add_argument("date", help="day on which it was finished, as 2026-04-13")
        parser.add_argument("--by", required=True, help="e-mail of the planner who states it")
        parser.add_argument("--builder", default="", help="slug, when several builders use the key")

    def handle(self, *args: Any, **options: Any) -> None:
        """Bring it in, or say why not."""
        found = House.objects.filter(key=options["house"])
        if options["builder"]:
            found = found.filter(builder__slug=options["builder"])
        house = found.select_related("builder").first()
        if house is None or found.count() > 1:
            raise CommandError(f"'{options['house']}' names {found.count()} houses; name one with --builder.")
        by = Person.objects.filter(email=options["by"].lower()).first()
        if by is None or not has_role(by, house.builder, Role.Kind.PLANNER):
            raise CommandError(f"{options['by']} is no planner of {house.builder}.")
        try:
            done = bring_in(house, options["last"], dt.date.fromisoformat(options["date"]), by)
        except ValueError as error:
            raise CommandError(f"'{options['date']}' is no day; write it as 2026-04-13.") from error
        except (BadInput, WrongState) as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(f"{house}: {len(done.stated)} activities stated as finished")
        for words, holds in (
            ("not recorded", done.set_aside),
            ("needs a walk", done.half_buried),
            ("live", done.live),
        ):
            for hold in holds:
                self.stdout.write(f"  {words}: {hold.label}")
