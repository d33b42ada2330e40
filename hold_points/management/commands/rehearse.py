"""Walk points of a demonstration house through the real doors (used by load_demo)."""

from __future__ import annotations

import datetime as dt
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from coordination.people.models import Person
from coordination.sequence.models import House, Place
from hold_points import rehearsal, reopening
from hold_points.models import Inspection

ACTS = ("walk", "release", "call", "photographs", "reopen")


class Command(BaseCommand):
    """One act on one point: walk, release, call ready, crew's photographs, re-open."""

    help = "Judge, release or re-open a point of a demonstration house with made-up values."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the act, the house, the point and who acts."""
        parser.add_argument("act", choices=ACTS)
        parser.add_argument("house", type=int, help="id of the house")
        parser.add_argument("point", help="key of the point")
        parser.add_argument("--by", help="e-mail of the person who acts")
        parser.add_argument("--at", help="moment, ISO 8601 with offset; for walk and release")
        parser.add_argument("--leave", type=int, default=0, help="checks left open at the end")
        parser.add_argument("--fail", action="append", default=[], help="key of a check that is not met")
        parser.add_argument("--section", default="", help="release this part only")
        parser.add_argument("--place", action="append", default=[], help="key of a place to re-open")
        parser.add_argument("--reason", default="", help="why it is re-opened")

    def handle(self, *args: Any, **options: Any) -> None:
        """Do the act."""
        house = House.objects.select_related("builder").get(pk=options["house"])
        inspection = (
            Inspection.objects.filter(house=house, point__key=options["point"])
            .select_related("point")
            .first()
        )
        if inspection is None:
            raise CommandError(f"{house} has no point '{options['point']}'.")
        if options["act"] == "photographs":
            rehearsal.send_photographs(house, options["point"])
            return
        if options["act"] == "call":
            rehearsal.call_ready(house, options["point"])
            return
        by = Person.objects.get(email=options["by"])
        if options["act"] == "reopen":
            places = Place.objects.filter(house=house, key__in=options["place"]).values_list("pk", flat=True)
            reopening.reopen(inspection, list(places), options["reason"], by=by)
            return
        at = dt.datetime.fromisoformat(options["at"])
        if options["act"] == "walk":
            rehearsal.walk(inspection, by, at=at, leave=options["leave"], fail=options["fail"])
        else:
            rehearsal.release(inspection, by, at=at, section=options["section"])
