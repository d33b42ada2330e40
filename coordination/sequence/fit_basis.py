"""What a fit to the crews starts from: the houses, who has which visit, what stays, where crews are besides.

Read in one go from the tables and kept as plain rows; nothing here computes a date.

What stays where it is: firm bookings, what a crew has confirmed, what is under way, and told dates within the
freeze. Other told dates are kept where possible: a crew comes no earlier than it was told. Nothing that was
not reported as begun is placed before the present half-day, and a told date that has passed holds nothing.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace

from django.db.models import Max
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Builder, Crew
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import telling
from coordination.sequence.diary import NOTED
from coordination.sequence.elsewhere import Elsewhere, read_elsewhere
from coordination.sequence.house_network import HouseNetwork, read_house_network
from coordination.sequence.models import (
    Booking,
    Change,
    FittedStart,
    House,
    Plan,
    Visit,
)
from coordination.sequence.queries.facts import latest_numbers, latest_plans

MOVABLE = (Booking.State.PENCILLED, Booking.State.FIRM)
STAYING = (Booking.State.FIRM, Booking.State.UNDER_WAY, Booking.State.DONE)
TRIES = 3


@dataclass(frozen=True)
class HouseBasis:
    """One house of a fit.

    Attributes:
        plan, last_change: the version that was read.
        rows: its network; instead of starts from earlier fits, the told dates hold the visits.
        stays: ids of the visits that keep their dates.
        told: visit id → told start and exclusive finish, of pencilled and firm bookings not begun.
    """

    house: House
    plan: Plan
    last_change: int | None
    rows: HouseNetwork
    stays: frozenset[int]
    told: Mapping[int, tuple[int, int]]
    proposed: Mapping[int, Crew] = field(default_factory=dict)
    """Visit id → the crew that the fit chose for it: its booking in `rows` is imagined."""

    def with_crews(self, crews: Mapping[int, Crew]) -> HouseBasis:
        """The house as it would be if these crews had these visits, which nobody has."""
        imagined = {
            visit: Booking(house=self.house, visit_id=visit, crew=crew, state=Booking.State.ASKED)
            for visit, crew in crews.items()
        }
        return replace(
            self,
            rows=replace(self.rows, bookings={**self.rows.bookings, **imagined}),
            proposed={**self.proposed, **crews},
        )

    @property
    def without_crew(self) -> int:
        """Unfinished visits that no crew has."""
        open_ones = {
            one.visit_id for one in self.rows.activities if one.visit_id and one.actual_finish is None
        }
        return len(open_ones - set(self.rows.bookings))


@dataclass(frozen=True)
class FitBasis:
    """All that a fit is computed from."""

    builder: Builder
    houses: tuple[HouseBasis, ...]
    crews: Mapping[int, Crew]
    elsewhere: tuple[Elsewhere, ...]
    now: int
    """The present half-day: nothing that has not begun starts before it."""
    weights: Mapping[str, float] = field(default_factory=dict)
    """Key of a house → how heavily its lateness weighs; 1 where it is not named."""
    choices: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    """Trade id → ids of the builder's crews of that trade, for visits that no crew has."""

    def with_crews(self, crews: Mapping[int, Crew]) -> FitBasis:
        """As if these crews had these visits (by visit id)."""
        houses = []
        for one in self.houses:
            mine = {a.visit_id for a in one.rows.activities if a.visit_id}
            houses.append(one.with_crews({visit: crew for visit, crew in crews.items() if visit in mine}))
        return replace(self, houses=tuple(houses))

    @property
    def load_stamp(self) -> str:
        """Changes whenever a crew's capacity, its calendar or its other work does."""
        facts = [
            sorted((crew.pk, crew.capacity, crew.calendar_id) for crew in self.crews.values()),
            sorted((one.crew, one.first, one.end, one.units) for one in self.elsewhere),
        ]
        return hashlib.sha256(json.dumps(facts).encode()).hexdigest()


def running_houses(builder: Builder) -> list[House]:
    """Houses of the builder that are planned and not handed over."""
    return list(
        builder.houses.filter(finished_at__isnull=True, plans__isnull=False).distinct().order_by("name")
    )


def read_versions(houses: Iterable[int]) -> dict[int, tuple[int | None, int | None]]:
    """House id → number of its latest plan and key of the last act of its diary."""
    ids = list(houses)
    plans = latest_numbers(ids)
    acts = Change.objects.filter(house__in=ids).exclude(what=NOTED).order_by()
    lines = dict(acts.values_list("house").annotate(Max("pk")))
    return {pk: (plans.get(pk), lines.get(pk)) for pk in ids}


def read_basis(builder: Builder, house_ids: Collection[int]) -> FitBasis:
    """Read the houses, once more where one of them changed meanwhile.

    Raises:
        BadInput: no house, or one that is not a running house of the builder.
        WrongState: they changed each time they were read.
    """
    for _try in range(TRIES):
        before = read_versions(house_ids)
        basis = _read_once(builder, house_ids)
        if read_versions(house_ids) == before:
            return basis
    raise WrongState(_("The houses changed while they were read. Try again in a moment."))


def _read_once(builder: Builder, house_ids: Collection[int]) -> FitBasis:
    houses = list(
        House.objects.filter(pk__in=house_ids, builder=builder, finished_at__isnull=True)
        .select_related("builder", "region", "calendar")
        .order_by("name", "pk")
    )
    plans = latest_plans(houses)
    if not houses or len(houses) != len(set(house_ids)) or any(one.pk not in plans for one in houses):
        raise BadInput(_("houses"), _("Choose houses that are planned and not handed over."))
    versions = read_versions(house_ids)
    now = clock.current_half_day(builder.time_zone)
    found = tuple(_read_house(one, plans[one.pk], versions[one.pk][1], now) for one in houses)
    crews = {
        booking.crew_id: booking.crew
        for one in found
        for booking in one.rows.bookings.values()
        if booking.state != Booking.State.DONE
    }
    choices: dict[int, list[int]] = defaultdict(list)
    wanted = {visit.trade_id for one in found for visit in _visits_without_crew(one)}
    engaged = Crew.objects.filter(Crew.AT_WORK, trade__in=wanted, company__engagements__builder=builder)
    for crew in engaged.select_related("company").order_by("pk"):
        crews.setdefault(crew.pk, crew)
        choices[crew.trade_id].append(crew.pk)
    elsewhere = tuple(read_elsewhere(builder, crews, set(house_ids)))
    offered = {trade: tuple(those) for trade, those in choices.items()}
    return FitBasis(builder, found, crews, elsewhere, now, choices=offered)


def _visits_without_crew(one: HouseBasis) -> list[Visit]:
    """Visits with work to come, not begun, that no crew has."""
    rows = one.rows
    taken = rows.begun_visits | set(rows.bookings)
    return [visit for visit in rows.visits_to_come if visit.pk not in taken]


def _read_house(house: House, plan: Plan, last_change: int | None, now: int) -> HouseBasis:
    rows = read_house_network(house)
    begun = rows.begun_visits
    told, stays = {}, set()
    for visit_id, booking in rows.bookings.items():
        near = passed = False
        if booking.state in MOVABLE and booking.told_start is not None and booking.told_finish is not None:
            passed = booking.told_start < now and visit_id not in begun
            ahead = telling.weekday_half_days(now, booking.told_start)
            near = not passed and ahead < 2 * house.builder.freeze_days
            if visit_id not in begun:
                told[visit_id] = (booking.told_start, booking.told_finish)
        confirmed = booking.confirmed_at is not None and not passed
        if booking.state in STAYING or confirmed or near or visit_id in begun:
            stays.add(visit_id)
    held = {}
    for one in rows.activities:
        start = told[one.visit_id][0] if one.visit_id in told else -1
        if one.actual_start is not None or one.actual_finish is not None:
            continue
        if one.visit_id is not None and start >= now:
            crew = rows.bookings[one.visit_id].crew
            held[one.pk] = FittedStart(
                activity=one, crew=crew, not_before=start, cause=FittedStart.Cause.TOLD
            )
        elif house.recorded_up_to < now:
            held[one.pk] = FittedStart(activity=one, not_before=now, cause=FittedStart.Cause.PASSED)
    return HouseBasis(house, plan, last_change, replace(rows, fitted=held), frozenset(stays), told)
