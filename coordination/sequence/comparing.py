"""What differs between two sequences as one house would have them: activities, details, places, limits.

Pure: it compares two resolved sequences over the places of the house and touches no table.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from django.utils.text import Truncator
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from coordination.fabric.numerals import write_number
from coordination.sequence.standard import (
    Activity,
    Check,
    Detail,
    Link,
    PlaceLike,
    ResolvedSequence,
    limit_for,
    places_for,
)

What = Literal["added", "removed", "changed", "moved"]
SHORT = 90
"""So many characters of a field are told of a row that is new or gone."""


@dataclass(frozen=True)
class FieldChange:
    """One field of a row that reads differently; an empty word means that nothing was said there."""

    label: str
    before: str
    after: str


@dataclass(frozen=True)
class RowChange:
    """A row that is there, gone or different afterwards; `fields` are those that differ.

    Attributes:
        said: of a row that is new or gone, what it says: labels and words, in the order of its fields.
        moved: where a row stands that others were passed by, as in 'before Frame stood'; else empty.
    """

    kind: str
    key: str
    name: str
    what: What
    fields: tuple[FieldChange, ...] = ()
    said: tuple[tuple[str, str], ...] = ()
    moved: str = ""


@dataclass(frozen=True)
class Difference:
    """Rows that differ, kind by kind, in the order of the later sequence and then what is gone."""

    features: tuple[FieldChange, ...]
    activities: tuple[RowChange, ...]
    details: tuple[RowChange, ...]
    checks: tuple[RowChange, ...]

    @property
    def nothing(self) -> bool:
        """Whether both say the same."""
        return not (self.features or self.activities or self.details or self.checks)


Described = tuple[str, dict[str, str]]
"""A row's name and its fields in words."""


def compare_rows(
    kind: str, before: Mapping[str, Described], after: Mapping[str, Described], ordered: bool = False
) -> tuple[RowChange, ...]:
    """What differs between two lists of rows by key.

    Args:
        ordered: whether it matters which row stands before which; both lists are then taken in their order.
    """
    places = say_moved(before, after) if ordered else {}
    changes = []
    for key, (name, fields) in after.items():
        if key not in before:
            changes.append(RowChange(kind, key, name, "added", said=_say_row(name, fields)))
            continue
        different, moved = compare_fields(before[key][1], fields), places.get(key, "")
        if different or moved:
            what: What = "changed" if different else "moved"
            changes.append(RowChange(kind, key, name, what, different, moved=moved))
    changes += [
        RowChange(kind, key, name, "removed", said=_say_row(name, fields))
        for key, (name, fields) in before.items()
        if key not in after
    ]
    return tuple(changes)


def _say_row(name: str, fields: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """A row's fields, short and in their order; its name stands beside them."""
    return tuple(
        (label, Truncator(words).chars(SHORT)) for label, words in fields.items() if words not in ("", name)
    )


def say_moved(before: Mapping[str, Described], after: Mapping[str, Described]) -> dict[str, str]:
    """Key → where it stands now, for the fewest rows whose moving turns the one order into the other.

    Rows that are new or gone move nobody. The rest that kept their order are a longest run of rows that
    rises in both (Schensted 1961, by the piles of patience sorting); all others were moved.
    """
    former = {key: place for place, key in enumerate(before)}
    keys = [key for key in after if key in former]
    stayed = _longest_rise([former[key] for key in keys])
    listed = list(after)
    behind = dict(pairwise(listed))
    return {
        key: _("before %(name)s") % {"name": after[behind[key]][0]} if key in behind else _("to the end")
        for place, key in enumerate(keys)
        if place not in stayed
    }


def _longest_rise(values: Sequence[int]) -> set[int]:
    """Places of a longest rising run among different numbers."""
    tops: list[int] = []
    ends: list[int] = []
    below: list[int] = []
    for place, value in enumerate(values):
        pile = bisect_left(tops, value)
        below.append(ends[pile - 1] if pile else -1)
        tops[pile : pile + 1], ends[pile : pile + 1] = [value], [place]
    found, place = set(), ends[-1] if ends else -1
    while place >= 0:
        found.add(place)
        place = below[place]
    return found


def compare_fields(before: Mapping[str, str], after: Mapping[str, str]) -> tuple[FieldChange, ...]:
    """The labels whose words differ, in the order of the later row."""
    labels = [*after, *(label for label in before if label not in after)]
    return tuple(
        FieldChange(label, before.get(label, ""), after.get(label, ""))
        for label in labels
        if before.get(label, "") != after.get(label, "")
    )


def compare_for_house(
    before: ResolvedSequence, after: ResolvedSequence, places: Sequence[PlaceLike]
) -> Difference:
    """What a house with these places would have afterwards and has now."""
    return Difference(
        features=_compare_features(before, after),
        activities=compare_rows("activity", _activities(before), _activities(after)),
        details=compare_rows("detail", _details(before, places), _details(after, places)),
        checks=compare_rows("check", _checks(before, places), _checks(after, places)),
    )


def _compare_features(before: ResolvedSequence, after: ResolvedSequence) -> tuple[FieldChange, ...]:
    labels = {one.key: one.label for sequence in (before, after) for one in sequence.entry.features}
    then = {labels.get(key, key): say_value(value) for key, value in before.features.items()}
    now = {labels.get(key, key): say_value(value) for key, value in after.features.items()}
    return compare_fields(then, now)


def say_value(value: object) -> str:
    """A feature's value in words; a yes for true, no unit."""
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    return write_number(value) if isinstance(value, (int, float)) else str(value)


def _activities(sequence: ResolvedSequence) -> dict[str, Described]:
    names = {one.id: one.name for one in sequence.activities}
    trades = {one.key: one.name for one in sequence.entry.trades}
    visits = {key: visit.name for visit in sequence.visits for key in visit.activities}
    follows: dict[str, list[Link]] = {}
    for link in sequence.relationships:
        follows.setdefault(link.successor, []).append(link)
    return {
        one.id: (one.name, _describe_activity(one, names, trades, visits, follows.get(one.id, ())))
        for one in sequence.activities
    }


def _describe_activity(
    one: Activity,
    names: Mapping[str, str],
    trades: Mapping[str, str],
    visits: Mapping[str, str],
    follows: Iterable[Link],
) -> dict[str, str]:
    return {
        _("name"): one.name,
        _("half-days"): str(one.half_days),
        _("trade"): trades.get(one.trade, one.trade),
        _("visit"): visits.get(one.id, ""),
        _("kind of point"): one.point,
        _("walked by"): one.walker,
        _("notice in half-days"): "" if one.notice is None else str(one.notice),
        _("released by"): ", ".join(one.sections),
        _("follows"): "; ".join(sorted(say_link(link, names) for link in follows)),
    }


def say_link(link: Link, names: Mapping[str, str]) -> str:
    """'Frame', 'Frame, start to start, +2 half-days'."""
    words = names.get(link.predecessor, link.predecessor)
    kinds = {"SS": _("start to start"), "FF": _("finish to finish"), "SF": _("start to finish")}
    if link.type in kinds:
        words = f"{words}, {kinds[link.type]}"
    if link.lag:
        said = ngettext("%(words)s, %(lag)s half-day", "%(words)s, %(lag)s half-days", abs(link.lag))
        words = said % {"words": words, "lag": f"{link.lag:+d}"}
    return words


def _details(sequence: ResolvedSequence, places: Sequence[PlaceLike]) -> dict[str, Described]:
    names = {one.id: one.name for one in sequence.activities}
    rows = {}
    for one in sequence.details:
        found = places_for(one, places, sequence.entry)
        if found is not None and not found:
            continue  # in no place of this house: set-out leaves it out
        rows[one.id] = (one.name, _describe_detail(one, names, found))
    return rows


def _describe_detail(
    one: Detail, names: Mapping[str, str], found: Sequence[PlaceLike] | None
) -> dict[str, str]:
    return {
        _("name"): one.name,
        _("made by"): ", ".join(names.get(key, key) for key in one.installed_by),
        _("buried by"): ", ".join(names.get(key, key) for key in one.covered_by),
        _("judged at"): names.get(one.point, one.point),
        _("where"): say_places(found),
        _("what exactly"): one.instruction,
        _("caution"): one.caution,
    }


def say_places(found: Sequence[PlaceLike] | None) -> str:
    """Names of places, or 'whole house'."""
    return _("whole house") if found is None else ", ".join(place.name for place in found)


def _checks(sequence: ResolvedSequence, places: Sequence[PlaceLike]) -> dict[str, Described]:
    names = {one.id: one.name for one in sequence.activities}
    details = {one.id: one for one in sequence.details}
    rows = {}
    for one in sequence.checks:
        found = places_for(one, places, sequence.entry)
        detail = details.get(one.detail)
        if found is None and detail is not None and not one.once:
            found = places_for(detail, places, sequence.entry)
        if found is not None and not found:
            continue
        rows[one.id] = (one.text, _describe_check(one, sequence, names, found))
    return rows


def _describe_check(
    one: Check, sequence: ResolvedSequence, names: Mapping[str, str], found: Sequence[PlaceLike] | None
) -> dict[str, str]:
    limit = limit_for(one, sequence.features)
    return {
        _("looks for"): one.text,
        _("limit"): str(limit) if limit else "",
        _("judged at"): names.get(one.point, one.point),
        _("kind"): one.kind,
        _("part"): one.section,
        _("where"): say_places(found),
        _("evidence"): ", ".join(one.evidence),
        _("safety"): say_value(one.safety),
    }
