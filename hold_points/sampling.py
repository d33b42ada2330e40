"""The random sample of a walk: settled when the walk is called or begins, by what the crew's houses showed.

Where to look in a room is drawn on entering it (`draw_spots`), so that no crew can know it beforehand. How
many, and in how many rooms, follows the crew's earlier houses (`switching`) and is put on the record once.
"""

from __future__ import annotations

import math
import secrets
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.utils.crypto import salted_hmac

from coordination.sequence.models import Booking, Detail, House
from hold_points import record
from hold_points.facts import PointRows
from hold_points.installing import last_installers
from hold_points.models import Check, Inspection, Outcome
from hold_points.readiness import State
from hold_points.switching import Lot, Severity, Switch, find_severity, say_why, size_of

MISSED = (Outcome.Kind.NOT_MET, Outcome.Kind.PUT_RIGHT)
"""First looks that count as a miss."""

LOOKS = (Outcome.Kind.MET, *MISSED)
"""What was not seen, or is not on the house, is no look: it says nothing of the crew, good or bad."""

MOST_SPOTS = 20
"""More spots than these are no sample any more: all of them are looked at."""


def is_sampled(check: Check) -> bool:
    """Whether the check is looked at by sample; one that is settled says how."""
    return bool(check.sample)


def settle_samples(inspection: Inspection, house: House) -> None:
    """Settle how much is looked at, once for each detail and sampled check of a point, and put it on record.

    The caller holds the house's lock. What is settled stays, also when the crew's other houses are walked
    meanwhile; what was judged already is not drawn anew.
    """
    checks = [
        one
        for one in Check.objects.filter(inspection=inspection, withdrawn_at=None)
        .select_related("place", "detail")
        .order_by("order", "pk")
        if is_sampled(one)
    ]
    waiting: dict[str, list[Check]] = {}
    for one in checks:
        if "severity" not in one.sample:
            waiting.setdefault(one.key, []).append(one)
    if not waiting:
        return
    judged = set(
        Outcome.objects.filter(check_judged__inspection=inspection).values_list("check_judged", flat=True)
    )
    switches = find_switches({one.detail for ones in waiting.values() for one in ones if one.detail}, house)
    for key, ones in waiting.items():
        switch, crew = switch_of(ones[0], switches)
        drawn = _draw_again(ones, switch.severity, judged)
        for one in ones:
            one.sample = {
                **_settled(one, len(ones), switch, crew),
                "drawn": one.pk in drawn,
                "rooms_drawn": len(drawn),
                "rooms": len(ones),
            }
        Check.objects.bulk_update(ones, ["sample"])
        record.append(
            house,
            "sampling",
            {"point": inspection.point.key, "check": key, "text": ones[0].text, **describe_sample(ones[0])},
        )


def switch_of(check: Check, switches: Mapping[int, tuple[Switch, str]]) -> tuple[Switch, str]:
    """What the crew's earlier houses make of this check; one that guards against harm is never reduced."""
    switch, crew = switches.get(check.detail_id or 0, (Switch(Severity.NORMAL), ""))
    if check.safety and switch.severity is Severity.REDUCED:
        switch = replace(switch, severity=Severity.NORMAL)
    return switch, crew


def _settled(check: Check, rooms: int, switch: Switch, crew: str) -> dict[str, Any]:
    size = _size(check, rooms, switch.severity)
    return {
        **check.sample,
        "severity": str(switch.severity),
        "size": size,
        "why": say_why(switch, crew),
    }


def _size(check: Check, rooms: int, severity: Severity) -> int:
    """Spots in each place: the sequence's number, or more where it wants at least so many in the house."""
    number = int(check.sample.get("number") or 0)
    if not number:
        return 0
    least = int(check.sample.get("least") or 0)
    return size_of(max(number, math.ceil(least / max(rooms, 1))), severity)


def _draw_again(ones: Sequence[Check], severity: Severity, judged: set[int]) -> set[int]:
    """Checks (by place) that belong to the sample: those drawn at the set-out, more or fewer of them."""
    drawn = [one.pk for one in ones if one.sample.get("drawn", True)]
    if len(drawn) == len(ones):
        # Not sampled by rooms: every room is looked at, and the number of spots follows the severity.
        return set(drawn)
    wanted = size_of(len(drawn), severity, len(ones))
    chance = secrets.SystemRandom()
    kept = {pk for pk in drawn if pk in judged}
    if wanted <= len(drawn):
        others = [pk for pk in drawn if pk not in kept]
        return kept | set(chance.sample(others, max(0, wanted - len(kept))))
    rest = [one.pk for one in ones if one.pk not in drawn]
    return set(drawn) | set(chance.sample(rest, wanted - len(drawn)))


def describe_sample(check: Check) -> dict[str, Any]:
    """What the record says of a settled sample."""
    said = ("severity", "why", "size", "rooms_drawn", "rooms")
    return {key: check.sample[key] for key in said if key in check.sample}


def find_switches(details: Iterable[Detail], house: House) -> dict[int, tuple[Switch, str]]:
    """By detail: what the earlier houses of the crew that installs it say, and that crew's name."""
    asked = {one.pk: one for one in details}
    crews = last_installers(asked)
    others = list(
        Detail.objects.filter(
            house__builder=house.builder_id, key__in={one.key for one in asked.values()}
        ).exclude(house=house)
    )
    there = last_installers(one.pk for one in others)
    lots = _read_lots([one for one in others if one.pk in there], there)
    found = {}
    for pk, detail in asked.items():
        booking = crews.get(pk)
        mine = lots.get((booking.crew_id, detail.key), []) if booking else []
        switch = find_severity(
            mine,
            tightened_for=house.builder.tightened_houses,
            reduced_after=house.builder.clean_houses,
        )
        found[pk] = (switch, booking.crew.name if booking else "")
    return found


def _read_lots(
    details: Sequence[Detail], bookings: Mapping[int, Booking]
) -> dict[tuple[int, str], list[Lot]]:
    """A crew's houses for each key of a detail, in the order in which they were first looked at."""
    seen = Outcome.objects.filter(check_judged__detail__in=details, kind__in=LOOKS)
    rows = seen.order_by("received_at", "pk")
    firsts: dict[int, dict[int, tuple[int | None, str]]] = {}
    for detail, check, place, kind in rows.values_list(
        "check_judged__detail", "check_judged", "check_judged__place", "kind"
    ):
        if detail is not None:
            firsts.setdefault(detail, {}).setdefault(check, (place, kind))
    names = dict(House.objects.filter(pk__in={one.house_id for one in details}).values_list("pk", "name"))
    by_pk = {one.pk: one for one in details}
    lots: dict[tuple[int, str], list[Lot]] = {}
    # A dictionary keeps the order in which its keys came: that of the first look.
    for pk, looks in firsts.items():
        missed = {place for place, kind in looks.values() if kind in MISSED}
        lot = Lot(names[by_pk[pk].house_id], len(missed))
        lots.setdefault((bookings[pk].crew_id, by_pk[pk].key), []).append(lot)
    return lots


@dataclass(frozen=True)
class Spots:
    """Where to look in one room, in percent along the wall or side; none where all are looked at.

    Attributes:
        of: what is counted ('bays').
        everything: why all of them are looked at; empty for a sample.
        why: why it is so many; empty for the usual number.
        rooms_drawn, rooms: so many of so many rooms are in the sample.
    """

    percents: tuple[int, ...]
    of: str
    everything: str = ""
    why: str = ""
    rooms_drawn: int = 0
    rooms: int = 0

    @property
    def size(self) -> int:
        return len(self.percents)

    @property
    def by_rooms(self) -> bool:
        """Whether only some of the rooms are in the sample."""
        return self.rooms_drawn < self.rooms


def draw_spots(check: Check, rows: PointRows) -> Spots | None:
    """The sample of a check in its place; None for what is looked at everywhere.

    Drawn from the installation's secret: random, but the same while one stands there, anew when re-opened.
    One spot not met means all of that room, two rooms mean every room.
    """
    if not is_sampled(check):
        return None
    same = [one for one in rows.readiness.states if one.check.key == check.key]
    sample = check.sample if "severity" in check.sample else _foresee(check, len(same), rows)
    drawn = sum(one.state is not State.NOT_DRAWN for one in same)
    told = {"rooms_drawn": sample.get("rooms_drawn", drawn), "rooms": len(same)}
    usual = sample.get("severity", Severity.NORMAL) == Severity.NORMAL
    of, why = str(sample.get("of") or ""), "" if usual else str(sample.get("why") or "")
    missed = {one.check.place for one in same if _was_missed(one.state)}
    if check.place_id in missed:
        return Spots((), of, "here", why, **told)
    if len(missed) > 1:
        return Spots((), of, "everywhere", why, **told)
    number = int(sample.get("size") or 0)
    if not number or number > MOST_SPOTS:
        return Spots((), of, "", why, **told)
    opened = len(rows.reopenings)
    digest = salted_hmac("hold_points.sample", f"{check.pk}:{opened}", algorithm="sha256").digest()
    step = 100 / number
    spots = tuple(int(step * place + digest[place] / 256 * step) for place in range(number))
    return Spots(spots, of, "", why, **told)


def _foresee(check: Check, rooms: int, rows: PointRows) -> dict[str, Any]:
    """What would be settled now: shown before the walk is called or begun, and not kept."""
    details = [check.detail] if check.detail else []
    switch, crew = switch_of(check, find_switches(details, rows.inspection.house))
    return _settled(check, rooms, switch, crew)


def _was_missed(state: State) -> bool:
    return state in (State.NOT_MET, State.PUT_RIGHT, State.CONCESSION, State.SECOND_PERSON)
