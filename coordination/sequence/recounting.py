"""Counting a house anew: its holds and network against the version of the sequence that it was set out from.

`holds.recount` compares the stored closure with the relationships and coverings of the house. Rows that were
taken away by hand are missing on both of its sides, so this looks at the sequence as well.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from coordination.people.refusals import BadInput
from coordination.sequence import holds, standard
from coordination.sequence.models import (
    Activity,
    Change,
    Covering,
    Detail,
    House,
    Installer,
    Place,
    Relationship,
)
from coordination.sequence.publishing import read_version
from coordination.sequence.set_out_rows import present_details

Pair = tuple[str, str]


def recount_network(house: House, resolved: standard.ResolvedSequence) -> list[str]:
    """What the house lacks of its sequence and of its own closure, one line each; empty is good.

    More than the sequence asks for is no fault: what had begun stays when a house moves to another version.
    """
    return [
        *holds.recount(house),
        *_compare_points(house, resolved),
        *_compare_relationships(house, resolved),
        *_compare_details(house, resolved),
        *_find_left_open(house),
    ]


def resolve_again(house: House) -> standard.ResolvedSequence | str:
    """The sequence that the house was set out from, or a line that says why it cannot be read."""
    try:
        return standard.resolve(read_version(house.sequence_version), house.features, list(house.options))
    except (BadInput, standard.FeatureErrors, standard.SequenceError) as problem:
        return f"{house}: its sequence {house.sequence_version} cannot be read: {problem}"


def foreseen_places(house: House) -> list[Place]:
    """The places that the house was set out with; what was found on site since then is not asked for."""
    found = {
        facts.get("key")
        for facts in Change.objects.filter(house=house, what="place found").values_list("facts", flat=True)
    }
    return [one for one in house.places.all() if one.key not in found]


def _compare_points(house: House, resolved: standard.ResolvedSequence) -> list[str]:
    """Points that hold by the sequence and do not in the house, and work that stands outside its visit."""
    there = {one.key: one for one in house.activities.select_related("visit")}
    found = [
        f"{house}: {one.id} holds by the sequence, and not in the house"
        for one in resolved.activities
        if one.holds and (one.id not in there or not there[one.id].holds)
    ]
    for visit in resolved.visits:
        for key in visit.activities:
            activity = there.get(key)
            if activity is None:
                found.append(f"{house}: {key} is asked for and is not in the house")
            elif activity.actual_start is not None:
                continue
            elif activity.visit is None or activity.visit.key != visit.key:
                found.append(f"{house}: {key} is not in its visit {visit.key}")
    return found


def _compare_relationships(house: House, resolved: standard.ResolvedSequence) -> list[str]:
    wanted = {
        (one.predecessor, one.successor)
        for one in resolved.relationships
        if one.type in holds.CARRYING and one.lag >= 0
    }
    carried = Relationship.objects.filter(house=house, kind__in=holds.CARRYING, lag__gte=0)
    there = set(carried.values_list("predecessor__key", "successor__key"))
    return [f"{house}: {before} is no longer before {then}" for before, then in sorted(wanted - there)]


def _compare_details(house: House, resolved: standard.ResolvedSequence) -> list[str]:
    """Details that are gone, are not judged where they should be, or lack who covers or who installs them."""
    present = [one for one, _where in present_details(resolved, foreseen_places(house))]
    there = {one.key: one for one in Detail.objects.filter(house=house).select_related("point")}
    points = set(Activity.objects.filter(house=house, is_point=True).values_list("key", flat=True))
    found = [f"{house}: detail {one.id} is gone" for one in present if one.id not in there]
    covered: dict[Pair, tuple[str | None, bool]] = {
        (detail, activity): (point, along)
        for detail, activity, point, along in Covering.objects.filter(detail__house=house).values_list(
            "detail__key", "activity__key", "point__key", "along"
        )
    }
    installed = set(Installer.objects.filter(detail__house=house).values_list("detail__key", "activity__key"))
    for one in present:
        if one.id not in there:
            continue
        point = one.point if one.point in points else None
        judged = there[one.id].point
        if (judged.key if judged else None) != point:
            found.append(f"{house}: {one.id} is not judged at {one.point}")
        found += _compare_coverings(house, one, point, covered)
        found += [
            f"{house}: {key} is no longer said to install {one.id}"
            for key in one.installed_by
            if (one.id, key) not in installed
        ]
    return found


def _compare_coverings(
    house: House,
    detail: standard.Detail,
    point: str | None,
    covered: Mapping[Pair, tuple[str | None, bool]],
) -> Iterable[str]:
    for key in detail.covered_by:
        there = covered.get((detail.id, key))
        if there is None:
            yield f"{house}: {key} is no longer said to cover {detail.id}"
        elif there != (point, key in detail.along):
            yield f"{house}: {key} covers {detail.id} otherwise than the sequence says"


def _find_left_open(house: House) -> Sequence[str]:
    """A house whose rewriting was begun and not finished: the database lets its network be taken apart."""
    lines = Change.objects.filter(house=house, what__in=("rewriting", "changed")).order_by("-pk")
    last = lines.values_list("what", flat=True).first()
    return [f"{house}: its rewriting was begun and never finished"] if last == "rewriting" else []
