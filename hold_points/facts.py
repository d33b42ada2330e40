"""From rows to facts: everything that decides about points, for many points in the same few queries."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from coordination import clock
from coordination.sequence.models import Activity, DetailPlace
from coordination.sequence.pricing import weigh_details
from hold_points.models import (
    Check,
    Evidence,
    Inspection,
    Nonconformity,
    Outcome,
    Release,
    Reopening,
    Statement,
)
from hold_points.point_facts import (
    CheckFacts,
    NonconformityFacts,
    OutcomeFacts,
    PhotographFacts,
    PointFacts,
    ReopeningFacts,
)
from hold_points.readiness import CheckState, Readiness, State, judge

Same = tuple[int, str, int | None]
"""Inspection, key and place: what the versions of one check have in common."""


@dataclass(frozen=True)
class PointRows:
    """The rows of one point, judged. `checks` are the current versions by id."""

    inspection: Inspection
    checks: Mapping[int, Check]
    readiness: Readiness
    evidence: Mapping[int, Sequence[Evidence]] = field(default_factory=dict)
    reopenings: tuple[Reopening, ...] = ()
    reopened_places: Mapping[int, tuple[str, ...]] = field(default_factory=dict)
    reopened_place_ids: Mapping[int, frozenset[int]] = field(default_factory=dict)
    releases: tuple[Release, ...] = ()
    nonconformities: Mapping[int, Nonconformity] = field(default_factory=dict)
    statements: Mapping[int, Sequence[Statement]] = field(default_factory=dict)
    """By check, what the trades stated for it, in any version of it; the latest last."""

    def state_of(self, check_id: int) -> CheckState | None:
        """The state of one of its checks; None for one that was replaced because the house changed."""
        return next((one for one in self.readiness.states if one.check.id == check_id), None)

    @property
    def reopened_at(self) -> dt.datetime | None:
        """When the point was last opened again."""
        return self.reopenings[-1].at if self.reopenings else None

    @property
    def reopened_names(self) -> tuple[str, ...]:
        """Rooms of every re-opening since the whole was released last, each once, in that order."""
        acts: list[tuple[dt.datetime, int, Release | Reopening]] = [
            *((one.at, 0, one) for one in self.reopenings),
            *((one.received_at, 1, one) for one in self.releases),
        ]
        signed: set[str] = set()
        names: dict[str, None] = {}
        for _at, _kind, one in sorted(acts, key=lambda act: act[:2]):
            if isinstance(one, Reopening):
                signed.clear()
                names |= dict.fromkeys(self.reopened_places.get(one.pk, ()))
                continue
            signed.add(one.section)
            if not one.section or set(self.sections) <= signed:
                names.clear()
        return tuple(names)

    @property
    def counting_releases(self) -> tuple[Release, ...]:
        """Releases after the latest re-opening, in order; earlier ones stay on the record only."""
        since = self.reopened_at
        return tuple(one for one in self.releases if since is None or one.received_at > since)

    @property
    def settled(self) -> frozenset[int]:
        """Nonconformities that ask nothing of a crew any more: conceded, or put right by own hand and waiting
        for the second person. They stay open, and are raised anew when somebody finds it wrong again."""
        states = {one.check.id: one.state for one in self.readiness.states}
        return frozenset(
            one.pk
            for check, one in self.nonconformities.items()
            if states[check] is State.SECOND_PERSON
            or (hasattr(one, "concession") and states[check] is not State.NOT_MET)
        )

    @property
    def sections(self) -> tuple[str, ...]:
        """Parts that may be released singly: the sections that have checks."""
        used = {check.section for check in self.checks.values()}
        named = [section for section in self.inspection.sections if section in used]
        # What is in no part waits for the whole; where there are no parts at all, there is nothing to name.
        rest = "" in used and (named or used != {""})
        return (*named, *sorted(used - set(named) - {""}), *([""] if rest else []))

    @property
    def released_sections(self) -> frozenset[str]:
        """Sections that are released, or all of them once the whole is."""
        counting = self.counting_releases
        if any(not one.section for one in counting):
            return frozenset(self.sections) or frozenset({""})
        return frozenset(one.section for one in counting)

    @property
    def released(self) -> bool:
        """Whether the whole is released: by one signature, or by its last part."""
        counting = self.counting_releases
        return any(not one.section for one in counting) or (
            bool(self.sections) and set(self.sections) <= set(self.released_sections)
        )


def load_points(inspection_ids: Iterable[int]) -> dict[int, PointRows]:
    """Rows and readiness of each inspection asked, in a fixed number of queries."""
    inspections = {
        one.pk: one
        for one in Inspection.objects.filter(pk__in=list(inspection_ids)).select_related(
            "point", "house__builder"
        )
    }
    checks: dict[int, dict[int, Check]] = {pk: {} for pk in inspections}
    current: dict[Same, int] = {}
    same_of: dict[int, Same] = {}
    every = Check.objects.filter(inspection__in=inspections).select_related("place", "detail")
    for check in every:
        same_of[check.pk] = (check.inspection_id, check.key, check.place_id)
        if check.withdrawn_at is None:
            checks[check.inspection_id][check.pk] = check
            current[same_of[check.pk]] = check.pk
    outcomes = _load_outcomes(inspections)
    photos = _load_photos(inspections, checks, same_of, current)
    statements = _load_statements(checks, same_of, current)
    open_ones, troubles = _load_nonconformities(inspections, same_of, current)
    reopenings, places, names = _load_reopenings(inspections)
    releases: dict[int, list[Release]] = {}
    for release in Release.objects.filter(inspection__in=inspections).select_related("by"):
        releases.setdefault(release.inspection_id, []).append(release)
    placed = _load_placed(inspections)
    costs = weigh_details(check.detail for members in checks.values() for check in members.values())
    return {
        pk: PointRows(
            inspection,
            checks[pk],
            judge(
                PointFacts(
                    [_describe(check, inspection, placed, costs) for check in checks[pk].values()],
                    outcomes,
                    {
                        check: [PhotographFacts(one.received_at, one.outcome_id, one.by_id) for one in found]
                        for check, found in photos.items()
                    },
                    troubles,
                    [ReopeningFacts(one.at, places[one.pk]) for one in reopenings.get(pk, ())],
                    {check: [one.received_at for one in found] for check, found in statements.items()},
                )
            ),
            {check: found for check, found in photos.items() if check in checks[pk]},
            tuple(reopenings.get(pk, ())),
            {one.pk: names[one.pk] for one in reopenings.get(pk, ())},
            {one.pk: places[one.pk] for one in reopenings.get(pk, ())},
            tuple(releases.get(pk, ())),
            {check: one for check, one in open_ones.items() if check in checks[pk]},
            {check: found for check, found in statements.items() if check in checks[pk]},
        )
        for pk, inspection in inspections.items()
    }


def load_point(inspection: Inspection) -> PointRows:
    """Rows and readiness of one inspection, freshly read."""
    return load_points([inspection.pk])[inspection.pk]


def _describe(
    check: Check, inspection: Inspection, placed: set[tuple[int, int]], costs: Mapping[int, float]
) -> CheckFacts:
    detail, place = check.detail, check.place
    return CheckFacts(
        id=check.pk,
        key=check.key,
        text=check.text,
        kind=check.kind,
        section=check.section,
        subject=detail.name if detail else "",
        place=check.place_id,
        place_name=place.name if place else "",
        needs=check.evidence,
        safety=check.safety,
        placed=check.found_on_site or detail is None or place is None or (detail.pk, place.pk) in placed,
        drawn=bool(check.sample.get("drawn", True)),
        by_photograph=inspection.point.point_kind == Activity.PointKind.PHOTO,
        cost=costs[detail.pk] if detail else 0.0,
    )


def _load_placed(inspections: Iterable[int]) -> set[tuple[int, int]]:
    return set(
        DetailPlace.objects.filter(detail__checks__inspection__in=list(inspections))
        .values_list("detail_id", "place_id")
        .distinct()
    )


def _load_outcomes(inspections: Iterable[int]) -> dict[int, list[OutcomeFacts]]:
    found: dict[int, list[OutcomeFacts]] = {}
    for one in Outcome.objects.filter(check_judged__inspection__in=inspections).order_by("received_at", "pk"):
        found.setdefault(one.check_judged_id, []).append(
            OutcomeFacts(
                one.kind,
                one.by_id,
                one.at,
                one.role,
                one.own_hand,
                one.note,
                one.value,
                one.received_at,
                one.pk,
            )
        )
    return found


def _load_photos(
    inspections: Iterable[int],
    checks: Mapping[int, Mapping[int, Check]],
    same_of: Mapping[int, Same],
    current: Mapping[Same, int],
) -> dict[int, list[Evidence]]:
    """Evidence by current check: shown for it, of its outcome, or of its detail and place."""
    found: dict[int, list[Evidence]] = {}
    by_detail: dict[tuple[int, int, int | None], list[int]] = {}
    for pk, members in checks.items():
        for check in members.values():
            if check.detail_id is not None:
                by_detail.setdefault((pk, check.detail_id, check.place_id), []).append(check.pk)
    rows = Evidence.objects.filter(inspection__in=inspections).select_related(
        "outcome", "nonconformity", "by", "crew"
    )
    for one in rows.order_by("received_at", "pk"):
        named = (
            one.check_shown_id,
            one.outcome.check_judged_id if one.outcome else None,
            one.nonconformity.check_failed_id if one.nonconformity else None,
        )
        shown = {current.get(same_of[check]) for check in named if check is not None}
        if not shown and one.detail_id is not None and one.inspection_id is not None:
            shown = set(by_detail.get((one.inspection_id, one.detail_id, one.place_id), ()))
        for check_id in shown:
            if check_id is not None:
                found.setdefault(check_id, []).append(one)
    return found


def _load_statements(
    checks: Mapping[int, Mapping[int, Check]], same_of: Mapping[int, Same], current: Mapping[Same, int]
) -> dict[int, list[Statement]]:
    """Statements by current check; nothing is asked where no check wants one."""
    asking = {
        same_of[pk]
        for ones in checks.values()
        for pk, one in ones.items()
        if one.evidence == Check.Evidence.STATEMENT
    }
    if not asking:
        return {}
    versions = [pk for pk, same in same_of.items() if same in asking]
    found: dict[int, list[Statement]] = {}
    rows = Statement.objects.filter(check_stated__in=versions).select_related("crew")
    for one in rows.order_by("received_at", "pk"):
        found.setdefault(current[same_of[one.check_stated_id]], []).append(one)
    return found


def _load_nonconformities(
    inspections: Iterable[int], same_of: Mapping[int, Same], current: Mapping[Same, int]
) -> tuple[dict[int, Nonconformity], dict[int, NonconformityFacts]]:
    rows: dict[int, Nonconformity] = {}
    facts: dict[int, NonconformityFacts] = {}
    found = (
        Nonconformity.objects.filter(check_failed__inspection__in=inspections)
        .exclude(state=Nonconformity.State.CLOSED)
        .select_related("crew", "concession", "raised_by")
        .order_by("pk")
    )
    for one in found:
        check = current.get(same_of[one.check_failed_id]) if one.check_failed_id is not None else None
        if check is None:
            continue
        rows[check] = one
        facts[check] = NonconformityFacts(
            one.pk,
            one.crew.name if one.crew else "",
            "" if one.put_right_until is None else clock.say_half_day(one.put_right_until),
            one.state == Nonconformity.State.PUT_RIGHT,
            one.concession.at if hasattr(one, "concession") else None,
        )
    return rows, facts


def _load_reopenings(
    inspections: Iterable[int],
) -> tuple[dict[int, list[Reopening]], dict[int, frozenset[int]], dict[int, tuple[str, ...]]]:
    rows: dict[int, list[Reopening]] = {}
    places: dict[int, frozenset[int]] = {}
    names: dict[int, tuple[str, ...]] = {}
    found = (
        Reopening.objects.filter(inspection__in=inspections).prefetch_related("places").order_by("at", "pk")
    )
    for one in found:
        rows.setdefault(one.inspection_id, []).append(one)
        opened = list(one.places.all())
        places[one.pk] = frozenset(place.pk for place in opened)
        names[one.pk] = tuple(place.name for place in opened)
    return rows, places, names
