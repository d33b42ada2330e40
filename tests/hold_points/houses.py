"""A small house with its people and crews, set out from `small_sequence.toml`."""

from __future__ import annotations

import datetime as dt
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coordination.people.models import (
    Builder,
    Company,
    Crew,
    CrewMember,
    Engagement,
    Person,
    Region,
    Role,
    Trade,
    WorkingCalendar,
)
from coordination.sequence import bookings
from coordination.sequence.models import Booking, Hold, House, Place, Visit
from coordination.sequence.publishing import add_trades, publish_sequence, read_version
from coordination.sequence.set_out import SetOut, set_out
from hold_points.copies import prepare_waiting
from hold_points.entering import Found
from hold_points.evidence import read_photograph
from hold_points.facts import load_point
from hold_points.identifiers import new_id
from hold_points.models import Check, Inspection, Outcome
from hold_points.releasing import release
from hold_points.signing import Signature
from hold_points.walking import record_outcome
from tests.hold_points.pictures import make_picture

TEXT = (Path(__file__).parent / "small_sequence.toml").read_text(encoding="utf-8")
PASSWORD = "plain pine studs"
STROKES = [[[10, 100], [200, 40], [400, 160]]]


@dataclass
class Site:
    """Everything that a test of hold points reaches for."""

    builder: Builder
    house: House
    supervisor: Person
    deputy: Person
    planner: Person
    assessor: Person
    crews: dict[str, Crew]
    tradesman: Person
    """Supervisor of the builder who also works in the plumber's crew."""
    pictures: int = 0

    def point(self, key: str) -> Inspection:
        return Inspection.objects.select_related("point", "house__builder").get(
            house=self.house, point__key=key
        )

    def check(self, key: str, place: str = "") -> Check:
        found = Check.objects.select_related("inspection__house__builder", "inspection__point", "place")
        wanted = {"place__key": place} if place else {}
        return found.get(inspection__house=self.house, key=key, withdrawn_at=None, **wanted)

    def place(self, key: str) -> Place:
        return Place.objects.get(house=self.house, key=key)

    def hold(self, point: str) -> Hold:
        return Hold.objects.get(house=self.house, point__key=point)

    def booking(self, activity: str) -> Booking:
        return Booking.objects.get(visit__activities__key=activity, house=self.house, state__in=Booking.LIVE)

    def visit(self, activity: str) -> Visit:
        return Visit.objects.get(house=self.house, activities__key=activity)

    def pencil(self, activity: str) -> Booking:
        """The booking of an activity's visit, pencilled on its planned dates."""
        return bookings.pencil(self.booking(activity), by=self.planner)

    def picture(self) -> bytes:
        """A photograph that no one has sent yet."""
        self.pictures += 1
        return make_picture(size=(60 + self.pictures, 48), colour=(self.pictures % 250, 80, 90))

    def prepare(self) -> int:
        """Make the copies of every photograph, as the worker does after the commit."""
        return prepare_waiting()

    def find(self, check: Check, kind: str = "met", by: Person | None = None, **more: Any) -> Outcome:
        """Record an outcome as the supervisor."""
        if more.pop("photo", False):
            more["photos"] = [read_photograph(io.BytesIO(self.picture()))]
        return record_outcome(
            check, Found(id=more.pop("id", new_id()), kind=kind, **more), by or self.supervisor
        )

    def pass_checks(self, point: str) -> None:
        """Find everything of a point met, with number and photograph."""
        inspection = self.point(point)
        for state in load_point(inspection).readiness.states:
            if state.passes:
                continue
            check = Check.objects.select_related("inspection__house__builder", "inspection__point").get(
                pk=state.check.id
            )
            self.find(
                check,
                value=check.limit,
                photo=check.evidence != "none",
                note="no. 2291",
                from_photograph=inspection.point.point_kind == "hold from photographs",
            )

    def sign(self, point: str, by: Person | None = None, **more: Any) -> Any:
        signature = Signature((by or self.supervisor).name, STROKES, password=PASSWORD)
        return release(
            self.point(point),
            by=by or self.supervisor,
            signature=more.pop("signature", signature),
            id=more.pop("id", new_id()),
            **more,
        )

    def release_all(self, *points: str) -> None:
        for point in points:
            self.pass_checks(point)
            self.sign(point)


def make_person(name: str, builder: Builder | None = None, *kinds: str) -> Person:
    person = Person.objects.create_user(f"{name.split()[0].lower()}@example.org", PASSWORD, name=name)
    for kind in kinds:
        assert builder is not None
        Role.objects.create(person=person, builder=builder, kind=kind)
    return person


def make_site(key: str = "lot-7", builder: str = "saltbush", text: str = TEXT) -> Site:
    """A builder with people, four crews and a house that is set out, every visit asked."""
    owner = Builder.objects.create(name=builder.title(), slug=builder)
    tag = builder.title()
    supervisor = make_person(f"Kit{tag} Marlow", owner, "supervisor")
    deputy = make_person(f"Ash{tag} Reed", owner, "supervisor")
    planner = make_person(f"Robin{tag} Hale", owner, "planner")
    assessor = make_person(f"Toni{tag} Vale", owner, "assessor")
    tradesman = make_person(f"Sam{tag} Stone", owner, "supervisor")
    calendar = WorkingCalendar.objects.create(builder=owner, key="five", name="Five days")
    region = Region.objects.create(builder=owner, key="south", name="South", country="AU", subdivision="TAS")
    version = publish_sequence(owner, text)
    trades = add_trades(read_version(version))
    crews = {key: _make_crew(owner, calendar, trade) for key, trade in trades.items()}
    CrewMember.objects.create(crew=crews["plumber"], person=tradesman)
    house = set_out(
        SetOut(
            builder=owner,
            version=version,
            key=key,
            name=f"Lot 7, {tag} Rise",
            region=region,
            calendar=calendar,
            starts_on=dt.date(2026, 4, 13),
            supervisor=supervisor,
            crews=crews,
        ),
        planner,
    )
    return Site(owner, house, supervisor, deputy, planner, assessor, crews, tradesman)


def _make_crew(builder: Builder, calendar: WorkingCalendar, trade: Trade) -> Crew:
    company = Company.objects.create(name=f"{builder.name} {trade.name}")
    Engagement.objects.create(builder=builder, company=company)
    return Crew.objects.create(
        company=company,
        trade=trade,
        name=f"{builder.name} {trade.name} crew",
        calendar=calendar,
        contact=make_person(f"{trade.key.title()}{builder.name} Contact"),
    )
