"""Visits: one trade at one house over consecutive activities.

The sequence names them. Where it does not, activities of one trade with the same holds before them,
joined by a relationship FS 0 or SS, form one; such a visit takes its key from its first activity.
"""

from __future__ import annotations

from dataclasses import replace

from coordination.sequence.library.entry import Activity, ResolvedSequence, Visit
from coordination.sequence.library.network import holds_before_each
from coordination.sequence.library.rows import NAME


def group_visits(resolved: ResolvedSequence) -> ResolvedSequence:
    """The sequence with a visit for every activity that is not a point, visits in order of first activity."""
    work = [activity for activity in resolved.activities if not activity.is_point]
    key_of = {activity.id: activity.visit for activity in work if activity.visit}
    taken = set(key_of.values())
    for group in _find_unnamed_groups(resolved, [activity for activity in work if not activity.visit]):
        key = group[0].id
        while key in taken:
            key += "-visit"
        taken.add(key)
        key_of |= {activity.id: key for activity in group}
    members: dict[str, list[Activity]] = {}
    for activity in work:
        members.setdefault(key_of[activity.id], []).append(activity)
    return replace(
        resolved,
        activities=tuple(
            activity if activity.is_point else replace(activity, visit=key_of[activity.id])
            for activity in resolved.activities
        ),
        visits=tuple(_make_visit(resolved, key, activities) for key, activities in members.items()),
    )


def _make_visit(resolved: ResolvedSequence, key: str, activities: list[Activity]) -> Visit:
    name = resolved.entry.visit_names.get(key) or "; ".join(activity.name for activity in activities)
    if len(name) > NAME:
        name = f"{activities[0].name[: NAME - 10]} and more"
    deliveries = [activity.delivery for activity in activities if activity.delivery]
    return Visit(
        key=key,
        name=name,
        trade=activities[0].trade,
        activities=tuple(activity.id for activity in activities),
        delivery=deliveries[0] if deliveries else None,
    )


def joined_pairs(resolved: ResolvedSequence) -> list[tuple[Activity, Activity]]:
    """Pairs of one trade with the same holds before them, joined by FS 0 or SS: one visit could do both."""
    holds = holds_before_each(resolved.activities, resolved.relationships)
    work = {activity.id: activity for activity in resolved.activities if not activity.is_point}
    pairs = []
    for link in resolved.relationships:
        first, second = work.get(link.predecessor), work.get(link.successor)
        if first is None or second is None or first.trade != second.trade:
            continue
        if (link.type == "SS" or (link.type == "FS" and link.lag == 0)) and holds[first.id] == holds[
            second.id
        ]:
            pairs.append((first, second))
    return pairs


def _find_unnamed_groups(resolved: ResolvedSequence, unnamed: list[Activity]) -> list[list[Activity]]:
    group_of = {activity.id: [activity] for activity in unnamed}
    for first, second in joined_pairs(resolved):
        if first.id in group_of and second.id in group_of and group_of[first.id] is not group_of[second.id]:
            joined = group_of[first.id] + group_of[second.id]
            for activity in joined:
                group_of[activity.id] = joined
    order = {activity.id: number for number, activity in enumerate(unnamed)}
    found: list[list[Activity]] = []
    for activity in unnamed:
        group = sorted(group_of[activity.id], key=lambda one: order[one.id])
        if group[0] is activity:
            found.append(group)
    return found


def holds_before(resolved: ResolvedSequence) -> dict[str, frozenset[str]]:
    """For each activity, also for points, the ids of the holds before it.

    A hold is before an activity when a path of FS or SS relationships of lag 0 or more leads from its
    point to it, at any distance.
    """
    return holds_before_each(resolved.activities, resolved.relationships)
