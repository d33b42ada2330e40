"""``manage.py export_record HOUSE_KEY``: the record of a house, for `python -m hold_points.verify_record`."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from coordination.sequence.models import House
from hold_points.record import export_record


class Command(BaseCommand):
    help = "Write the record of a house to the screen or into a file."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("house", help="key of the house")
        parser.add_argument("--builder", default="", help="slug, when several builders use the key")
        parser.add_argument("--into", type=Path, help="file to write; it must not exist")

    def handle(self, *args: Any, **options: Any) -> None:
        houses = House.objects.filter(key=options["house"])
        if options["builder"]:
            houses = houses.filter(builder__slug=options["builder"])
        found = list(houses.select_related("builder"))
        if not found:
            raise CommandError(f"There is no house with the key '{options['house']}'.")
        if len(found) > 1:
            slugs = ", ".join(sorted(house.builder.slug for house in found))
            raise CommandError(f"Several builders have a house '{options['house']}': name one of {slugs}.")
        text = export_record(found[0])
        if options["into"] is None:
            self.stdout.write(text, ending="")
            return
        try:
            with options["into"].open("x", encoding="utf-8", newline="\n") as file:
                file.write(text)
        except FileExistsError as error:
            raise CommandError(f"{options['into']} is there already; name another file.") from error
        self.stdout.write(f"{options['into']}: {text.count(chr(10)) - 1} entries")
