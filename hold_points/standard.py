"""Which checks a house's points have: from its resolved sequence to checks, place by place."""

from __future__ import annotations

import math
import secrets
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from coordination import clock
from coordination.sequence import standard as library
from coordination.sequence.misses_told import weight_of
from coordination.sequence.models import Activity, Detail, House, Place
from coordination.sequence.standard import ResolvedSequence, drawing_for, limit_for, places_for
from hold_points.models import Check, Inspection
from hold_points.walking_order import order_of, rank_places

Wanted = tuple[int, str, int | None]
"""Inspection, key and place of a check."""

JUDGED_BY = ("text", "kind", "unit", "compare", "limit", "limit_high", "evidence", "safety", "section")
"""What a check says. When one of these changes, what was found before no longer answers it."""

FOLLOWED = (
    "order",
    "detail_id",
    "why_limit",
    "source",
    "applies",
    "sure",
    "caution",
    "remote_closing",
    "drawing",
    "drawing_numbers",
)
"""What goes with a check and may change without asking it anew."""


def set_out_checks(house: House, resolved: ResolvedSequence) -> None:
    """Make the inspections of every point and the checks of every place of a house just set out."""
    wanted = describe_checks(house, resolved, _make_inspections(house, resolved))
    Check.objects.bulk_create(wanted.values())


@dataclass(frozen=True)
class Changed:
    """What a change of features did to the checks: `asked` are new or new in version."""

    asked: tuple[Check, ...]
    withdrawn: tuple[Check, ...]


def change_checks(house: House, resolved: ResolvedSequence) -> Changed:
    """Bring checks in line with the house: only those whose question changed get a new version."""
    wanted = describe_checks(house, resolved, _make_inspections(house, resolved))
    wanted |= _describe_found(house, wanted)
    now = clock.now()
    versions: dict[Wanted, int] = {}
    current: dict[Wanted, Check] = {}
    for check in Check.objects.filter(inspection__house=house):
        same = (check.inspection_id, check.key, check.place_id)
        versions[same] = max(versions.get(same, 0), check.version)
        if check.withdrawn_at is None:
            current[same] = check
    asked: list[Check] = []
    followed: list[Check] = []
    withdrawn = [check for same, check in current.items() if same not in wanted]
    for same, fresh in wanted.items():
        there = current.get(same)
        if there is not None and all(getattr(there, one) == getattr(fresh, one) for one in JUDGED_BY):
            sample = _follow_sample(there, fresh)
            if sample != there.sample or any(getattr(there, one) != getattr(fresh, one) for one in FOLLOWED):
                there.sample = sample
                for one in FOLLOWED:
                    setattr(there, one, getattr(fresh, one))
                followed.append(there)
            continue
        if there is not None:
            withdrawn.append(there)
            fresh.sample = _follow_sample(there, fresh) or fresh.sample
        fresh.version = versions.get(same, 0) + 1
        asked.append(fresh)
    for check in withdrawn:
        check.withdrawn_at = now
    Check.objects.bulk_update(withdrawn, ["withdrawn_at"])
    Check.objects.bulk_create(asked)
    Check.objects.bulk_update(followed, ["sample", *(one.removesuffix("_id") for one in FOLLOWED)])
    return Changed(tuple(asked), tuple(withdrawn))


def _follow_sample(there: Check, fresh: Check) -> dict[str, object]:
    """The sample of a check that stays: as large as the house asks for now, where drawn; or as settled."""
    if "severity" in there.sample or not there.sample or not fresh.sample:
        return dict(there.sample)
    return {**fresh.sample, "drawn": there.sample.get("drawn", True)}


def _describe_found(house: House, wanted: Mapping[Wanted, Check]) -> dict[Wanted, Check]:
    """What was found on site is asked on: as the same check is asked elsewhere now, else as it was."""
    found: dict[Wanted, Check] = {}
    elsewhere = {(inspection, key): check for (inspection, key, _place), check in wanted.items()}
    there = Check.objects.filter(inspection__house=house, found_on_site=True, withdrawn_at=None)
    for check in there.select_related("detail", "place"):
        same = (check.inspection_id, check.key, check.place_id)
        template = elsewhere.get((check.inspection_id, check.key))
        if same in wanted or (template is None and check.detail_id is not None):
            # The set-out knows it by now; or the detail is on this house no more.
            continue
        source = template or check
        values = {one: getattr(source, one) for one in (*JUDGED_BY, *FOLLOWED) if one != "order"}
        found[same] = Check(
            inspection_id=check.inspection_id,
            key=check.key,
            place=check.place,
            order=check.order,
            found_on_site=True,
            **values,
        )
    return found


def _make_inspections(house: House, resolved: ResolvedSequence) -> dict[str, Inspection]:
    """One inspection for each point of the house, by the point's key."""
    points = {one.key: one for one in Activity.objects.filter(house=house, is_point=True)}
    there = {one.point_id: one for one in Inspection.objects.filter(house=house)}
    said = {one.id: one for one in resolved.activities if one.is_point}
    fresh = [
        Inspection(house=house, point=point, sections=list(said[key].sections), content=said[key].content)
        for key, point in points.items()
        if key in said and point.pk not in there
    ]
    Inspection.objects.bulk_create(fresh)
    for key, point in points.items():
        inspection = there.get(point.pk)
        if inspection is not None and key in said:
            inspection.sections, inspection.content = list(said[key].sections), said[key].content
    Inspection.objects.bulk_update(there.values(), ["sections", "content"])
    keys = {point.pk: key for key, point in points.items()}
    return {keys[one.point_id]: one for one in (*there.values(), *fresh) if one.point_id in keys}


def describe_checks(
    house: House,
    resolved: ResolvedSequence,
    inspections: Mapping[str, Inspection],
    places: Sequence[Place] | None = None,
) -> dict[Wanted, Check]:
    """The checks that this house asks for, unsaved, by inspection, key and place, in walking order.

    Args:
        places: where to ask them; all places of the house, unless some are left out.
    """
    places = list(Place.objects.filter(house=house)) if places is None else places
    ranks = rank_places(places)
    details = {one.key: one for one in Detail.objects.filter(house=house)}
    rows = {one.id: one for one in resolved.details}
    wanted: dict[Wanted, Check] = {}
    numbers = _number_checks(resolved, details)
    for check in resolved.checks:
        inspection = inspections.get(check.point)
        if inspection is None:
            continue
        asked_in = _find_places(check, rows.get(check.detail), places, resolved)
        template = _describe(check, rows.get(check.detail), resolved)
        drawn = _draw(check, asked_in)
        for place in asked_in:
            rank = ranks[place.pk] if place else 0
            detail = details.get(check.detail)
            one = Check(
                inspection=inspection,
                key=check.id,
                place=place,
                detail=detail,
                order=order_of(rank, f"{detail.name if detail else ''} {check.text}", numbers[check.id]),
                sample=_sample(check, place in drawn),
                **template,
            )
            wanted[(inspection.pk, check.id, place.pk if place else None)] = one
    return dict(sorted(wanted.items(), key=lambda item: (item[1].inspection_id, item[1].order)))


def _number_checks(resolved: ResolvedSequence, details: Mapping[str, Detail]) -> dict[str, int]:
    """Numbers by danger, then by what a miss costs, else as listed: the order on one surface of a room."""

    def weight(check: library.Check) -> tuple[bool, float]:
        detail = details.get(check.detail)
        return check.safety, (weight_of(detail.miss) if detail else 0.0)

    ordered = sorted(resolved.checks, key=weight, reverse=True)
    return {check.id: number for number, check in enumerate(ordered)}


def _find_places(
    check: library.Check, detail: library.Detail | None, places: Sequence[Place], resolved: ResolvedSequence
) -> list[Place | None]:
    """Where a check is asked: its own places, else those of its detail; None stands for the whole house."""
    if check.once:
        return [None]
    found = places_for(check, places, resolved.entry)
    if found is None and detail is not None:
        found = places_for(detail, places, resolved.entry)
    return [None] if found is None else list(found)


def _describe(
    check: library.Check, detail: library.Detail | None, resolved: ResolvedSequence
) -> dict[str, object]:
    limit = limit_for(check, resolved.features)
    drawing = drawing_for(detail, resolved.features) if detail else None
    return {
        "section": check.section,
        "text": check.text[:300],
        "kind": check.kind,
        "unit": limit.unit[:20] if limit else "",
        "compare": limit.compare if limit else "",
        "limit": limit.value if limit else None,
        "limit_high": limit.value_high if limit else None,
        "why_limit": limit.formula[:300] if limit else "",
        "source": ((limit.source if limit else "") or check.source)[:300],
        "applies": limit.applies[:200] if limit else "",
        "sure": ((limit.sure if limit else "") or check.sure)[:40],
        "evidence": _strictest(check.evidence),
        "safety": check.safety,
        "caution": detail.caution[:300] if detail else "",
        "remote_closing": check.remote,
        "drawing": drawing[0] if drawing else "",
        "drawing_numbers": drawing[1] if drawing else {},
    }


def _strictest(evidence: Iterable[str]) -> str:
    """The one evidence that the check needs: the tape is in the photograph, a photograph shows a document."""
    for one in (
        Check.Evidence.TAPE,
        Check.Evidence.PHOTO,
        Check.Evidence.DOCUMENT,
        Check.Evidence.STATEMENT,
    ):
        if one in evidence:
            return one
    return Check.Evidence.NONE


def _draw(check: library.Check, places: Sequence[Place | None]) -> set[Place | None]:
    """The places that a sample looks at, drawn at random so that no crew knows them; all without a share.

    So many of them that the least number of pieces in the house is reached.
    """
    sampling = check.sampling
    share = sampling.share
    if sampling.rule == "every" or share >= 1 or None in places:
        return set(places)
    enough = math.ceil(sampling.least / max(sampling.number, 1))
    count = min(len(places), max(1, math.ceil(share * len(places)), enough))
    return set(secrets.SystemRandom().sample(list(places), count))


def _sample(check: library.Check, drawn: bool) -> dict[str, object]:
    if check.sampling.rule == "every":
        return {}
    return {
        "number": check.sampling.number,
        "least": check.sampling.least,
        "of": check.sampling.of,
        "drawn": drawn,
    }
