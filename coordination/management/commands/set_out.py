"""Set a house out from an order in a TOML file, and say in short what was made."""

from __future__ import annotations

from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from coordination import clock
from coordination.management.commands.publish_sequence import find_builder, read_text
from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence.inspection import port
from coordination.sequence.models import Activity, DetailPlace, Hold, House
from coordination.sequence.set_out import set_out
from coordination.sequence.set_out_file import read_set_out_file


class Command(BaseCommand):
    help = "Set a house out from an order in a TOML file (see fixtures/demo)."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the order, a TOML file")
        parser.add_argument("--builder", required=True, help="slug of the builder")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        builder = find_builder(options["builder"])
        try:
            house = set_out(read_set_out_file(read_text(path), builder, path.name))
        except BadInput as refused:
            raise CommandError(f"{_named(path, refused).rstrip('.')}. Nothing was saved.") from refused
        except (WrongState, NotAllowed) as refused:
            raise CommandError(f"{path.name}: {str(refused).rstrip('.')}. Nothing was saved.") from refused
        for line in describe(house):
            self.stdout.write(line)


def _named(path: Path, refused: BadInput) -> str:
    """The refusal with the file's name in front, once."""
    words = str(refused)
    return words if words.startswith(path.name) else f"{path.name}, {words}"


def describe(house: House) -> Iterator[str]:
    """The account: what was made, and the first dates."""
    activities = list(house.activities.order_by("order"))
    points = [one for one in activities if one.is_point]
    holds = list(Hold.objects.filter(house=house).order_by("point__order"))
    checks = sum(state.checks_total for state in port().missing([hold.pk for hold in holds]).values())
    yield f"{house.name}: set out from {house.sequence_version}."
    yield (
        f"  {len(activities) - len(points)} activities in {house.visits.count()} visits, "
        f"{house.relationships.count()} relationships"
    )
    yield (
        f"  {house.details.count()} details at {DetailPlace.objects.filter(detail__house=house).count()} "
        f"places, {house.places.count()} places"
    )
    yield f"  {len(points)} points, {len(holds)} holds, {checks} checks before them"
    plan = house.plans.order_by("-number")[0]
    dates = {date.activity_id: date for date in plan.dates.all()}
    for point in points:
        if point.holds:
            at = clock.say_half_day(dates[point.pk].start)
            kind = "walk" if point.point_kind == Activity.PointKind.HOLD else "photographs"
            yield f"  {kind} {point.key} {point.name}: {at}"
    for one in activities:
        if one.is_stake:
            yield f"  {one.name} starts {clock.say_half_day(dates[one.pk].start)}"
    yield f"  finished {clock.say_half_day(plan.finish - 1)}"
