"""A builder with the shipped brick veneer, a five-day week and a region; and houses set out from it.

Dates of the shipped sequence are this project's own: its durations are common practice, and the dates were
computed independently of this engine (see the head of the sequence's file).
"""

import datetime as dt
import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from coordination import clock
from coordination.people.models import Builder, Crew, Person, Region, Role, WorkingCalendar
from coordination.sequence.inspection import HoldState, Missing
from coordination.sequence.models import House, Plan, PlannedDate, SequenceVersion
from coordination.sequence.set_out import SetOut, set_out
from tests.sequence.builders import make_builder, make_crew, make_person

ENTRY = Path(__file__).resolve().parents[2] / "fixtures" / "sequences" / "brick_veneer_90.toml"
MONDAY = dt.date(2026, 2, 2)
PORT = "tests.sequence.brick_veneer.RecordingPort"


class RecordingPort:
    """Answers as a package that judges would, and remembers what it was asked."""

    set_out: list[tuple[str, int]] = []  # noqa: RUF012
    fails = False

    def on_set_out(self, house: House, resolved: Any) -> None:
        if RecordingPort.fails:
            raise RuntimeError("the judging package has stopped")
        # The house is complete when it is asked: its network, details and holds stand.
        RecordingPort.set_out.append((house.key, house.holds.count()))

    def record_act(self, house: House, kind: str, facts: Mapping[str, object]) -> None:
        RecordingPort.set_out.append((f"{house.key}: {kind}", len(facts)))

    def missing(self, hold_ids: Iterable[int]) -> Mapping[int, HoldState]:
        gap = Missing("void caps: 0 of 6 checked", waits_for="supervisor")
        return {pk: HoldState(pk, (gap,), 6, 6, 0, page=f"/walks/{pk}/") for pk in hold_ids}


@dataclass
class Office:
    """A builder ready to set houses out."""

    builder: Builder
    version: SequenceVersion
    region: Region
    calendar: WorkingCalendar
    planner: Person
    supervisor: Person
    houses: int = field(default=0)

    def order(self, **extra: Any) -> SetOut:
        self.houses += 1
        ordered: dict[str, Any] = {
            "builder": self.builder,
            "version": self.version,
            "key": f"lot-{self.houses}",
            "name": f"Lot {self.houses}, Saltbush Rise",
            "region": self.region,
            "calendar": self.calendar,
            "starts_on": MONDAY,
            "supervisor": self.supervisor,
        }
        return SetOut(**(ordered | extra))

    def house(self, **extra: Any) -> House:
        return set_out(self.order(**extra), self.planner)

    def crew(self, trade: str, name: str, **extra: Any) -> Crew:
        return make_crew(self.builder, trade, name, **extra)


def open_office(name: str = "Saltbush Homes", *, holidays: bool = True) -> Office:
    """Tasmania's public holidays, or (a place whose holidays all fall outside these dates) none of them."""
    builder = make_builder(name)
    text = ENTRY.read_text(encoding="utf-8")
    version = SequenceVersion.objects.create(
        builder=builder,
        key="brick-veneer-90",
        number=1,
        name="Brick veneer",
        text=text,
        sha256=hashlib.sha256(text.encode()).hexdigest(),
        published_at=clock.now(),
    )
    region = Region.objects.create(
        builder=builder, key="south", name="South", country="AU", subdivision="TAS"
    )
    if not holidays:
        work_through_holidays(region)
    return Office(
        builder=builder,
        version=version,
        region=region,
        calendar=WorkingCalendar.objects.create(builder=builder, key="weekdays", name="Weekdays"),
        planner=make_person(builder, Role.Kind.PLANNER, f"Pat-{builder.slug}"),
        supervisor=make_person(builder, Role.Kind.SUPERVISOR, f"Sam-{builder.slug}"),
    )


def work_through_holidays(region: Region) -> None:
    """The region keeps none of the statewide holidays of 2026: each is a day of the week again."""
    import holidays

    for day in holidays.country_holidays("AU", subdiv="TAS", years=2026):
        region.days.create(first_day=day, worked=True, why="not kept here")


def plan_of(house: House) -> Plan:
    return house.plans.order_by("-number")[0]


def date_of(house: House, key: str) -> PlannedDate:
    return plan_of(house).dates.get(activity__key=key)


def says(half_day: int | None) -> str:
    """'2026-03-27 am'."""
    if half_day is None:
        return "never"
    day, half = clock.as_date(half_day)
    return f"{day} {half}"


def working_half_days(house: House, half_day: int | None) -> int:
    """Working half-days of a five-day week from the house's start: the unit of the published table."""
    assert half_day is not None
    start = clock.as_half_day(house.starts_on)
    return sum(t // 2 % 7 < 5 for t in range(start, half_day))
