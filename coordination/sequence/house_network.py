"""A house's network as rows: read once, in few queries, for whoever computes or shows it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from django.db.models import Sum

from coordination.people.models import Crew
from coordination.sequence.models import (
    Activity,
    Booking,
    Covering,
    Delay,
    Detail,
    FittedStart,
    House,
    Installer,
    LongestGap,
    Relationship,
    Visit,
)


@dataclass(frozen=True)
class WhatIf:
    """A change that is only imagined: what would move if it were made.

    Attributes:
        delays: activity key → half-days added to its work (negative: taken off).
        not_before: activity key → half-day before which it does not start.
        crews: visit key → the crew that would do it (its calendar and word time count).
    """

    delays: Mapping[str, int] = field(default_factory=dict)
    not_before: Mapping[str, int] = field(default_factory=dict)
    crews: Mapping[str, Crew] = field(default_factory=dict)


NOTHING = WhatIf()


@dataclass(frozen=True)
class HouseNetwork:
    """Activities, relationships, details and the crews that hold a live booking, of one house."""

    house: House
    activities: tuple[Activity, ...]
    relationships: tuple[Relationship, ...]
    details: tuple[Detail, ...]
    installers: Mapping[int, tuple[int, ...]]
    """Detail id → ids of the activities that install it."""
    coverings: Mapping[int, tuple[Covering, ...]]
    gaps: tuple[LongestGap, ...]
    delays: Mapping[int, int]
    """Activity id → half-days added, all delays together."""
    bookings: Mapping[int, Booking]
    """Visit id → its live booking, with crew and calendar."""
    fitted: Mapping[int, FittedStart] = field(default_factory=dict)
    """Activity id → the start that stands from a fit to the crews."""

    @cached_property
    def by_id(self) -> dict[int, Activity]:
        """Activities by database id."""
        return {activity.pk: activity for activity in self.activities}

    @cached_property
    def by_key(self) -> dict[str, Activity]:
        """Activities by key."""
        return {activity.key: activity for activity in self.activities}

    @cached_property
    def names(self) -> dict[str, str]:
        """Activity key → name, as `say_reason` wants it."""
        return {activity.key: activity.name for activity in self.activities}

    @cached_property
    def begun_visits(self) -> frozenset[int]:
        """Ids of the visits in which work has begun."""
        return frozenset(
            one.visit_id for one in self.activities if one.visit_id and one.actual_start is not None
        )

    @cached_property
    def visits_to_come(self) -> tuple[Visit, ...]:
        """Visits with work that is not finished, in the order of the activities."""
        found = {
            one.visit.pk: one.visit
            for one in self.activities
            if one.visit is not None and one.actual_finish is None
        }
        return tuple(found.values())

    @property
    def stake(self) -> Activity | None:
        """The activity that 'float to the linings' means."""
        return next((activity for activity in self.activities if activity.is_stake), None)

    def crew_of(self, activity: Activity, what_if: WhatIf = NOTHING) -> Crew | None:
        """The crew that has the activity's visit, or would have it."""
        if activity.visit is None:
            return None
        if activity.visit.key in what_if.crews:
            return what_if.crews[activity.visit.key]
        booking = self.bookings.get(activity.visit.pk)
        return booking.crew if booking else None

    def fitted_start_of(self, activity: Activity, what_if: WhatIf = NOTHING) -> FittedStart | None:
        """The fitted start that holds the activity: not once it has begun, or its visit has another crew.

        One without crew holds whoever has the visit.
        """
        fitted = self.fitted.get(activity.pk)
        if fitted is None or activity.actual_start is not None:
            return None
        if fitted.crew_id is None:
            return fitted
        crew = self.crew_of(activity, what_if)
        return fitted if crew is not None and crew.pk == fitted.crew_id else None

    def half_days_of(self, activity: Activity, what_if: WhatIf = NOTHING) -> int:
        """Duration with all delays, never below nothing."""
        added = self.delays.get(activity.pk, 0) + what_if.delays.get(activity.key, 0)
        return max(0, activity.half_days + added)


def read_house_network(house: House) -> HouseNetwork:
    """Read a house's network in nine queries, whatever its size."""
    installers: dict[int, list[int]] = defaultdict(list)
    for installer in Installer.objects.filter(detail__house=house).order_by("pk"):
        installers[installer.detail_id].append(installer.activity_id)
    coverings: dict[int, list[Covering]] = defaultdict(list)
    for covering in Covering.objects.filter(detail__house=house).order_by("pk"):
        coverings[covering.detail_id].append(covering)
    delays = (
        Delay.objects.filter(activity__house=house)
        .order_by()
        .values_list("activity")
        .annotate(total=Sum("half_days"))
    )
    bookings = Booking.objects.filter(house=house, state__in=Booking.LIVE).select_related("crew__company")
    return HouseNetwork(
        house=house,
        activities=tuple(house.activities.select_related("trade", "visit").order_by("order", "pk")),
        relationships=tuple(house.relationships.order_by("pk")),
        details=tuple(house.details.order_by("order", "pk")),
        installers={detail: tuple(ids) for detail, ids in installers.items()},
        coverings={detail: tuple(rows) for detail, rows in coverings.items()},
        gaps=tuple(house.longest_gaps.order_by("pk")),
        delays=dict(delays),
        bookings={booking.visit_id: booking for booking in bookings},
        fitted={
            one.activity_id: one
            for one in FittedStart.objects.filter(activity__house=house).select_related("crew")
        },
    )
