"""Add a file's regions and their own holidays to a builder (see fixtures/holidays)."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from coordination.management.commands.publish_sequence import find_builder, read_text
from coordination.people.refusals import BadInput
from coordination.people.region_days import add_region_days


class Command(BaseCommand):
    """Adds regions and days; rows that are there stay as they are."""

    help = "Add the regions and regional holidays of a TOML file to a builder."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the file and --builder."""
        parser.add_argument("file", type=Path)
        parser.add_argument("--builder", required=True, help="slug of the builder")

    def handle(self, *args: Any, **options: Any) -> None:
        """Add them and say how many there are."""
        path: Path = options["file"]
        try:
            regions = add_region_days(find_builder(options["builder"]), read_text(path), path.name)
        except BadInput as refused:
            raise CommandError(f"{refused} Nothing was saved.") from refused
        for region in regions:
            self.stdout.write(f"{region}: {region.days.count()} days of its own")
