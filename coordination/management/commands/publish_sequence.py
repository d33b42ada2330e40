"""Publish a standard sequence for a builder from its TOML file."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from coordination.people.models import Builder
from coordination.people.refusals import BadInput
from coordination.sequence.publishing import publish_file


def read_text(path: Path) -> str:
    """The text of a file.

    Raises:
        CommandError: naming the file and what is wrong with it.
    """
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError as error:
        raise CommandError(f"{path}: there is no such file. Check the name.") from error
    except (OSError, UnicodeDecodeError) as error:
        raise CommandError(f"{path}: cannot be read ({error}). Give a UTF-8 text file.") from error


def find_builder(slug: str) -> Builder:
    """The builder with this slug.

    Raises:
        CommandError: naming the builders that there are.
    """
    builder = Builder.objects.filter(slug=slug).first()
    if builder is None:
        known = ", ".join(Builder.objects.values_list("slug", flat=True)) or "none yet"
        raise CommandError(f"There is no builder '{slug}'. Known are: {known}.")
    return builder


class Command(BaseCommand):
    help = "Check a standard sequence and publish it as the next version of a builder."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the sequence, a TOML file")
        parser.add_argument("--builder", required=True, help="slug of the builder")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        builder = find_builder(options["builder"])
        try:
            version = publish_file(builder, path)
        except BadInput as refused:
            raise CommandError(f"{str(refused).rstrip('.')}. Nothing was saved.") from refused
        self.stdout.write(f"{version.name}: version {version.number} of '{version.key}'.")
