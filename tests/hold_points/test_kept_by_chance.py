"""Two tablets without reception, by chance: nothing is lost, nothing is doubled, the order is right.

A tablet is modelled as what its scripts do: it keeps acts in order, sends the first that waits, and forgets
one only after the server's answer. Requests get lost on the way there or on the way back, are sent twice,
come in again long after; clocks are wrong by up to a day, and the other person judges in between.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import random
from dataclasses import dataclass, field
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client
from django.urls import reverse

from coordination import clock
from coordination.people.models import Person
from hold_points import record
from hold_points.identifiers import new_id
from hold_points.models import Check, Evidence, Outcome
from hold_points.verify_record import verify_export
from tests.hold_points.houses import Site

RUNS = int(os.environ.get("BEFORE_THE_BOARD_TABLET_RUNS", "60"))
PLACES = (("full", "bath"), ("airway", "bath"), ("full", "bed"), ("full", "garage"))
DAY = 24 * 60


@dataclass
class Tablet:
    """One person's tablet: its clock, what it keeps, and what the server has told it."""

    person: Person
    client: Client
    skew: dt.timedelta
    waiting: list[dict[str, Any]] = field(default_factory=list)
    ended: dict[str, str] = field(default_factory=dict)
    seen: dict[int, str] = field(default_factory=dict)
    found_at: dict[str, dt.datetime] = field(default_factory=dict)
    recorded: list[dict[str, Any]] = field(default_factory=list)

    def keep(self, check: Check, kind: str, picture: bytes | None = None) -> None:
        item: dict[str, Any] = {
            "id": str(new_id()),
            "check": check.pk,
            "person": self.person.pk,
            "act": "photo" if picture else kind,
            "at": (clock.now() + self.skew).isoformat(),
            "seen": self.seen.get(check.pk, ""),
        }
        if picture:
            item["picture"] = picture
        else:
            item |= {"value": "31" if check.key == "airway" else "", "note": "by hand"}
            self.seen[check.pk] = item["id"]
        self.found_at[item["id"]] = clock.now()
        self.waiting.append(item)

    def post(self, item: dict[str, Any]) -> str:
        """The request, with the tablet's clock as it is now."""
        values = {name: value for name, value in item.items() if name not in ("check", "picture")}
        values["now"] = (clock.now() + self.skew).isoformat()
        if "picture" in item:
            values["photo"] = SimpleUploadedFile("p.jpg", item["picture"], "image/jpeg")
        answer = self.client.post(reverse("hold_points:accept_kept", args=[item["check"]]), values)
        told: str = answer.json()["answer"]
        assert told in ("recorded", "refused", "found otherwise"), answer.json()
        return told

    def send(self, fate: str) -> None:
        """Send what waits first: it may not get there, or its answer not come back."""
        if not self.waiting or fate == "lost on the way":
            return
        item = self.waiting[0]
        told = self.post(item)
        if fate == "answer lost":
            return
        if fate == "sent twice":
            assert self.post(item) == told
        self.ended[item["id"]] = told
        if told == "recorded":
            self.recorded.append(item)
        self.waiting.pop(0)


FATES = ("arrives", "arrives", "lost on the way", "answer lost", "sent twice")


def walk_by_chance(site: Site, chance: random.Random, clock_of_all: Any) -> None:
    checks = [site.check(key, place) for key, place in PLACES]
    tablets = []
    for person in (site.supervisor, site.deputy):
        client = Client()
        client.force_login(person)
        tablets.append(Tablet(person, client, dt.timedelta(minutes=chance.randint(-DAY, DAY))))
    for _step in range(chance.randint(4, 14)):
        clock_of_all.shift(dt.timedelta(minutes=chance.randint(1, 45)))
        tablet = chance.choice(tablets)
        if chance.random() < 0.5:
            picture = site.picture() if chance.random() < 0.3 else None
            tablet.keep(chance.choice(checks), chance.choice(("met", "not met", "not seen")), picture)
        else:
            tablet.send(chance.choice(FATES))
        if tablet.recorded and chance.random() < 0.2:
            # A copy of an old request that hung somewhere on the way comes in late.
            before = count_rows()
            assert tablet.post(chance.choice(tablet.recorded)) == "recorded"
            assert count_rows() == before
    for tablet in tablets:
        while tablet.waiting:
            tablet.send("arrives")
        require_all_there(tablet)
    acts = sum(len(tablet.recorded) for tablet in tablets)
    assert sum(count_rows()) == acts
    if Outcome.objects.exists():
        assert verify_export(record.export_record(site.house).encode())


def count_rows() -> tuple[int, int]:
    return Outcome.objects.count(), Evidence.objects.count()


def require_all_there(tablet: Tablet) -> None:
    """Each act is on the record, or its tablet was told why not; in its order, at the time it was found."""
    assert set(tablet.ended) == set(tablet.found_at)
    outcomes = list(Outcome.objects.filter(by=tablet.person).order_by("received_at"))
    judged = [item["id"] for item in tablet.recorded if item["act"] != "photo"]
    assert [str(one.pk) for one in outcomes] == judged
    for one in outcomes:
        assert one.at == tablet.found_at[str(one.pk)]
        assert one.at <= one.received_at
    photos = Evidence.objects.filter(by=tablet.person).order_by("received_at")
    pictures = [hashlib.sha256(item["picture"]).hexdigest() for item in tablet.recorded if "picture" in item]
    assert [one.sha256 for one in photos] == pictures


@pytest.mark.parametrize("part", range(4))
def test_nothing_kept_is_lost_doubled_or_out_of_order(site, monday_morning, part):
    for run in range(part, RUNS, 4):
        with transaction.atomic():
            walk_by_chance(site, random.Random(run), monday_morning)
            transaction.set_rollback(True)
