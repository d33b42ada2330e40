"""One detail across all houses of a builder: where it stands in each, its window, its latest photograph.

A detail is known by its key, which it keeps from version to version and in every sequence that includes the
same base. The queries are the same few however many houses there are.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from coordination.people.models import Builder
from coordination.sequence.calendars import calendar_key, read_stored
from coordination.sequence.costs_told import tell_costs
from coordination.sequence.misses_told import MissTold
from coordination.sequence.models import (
    Activity,
    Covering,
    Detail,
    Hold,
    House,
    Installer,
    Plan,
    PlannedWindow,
)
from coordination.sequence.queries.facts import last_worked_before, latest_plans
from hold_points.facts import PointRows, load_points
from hold_points.installing import live_bookings
from hold_points.models import Evidence, Inspection
from hold_points.rates import Rate, count_rates
from hold_points.readiness import CheckState, State


class Stand(StrEnum):
    """Where a detail stands in a house, what asks for somebody first."""

    NOT_MET = "not-met"
    NOT_SEEN = "not-seen"
    OPEN = "open"
    CONCEDED = "conceded"
    PUT_RIGHT = "put-right"
    MET = "met"
    NOT_HERE = "not-here"
    SAMPLED = "not-in-the-sample"
    NOT_RECORDED = "not-recorded"
    NOTHING_ASKED = "nothing-asked"

    @property
    def asks(self) -> bool:
        """Whether somebody still has to do something about it."""
        return self in (Stand.NOT_MET, Stand.NOT_SEEN, Stand.OPEN)


FIRST_STATE = (
    (State.NOT_MET, Stand.NOT_MET),
    (State.NOT_SEEN, Stand.NOT_SEEN),
    (State.OPEN, Stand.OPEN),
    (State.NO_EVIDENCE, Stand.OPEN),
    (State.SECOND_PERSON, Stand.OPEN),
    (State.NOT_HERE_ASKED, Stand.OPEN),
    (State.CONCESSION, Stand.CONCEDED),
    (State.PUT_RIGHT, Stand.PUT_RIGHT),
    (State.MET, Stand.MET),
    (State.NOT_HERE, Stand.NOT_HERE),
    (State.NOT_DRAWN, Stand.SAMPLED),
)
"""A house stands where the first of these that one of its checks is in puts it."""
URGENCY = {state: place for place, (state, _stand) in enumerate(FIRST_STATE)}


@dataclass(frozen=True)
class Work:
    """A visit that makes the detail or buries it: its name, the crew that has it, and what it has done."""

    visit: str
    crew: str
    begun: bool
    finished: bool


@dataclass(frozen=True)
class Judged:
    """The checks of the detail at one point, with where to go for them."""

    inspection: Inspection
    states: tuple[CheckState, ...]
    open_check: int | None
    """The check to be looked at first, where one asks for it."""
    released: bool
    set_aside: bool


@dataclass(frozen=True)
class InHouse:
    """The detail in one house.

    Attributes:
        due_by_end_of: for a point that takes no time, the last half-day worked before it; else None.
        told: what is to be done, line by line.
    """

    detail: Detail
    stand: Stand
    window: PlannedWindow | None
    due_by_end_of: int | None
    made_by: tuple[Work, ...]
    buried_by: tuple[Work, ...]
    judged: tuple[Judged, ...]
    told: tuple[str, ...]
    photograph: Evidence | None
    miss: MissTold | None

    @property
    def house(self) -> House:
        return self.detail.house

    @property
    def point(self) -> Activity | None:
        return self.detail.point

    @property
    def made(self) -> bool:
        """Whether everyone who makes it has finished."""
        return bool(self.made_by) and all(one.finished for one in self.made_by)

    @property
    def burying(self) -> bool:
        """Whether something that buries it has begun."""
        return any(one.begun for one in self.buried_by)

    @property
    def unseen(self) -> bool:
        """Whether it disappears although somebody still has to do something about it."""
        return self.burying and self.stand.asks


@dataclass(frozen=True)
class Across:
    """One detail in all its houses; `rate`: how often its checks were met at the first look."""

    name: str
    rows: tuple[InHouse, ...]
    rate: Rate

    def count(self) -> Mapping[Stand, int]:
        """How many houses stand where, in the order of the states."""
        counts = Counter(one.stand for one in self.rows)
        return {stand: counts[stand] for stand in Stand if counts[stand]}


def name_details(houses: QuerySet[House]) -> dict[str, tuple[str, str]]:
    """Name of a detail → slug of its builder and key, for lists by name; the newest house counts."""
    rows = Detail.objects.filter(house__in=houses).order_by("house_id", "pk")
    found = rows.values_list("name", "house__builder__slug", "key")
    return {name: (slug, key) for name, slug, key in found}


def read_across(builder: Builder, key: str) -> Across | None:
    """The detail of that key in every house of the builder; None where no house has it."""
    details = list(
        Detail.objects.filter(house__builder=builder, key=key)
        .select_related("house__builder", "house__calendar", "point")
        .order_by("-house_id")
    )
    if not details:
        return None
    ids = [one.pk for one in details]
    plans = latest_plans([one.house_id for one in details])
    windows = {
        one.detail_id: one for one in PlannedWindow.objects.filter(plan__in=plans.values(), detail__in=ids)
    }
    making, burying = _read_work(ids)
    judged = _read_judged(ids)
    costs = tell_costs(details)
    rows = [
        InHouse(
            detail=one,
            stand=_stand_of(judged.points[one.pk]),
            window=windows.get(one.pk),
            due_by_end_of=_find_end(one, windows.get(one.pk), plans),
            made_by=making[one.pk],
            buried_by=burying[one.pk],
            judged=judged.points[one.pk],
            told=tuple(_tell(state for point in judged.points[one.pk] for state in point.states)),
            photograph=judged.photographs.get(one.pk),
            miss=costs.get(one.pk),
        )
        for one in details
    ]
    order = list(Stand)
    rows.sort(key=lambda row: (order.index(row.stand), _next_day(row), row.house.name, row.house.pk))
    looks = [
        (key, state.first_time)
        for row in rows
        for point in row.judged
        for state in point.states
        if state.first_time is not None
    ]
    return Across(details[0].name, tuple(rows), count_rates(looks).get(key, Rate(0, 0)))


def _next_day(row: InHouse) -> int:
    """What asks for somebody goes by the day of its walk; the rest stands by name."""
    return row.window.due if row.window is not None and row.stand.asks else 0


def _find_end(detail: Detail, window: PlannedWindow | None, plans: Mapping[int, Plan]) -> int | None:
    if window is None or detail.point is None or detail.point.half_days:
        return None
    house = detail.house
    calendars = read_stored(plans[house.pk].calendars)
    return last_worked_before(window.due, calendars.get(calendar_key(house.calendar_id)))


def _read_work(details: Iterable[int]) -> tuple[dict[int, tuple[Work, ...]], dict[int, tuple[Work, ...]]]:
    """By detail: the visits that make it and those that bury it."""
    ids = list(details)
    installers = Installer.objects.filter(detail__in=ids).select_related("activity__visit")
    coverings = Covering.objects.filter(detail__in=ids).select_related("activity__visit")
    kinds = [
        [(one.detail_id, one.activity) for one in installers.order_by("activity__order")],
        [(one.detail_id, one.activity) for one in coverings.order_by("activity__order")],
    ]
    visits = {work.visit_id for links in kinds for _detail, work in links if work.visit_id is not None}
    crews = {visit: one.crew.name for visit, one in live_bookings(visits).items()}
    found: list[dict[int, tuple[Work, ...]]] = []
    for links in kinds:
        by_visit: dict[int, dict[int, list[Activity]]] = {pk: defaultdict(list) for pk in ids}
        for detail, work in links:
            by_visit[detail][work.visit_id or -work.pk].append(work)
        found.append(
            {pk: tuple(_tell_work(one, crews) for one in ones.values()) for pk, ones in by_visit.items()}
        )
    return found[0], found[1]


def _tell_work(work: list[Activity], crews: Mapping[int, str]) -> Work:
    visit = work[0].visit
    return Work(
        visit=visit.name if visit is not None else work[0].name,
        crew=crews.get(visit.pk, "") if visit is not None else "",
        begun=any(one.actual_start is not None for one in work),
        finished=all(one.actual_finish is not None for one in work),
    )


@dataclass(frozen=True)
class _JudgedDetails:
    points: Mapping[int, tuple[Judged, ...]]
    photographs: Mapping[int, Evidence]


def _read_judged(details: list[int]) -> _JudgedDetails:
    """By detail: its checks at their points, and the photograph that came in last."""
    asked = Inspection.objects.filter(checks__detail__in=details, checks__withdrawn_at=None).distinct()
    loaded = load_points(asked.values_list("pk", flat=True))
    aside = set(
        Hold.objects.filter(point__inspection__in=loaded, set_aside_at__isnull=False).values_list(
            "point__inspection", flat=True
        )
    )
    points: dict[int, list[Judged]] = {pk: [] for pk in details}
    latest: dict[int, Evidence] = {}
    for rows in sorted(loaded.values(), key=lambda one: one.inspection.point.order):
        for detail, states in _by_detail(rows).items():
            if detail not in points:
                continue
            first = min(states, key=lambda one: URGENCY[one.state])
            points[detail].append(
                Judged(
                    inspection=rows.inspection,
                    states=tuple(states),
                    open_check=None if first.passes or rows.inspection.pk in aside else first.check.id,
                    released=rows.released,
                    set_aside=rows.inspection.pk in aside,
                )
            )
            for state in states:
                for photo in rows.evidence.get(state.check.id, ()):
                    if detail not in latest or photo.received_at >= latest[detail].received_at:
                        latest[detail] = photo
    return _JudgedDetails({pk: tuple(found) for pk, found in points.items()}, latest)


def _by_detail(rows: PointRows) -> dict[int, list[CheckState]]:
    found: dict[int, list[CheckState]] = defaultdict(list)
    for state in rows.readiness.states:
        detail = rows.checks[state.check.id].detail_id
        if detail is not None:
            found[detail].append(state)
    return found


def _stand_of(points: tuple[Judged, ...]) -> Stand:
    if not points:
        return Stand.NOTHING_ASKED
    if all(one.set_aside for one in points):
        return Stand.NOT_RECORDED
    states = {state.state for one in points if not one.set_aside for state in one.states}
    return next(stand for state, stand in FIRST_STATE if state in states)


def _tell(states: Iterable[CheckState]) -> Iterable[str]:
    """How many of its checks were looked at, what was not met and who has it, and what else is missing."""
    asked = [one for one in states if one.state is not State.NOT_DRAWN]
    looked = sum(one.latest is not None or one.state is not State.OPEN for one in asked)
    if asked:
        words = ngettext(
            "%(done)d of %(all)d check looked at", "%(done)d of %(all)d checks looked at", len(asked)
        )
        yield words % {"done": looked, "all": len(asked)}
    for one in asked:
        if one.state is State.NOT_MET:
            yield _tell_not_met(one)
    missing = {
        State.NO_EVIDENCE: _("%(n)d without its photograph or document"),
        State.SECOND_PERSON: _("%(n)d for a second person to close"),
        State.NOT_HERE_ASKED: _("%(n)d said not to be on this house: the planner confirms"),
    }
    counts = Counter(one.state for one in asked)
    for state, words in missing.items():
        if counts[state]:
            yield words % {"n": counts[state]}


def _tell_not_met(one: CheckState) -> str:
    where = one.check.place_name or _("whole house")
    trouble = one.nonconformity
    if trouble is None:
        return where
    if trouble.said_done:
        return _("%(where)s: said to be put right, look again") % {"where": where}
    facts = {"where": where, "crew": trouble.with_whom or _("nobody yet"), "until": trouble.until}
    if trouble.until:
        return _("%(where)s: with %(crew)s, put right until %(until)s") % facts
    return _("%(where)s: with %(crew)s") % facts
