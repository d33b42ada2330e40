"""A small house made by hand: three visits, one hold, no sequence needed.

frame (carpenter) FS wiring (electrician) FS H5 [hold] FS+3 linings (plasterer)
                                            H5 [hold] FS+1 board (supplier's delivery)
"""

import datetime as dt
import uuid
from dataclasses import dataclass, field
from typing import Any

from django.db import transaction

from coordination import clock
from coordination.people.models import (
    Builder,
    Company,
    Crew,
    Engagement,
    Person,
    Region,
    Role,
    Trade,
    WorkingCalendar,
)
from coordination.sequence.diary import write_change
from coordination.sequence.models import (
    Activity,
    Booking,
    Covering,
    Detail,
    Hold,
    HoldBefore,
    House,
    Place,
    Plan,
    PlannedDate,
    Relationship,
    SequenceVersion,
    Visit,
)


@dataclass
class SmallHouse:
    """What `small_house` made."""

    house: House
    planner: Person
    supervisor: Person
    crews: dict[str, Crew]
    visits: dict[str, Visit]
    activities: dict[str, Activity]
    hold: Hold
    extra: dict[str, Any] = field(default_factory=dict)

    @property
    def builder(self) -> Builder:
        return self.house.builder


START = clock.as_half_day(dt.date(2026, 4, 20))
"""Monday 20 April 2026, a week after the tests' clock."""


def make_builder(name: str = "Saltbush Homes", **extra: Any) -> Builder:
    return Builder.objects.create(name=name, slug=name.lower().replace(" ", "-"), **extra)


def make_crew(builder: Builder, trade: str, name: str, **extra: Any) -> Crew:
    calendar, _ = WorkingCalendar.objects.get_or_create(
        builder=None, key="weekdays", defaults={"name": "Weekdays"}
    )
    company = Company.objects.create(name=f"{name} Pty Ltd")
    Engagement.objects.create(builder=builder, company=company)
    kind, _ = Trade.objects.get_or_create(key=trade, defaults={"name": trade})
    return Crew.objects.create(company=company, trade=kind, name=name, calendar=calendar, **extra)


def make_person(builder: Builder, kind: str, name: str) -> Person:
    person = Person.objects.create_user(f"{name.lower()}@example.test", name=name)
    Role.objects.create(person=person, builder=builder, kind=kind)
    return person


def small_house(builder: Builder | None = None, key: str = "lot-7") -> SmallHouse:
    builder = builder or make_builder()
    planner = make_person(builder, Role.Kind.PLANNER, f"Pat-{key}")
    supervisor = make_person(builder, Role.Kind.SUPERVISOR, f"Sam-{key}")
    region, _ = Region.objects.get_or_create(builder=builder, key="south", defaults={"name": "South"})
    crews = {
        "frame": make_crew(builder, "carpenter", f"Frames {key}"),
        "wiring": make_crew(builder, "electrician", f"Sparks {key}"),
        "board": make_crew(builder, "board-supplier", f"Boards {key}"),
        "linings": make_crew(builder, "plasterer", f"Linings {key}"),
    }
    version, _ = SequenceVersion.objects.get_or_create(
        builder=builder,
        key="small",
        number=1,
        defaults={"name": "Small", "text": "", "sha256": "0" * 64, "published_at": clock.now()},
    )
    house = House.objects.create(
        builder=builder,
        sequence_version=version,
        region=region,
        calendar=crews["frame"].calendar,
        supervisor=supervisor,
        key=key,
        name=f"{key.replace('-', ' ').capitalize()}, Saltbush Rise",
        starts_on=dt.date(2026, 4, 20),
        recorded_up_to=START,
        created_at=clock.now(),
    )
    visits = {
        name: Visit.objects.create(
            house=house,
            key=name,
            name=name.capitalize(),
            trade=crews[name].trade,
            order=order,
            delivery=name == "board",
        )
        for order, name in enumerate(crews)
    }
    activities = {
        name: Activity.objects.create(
            house=house, visit=visits[name], key=name, name=name.capitalize(), order=order, half_days=4
        )
        for order, name in enumerate(visits)
    }
    activities["H5"] = Activity.objects.create(
        house=house,
        key="H5",
        name="Insulation",
        order=9,
        half_days=1,
        is_point=True,
        point_kind=Activity.PointKind.HOLD,
    )
    for before, after, lag in (
        ("frame", "wiring", 0),
        ("wiring", "H5", 0),
        ("H5", "linings", 3),
        ("H5", "board", 1),
    ):
        Relationship.objects.create(
            house=house, predecessor=activities[before], successor=activities[after], kind="FS", lag=lag
        )
    detail = Detail.objects.create(
        house=house, key="batts", name="Wall batts", order=1, point=activities["H5"]
    )
    Covering.objects.create(detail=detail, activity=activities["linings"], point=activities["H5"])
    for order, name in enumerate(("Bed 1", "Bed 2")):
        Place.objects.create(house=house, key=name.lower().replace(" ", "-"), name=name, order=order)
    hold = Hold.objects.create(house=house, point=activities["H5"], label="Insulation")
    for name in ("linings", "board"):
        HoldBefore.objects.create(hold=hold, visit=visits[name])
    return SmallHouse(house, planner, supervisor, crews, visits, activities, hold)


def book(small: SmallHouse, name: str, state: str = Booking.State.PENCILLED, **extra: Any) -> Booking:
    """A booking in a state, told for four half-days from `START` + 14, without the acts that lead there."""
    return Booking.objects.create(
        **{
            "house": small.house,
            "visit": small.visits[name],
            "crew": small.crews[name],
            "state": state,
            "told_start": START + 14,
            "told_finish": START + 18,
            "made_at": clock.now(),
            "changed_at": clock.now(),
            **extra,
        }
    )


def sign_release(small: SmallHouse) -> uuid.UUID:
    """A release of the house's hold in the record, as the package that judges leaves it."""
    from hold_points.models import Inspection

    inspection, _ = Inspection.objects.get_or_create(house=small.house, point=small.hold.point)
    return record_release(inspection, small.supervisor)


def record_release(inspection: Any, by: Person, **values: Any) -> uuid.UUID:
    """A release with its entry of the record, without the acts and checks that lead there."""
    from hold_points import record
    from hold_points.models import Release

    given = {
        "id": uuid.uuid4(),
        "name": by.name,
        "role": "supervisor",
        "signature": [[[0, 0], [10, 10]]],
        "at": clock.now(),
        "received_at": clock.now(),
    }
    with transaction.atomic():
        release = Release.objects.create(inspection=inspection, by=by, **{**given, **values})
        kind = "part release" if release.section else "release"
        record.append(inspection.house, kind, {"release": release.pk, "section": release.section})
    return release.pk


def record_reopening(inspection: Any, by: Person) -> None:
    """A re-opening of the whole house with its entry of the record; the hold is the caller's to close."""
    from hold_points import record
    from hold_points.models import Reopening

    with transaction.atomic():
        opened = Reopening.objects.create(inspection=inspection, by=by, reason="batt pulled", at=clock.now())
        record.append(inspection.house, "re-opening", {"reopening": opened.pk, "point": inspection.point.key})


def say_rewriting(house: House) -> None:
    """What the diary says while a house is written anew: the database lets its network be taken apart."""
    write_change(house, "rewriting", "", "written anew", {})


def say_changed(house: House) -> None:
    """What ends it."""
    write_change(house, "changed", "", "changed", {})


def say_brought_in(house: House) -> None:
    """What the diary says of a house that was brought in half built: its holds may be set aside."""
    write_change(house, "stated", "", "half built", {})


def plan_visit(small: SmallHouse, dates: dict[str, tuple[int, int]], number: int = 1) -> Plan:
    """A plan with hand-made dates: activity → first half-day worked and exclusive finish."""
    plan = Plan.objects.create(
        house=small.house,
        number=number,
        at=clock.now(),
        recorded_up_to=small.house.recorded_up_to,
        cause="rain on Tuesday",
        finish=max(finish for _, finish in dates.values()),
    )
    for name, (start, finish) in dates.items():
        PlannedDate.objects.create(
            plan=plan,
            activity=small.activities[name],
            es=start,
            ef=finish,
            ls=start,
            lf=finish,
            start=start,
            last=finish - 1,
            critical=False,
        )
    return plan
