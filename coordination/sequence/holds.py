"""Holds: placed by set-out, lifted by a release, closed again; and which of them lie before which visit.

A hold is before an activity when a path of finish-to-start or start-to-start relationships, none with a
negative lag, leads from its point to it; before a visit when before any of its activities. `HoldBefore`
stores that, and the same for what covers a detail that the point judges. The triggers in `sql/` look at the
stored rows and at the relationships and coverings themselves.
"""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable, Sequence

from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Crew, Person
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import guard, telling
from coordination.sequence.diary import write_change
from coordination.sequence.inspection import port
from coordination.sequence.locking import lock_house
from coordination.sequence.models import (
    Activity,
    Booking,
    Change,
    Covering,
    Hold,
    HoldBefore,
    House,
    Relationship,
    Visit,
)

CARRYING = (Relationship.Kind.FS, Relationship.Kind.SS)
"""Relationships that carry 'before' onwards; the other two say nothing about a start."""


# ---------------------------------------------------------------- what is expected


def expected_points(house: House) -> QuerySet[Activity]:
    """The points of the house that each must have a hold."""
    return house.activities.filter(point_kind__in=Activity.HOLDING).order_by("order", "pk")


def points_without_hold(house: House) -> QuerySet[Activity]:
    """Points whose hold is missing; while there is one, nothing in the house becomes firm."""
    return expected_points(house).filter(hold__isnull=True)


@guard.speaking()
def place_holds(house: House) -> list[Hold]:
    """Give each expected point that has no hold an open one; returns those placed."""
    lock_house(house.pk)
    return [
        Hold.objects.create(house=house, point=point, label=point.name[:120])
        for point in points_without_hold(house)
    ]


def find_closure(
    points: Iterable[int], edges: Iterable[tuple[int, int]], visits: dict[int, int]
) -> set[tuple[int, int]]:
    """Pairs (point, visit) where the point lies before the visit. Pure.

    Args:
        points: activity ids of the points asked for.
        edges: (predecessor, successor) of the relationships that carry 'before' onwards.
        visits: activity id → visit id, for the activities that have one.
    """
    after: dict[int, list[int]] = defaultdict(list)
    for predecessor, successor in edges:
        after[predecessor].append(successor)
    pairs = set()
    for point in points:
        seen: set[int] = set()
        ahead = list(after[point])
        while ahead:
            activity = ahead.pop()
            if activity in seen:
                continue
            seen.add(activity)
            ahead.extend(after[activity])
            if activity in visits:
                pairs.add((point, visits[activity]))
    return pairs


def _expected_before(house: House, added: Iterable[tuple[int, int]] = ()) -> set[tuple[int, int]]:
    """Pairs (hold, visit) that the network asks for, with relationships that are about to be added."""
    holds = dict(Hold.objects.filter(house=house).values_list("point_id", "pk"))
    negative = Relationship.objects.filter(
        house=house, predecessor__in=holds, kind__in=CARRYING, lag__lt=0
    ).select_related("predecessor", "successor")
    for one in negative:
        raise BadInput(
            _("relationship %(first)s to %(then)s")
            % {"first": one.predecessor.key, "then": one.successor.key},
            _("A hold point cannot be overlapped by what follows it. Give a lag of 0 or more."),
        )
    edges = Relationship.objects.filter(house=house, kind__in=CARRYING, lag__gte=0)
    visits = dict(house.activities.filter(visit__isnull=False).values_list("pk", "visit_id"))
    pairs = find_closure(holds, [*edges.values_list("predecessor_id", "successor_id"), *added], visits)
    # What covers a detail comes after the point that judges it, also if someone cut the path between them.
    buried = Covering.objects.filter(point__in=holds, along=False, activity__visit__isnull=False)
    pairs |= set(buried.values_list("point_id", "activity__visit_id"))
    return {(holds[point], visit) for point, visit in pairs}


@guard.speaking()
def rebuild_hold_before(house: House, why: str = "") -> list[Booking]:
    """Bring the stored closure in line with the network, in the transaction that changed it.

    A firm booking that comes to stand behind an open hold falls back to pencilled and is told.

    Returns:
        the bookings that fell back.

    Raises:
        BadInput: a negative lag leads out of a hold point.
    """
    house = lock_house(house.pk)
    expected = _expected_before(house)
    stored = set(HoldBefore.objects.filter(hold__house=house).values_list("hold_id", "visit_id"))
    fallen = _fall_back_behind(house, expected - stored, why or _("the programme changed"))
    HoldBefore.objects.bulk_create(
        HoldBefore(hold_id=hold, visit_id=visit) for hold, visit in sorted(expected - stored)
    )
    for hold, visit in sorted(stored - expected):
        HoldBefore.objects.filter(hold_id=hold, visit_id=visit).delete()
    return fallen


@guard.speaking()
def prepare_relationships(house: House, added: Iterable[tuple[int, int]], why: str) -> list[Booking]:
    """Before relationships (predecessor id, successor id) are added: firm bookings that would come to stand
    behind an open hold fall back. The database refuses such a relationship while a booking there is firm."""
    house = lock_house(house.pk)
    return _fall_back_behind(house, _expected_before(house, added), why)


def _fall_back_behind(house: House, pairs: Iterable[tuple[int, int]], why: str) -> list[Booking]:
    fallen: list[Booking] = []
    behind: dict[int, list[int]] = defaultdict(list)
    for hold, visit in pairs:
        behind[hold].append(visit)
    still_open = Hold.objects.filter(pk__in=behind, lifted_at__isnull=True, set_aside_at__isnull=True)
    for one in still_open.select_related("point"):
        firm = _bookings_of(behind[one.pk], Booking.State.FIRM)
        fallen += _fall_back(one, firm, [], (), why, None, None)
    return fallen


def holds_before(visit: Visit) -> QuerySet[Hold]:
    """All holds that lie before a visit."""
    return Hold.objects.filter(before__visit=visit).order_by("point__order", "pk")


def open_holds_before(visit: Visit) -> QuerySet[Hold]:
    """Holds before a visit that are neither lifted nor set aside."""
    return holds_before(visit).filter(lifted_at__isnull=True, set_aside_at__isnull=True)


# ---------------------------------------------------------------- lift, close again, set aside


@guard.speaking()
def lift(hold: Hold, release_id: uuid.UUID, *, by: Person | None = None) -> Hold:
    """Lift a hold in the transaction of its release, whose row stands in the record already.

    Crews under way whose stop was not sent yet never hear of it; others are told to go on.

    Raises:
        WrongState: lifted or set aside already, or no such release of this point.
    """
    house = lock_house(hold.house_id)
    lifted = Hold.objects.filter(pk=hold.pk, lifted_at__isnull=True, set_aside_at__isnull=True).update(
        lifted_at=clock.now(), lifted_by=release_id
    )
    if not lifted:
        raise WrongState(
            _("%(hold)s is released already, or was set aside. Open its page again.") % {"hold": hold.label}
        )
    hold.refresh_from_db()
    words = _("Hold point %(hold)s released") % {"hold": hold.label}
    write_change(house, "hold lifted", f"hold:{hold.pk}", words, {"release": str(release_id)}, by)
    for booking in at_work_behind(hold):
        telling.tell_go_on(hold, booking)
    return hold


@guard.speaking()
def close_again(
    hold: Hold,
    *,
    reason: str,
    place_names: Sequence[str] = (),
    by: Person | None = None,
    crew: Crew | None = None,
) -> list[Booking]:
    """Close a hold because work behind it was disturbed or the house changed (rule 2).

    In one transaction every firm booking behind it falls back to pencilled, and each crew concerned gets
    exactly one urgent message: that it is no longer firm, or, when it is under way, to stop in the rooms.
    The planners and the supervisor get a notice. A hold that is open may be closed again for further rooms.

    Args:
        reason: what happened, in a few words; it stands in the message.
        place_names: rooms whose checks open; none means the whole house.
        by, crew: who says so.

    Returns:
        the bookings that fell back.

    Raises:
        BadInput: no reason.
    """
    if not reason.strip():
        raise BadInput(_("reason"), _("Say in a few words why the hold point is opened again."))
    house = lock_house(hold.house_id)
    # The database looks at the network itself. A closure gone stale must not stand in the way of closing.
    rebuild_hold_before(house, reason)
    hold.refresh_from_db()
    facts = {
        "places": list(place_names),
        "reason": reason,
        "release": str(hold.lifted_by) if hold.lifted_by else None,
        "set_aside": hold.set_aside_why or None,
    }
    visits = HoldBefore.objects.filter(hold=hold).values_list("visit_id", flat=True)
    stopped = at_work_behind(hold)
    fallen = _fall_back(
        hold, _bookings_of(visits, Booking.State.FIRM), stopped, place_names, reason, by, crew
    )
    Hold.objects.filter(pk=hold.pk).update(
        lifted_at=None, lifted_by=None, set_aside_at=None, set_aside_by=None, set_aside_why=""
    )
    hold.refresh_from_db()
    words = _("Hold point %(hold)s re-opened: %(why)s") % {"hold": hold.label, "why": reason}
    change = write_change(
        house, "hold closed again", f"hold:{hold.pk}", words, {**facts, "fell_back": len(fallen)}, by, crew
    )
    who = by.name if by else crew.name if crew else _("a change of the house")
    notes = [_("%(visit)s is no longer firm") % {"visit": one.visit.name} for one in fallen]
    notes += [_("%(visit)s is under way: ring the crew") % {"visit": one.visit.name} for one in stopped]
    said = [
        _("%(who)s, in %(rooms)s") % {"who": who, "rooms": ", ".join(place_names) or _("the whole house")}
    ]
    # The one message of this act to the office: who, where and what it brings about.
    telling.tell_office(
        house,
        about=f"hold:{hold.pk}",
        version=f"change {change.pk}",
        news=f"{words}.",
        why="; ".join([*said, *notes]) + ".",
        urgent=bool(notes) or by is None,
    )
    return fallen


def at_work_behind(hold: Hold) -> list[Booking]:
    """Bookings behind a hold whose crew is at work: by its own word, or by a report of work begun."""
    begun = Activity.objects.filter(visit=OuterRef("visit"), actual_start__isnull=False)
    unfinished = Activity.objects.filter(visit=OuterRef("visit"), actual_finish__isnull=True)
    live = Booking.objects.filter(visit__holds_before__hold=hold, state__in=Booking.LIVE)
    at_work = live.exclude(state=Booking.State.DONE).filter(
        Q(state=Booking.State.UNDER_WAY) | Exists(begun) & Exists(unfinished)
    )
    return list(at_work.select_related("house__builder", "crew", "visit").order_by("told_start", "pk"))


def _bookings_of(visits: Iterable[int], state: str) -> list[Booking]:
    return list(
        Booking.objects.filter(visit__in=list(visits), state=state)
        .select_related("house__builder", "crew", "visit")
        .order_by("told_start", "pk")
    )


def _fall_back(
    hold: Hold,
    firm: Sequence[Booking],
    under_way: Sequence[Booking],
    rooms: Sequence[str],
    why: str,
    by: Person | None,
    crew: Crew | None,
) -> list[Booking]:
    """Take firm bookings back to pencilled and tell each crew once."""
    now = clock.now()
    by_crew: dict[int, tuple[list[Booking], list[Booking]]] = defaultdict(lambda: ([], []))
    for booking in firm:
        Booking.objects.filter(pk=booking.pk, state=Booking.State.FIRM).update(
            state=Booking.State.PENCILLED, fell_back_at=now, changed_at=now, sequence=F("sequence") + 1
        )
        by_crew[booking.crew_id][0].append(booking)
    counted = {booking.pk for booking in firm}
    for booking in under_way:
        if booking.pk not in counted:
            Booking.objects.filter(pk=booking.pk).update(changed_at=now, sequence=F("sequence") + 1)
        by_crew[booking.crew_id][1].append(booking)
    for booking in (*firm, *under_way):
        booking.refresh_from_db(fields=["state", "fell_back_at", "changed_at", "sequence"])
    for booking in firm:
        words = _("%(visit)s fell back to pencilled: %(hold)s is open") % {
            "visit": booking.visit.name,
            "hold": hold.label,
        }
        write_change(booking.house, "fell back", f"booking:{booking.pk}", words, {"hold": hold.pk}, by, crew)
    for fallen, stopped in by_crew.values():
        telling.tell_reopened(hold, (fallen or stopped)[0].crew, fallen, stopped, rooms, why)
    return list(firm)


@guard.speaking()
def set_aside(hold: Hold, by: Person, why: str) -> Hold:
    """At import of a house that is being built: the hold's coverers are finished, nobody recorded its checks.

    It blocks nothing and is never shown or counted as released.

    Raises:
        BadInput: no reason.
        WrongState: the house was not brought in, lifted or set aside already, or something that covers behind
            it is not finished.
    """
    if not why.strip():
        raise BadInput(_("reason"), _("Say why nobody recorded this hold point."))
    house = lock_house(hold.house_id)
    if not Change.objects.filter(house=house, what="stated").exists():
        raise WrongState(
            _("%(house)s was not brought in half built, so none of its hold points is set aside.")
            % {"house": house.name}
        )
    unfinished = Covering.objects.filter(
        activity__actual_finish__isnull=True, point=hold.point_id
    ) | Covering.objects.filter(
        activity__actual_finish__isnull=True, point__isnull=True, detail__point=hold.point_id
    )
    names = list(unfinished.values_list("activity__name", flat=True).distinct())
    if names:
        raise WrongState(
            _("%(hold)s can still be checked: %(names)s not finished. It stays open.")
            % {"hold": hold.label, "names": ", ".join(names)},
            names,
        )
    aside = Hold.objects.filter(pk=hold.pk, lifted_at__isnull=True, set_aside_at__isnull=True).update(
        set_aside_at=clock.now(), set_aside_by=by, set_aside_why=why.strip()[:200]
    )
    if not aside:
        raise WrongState(_("%(hold)s is released or set aside already.") % {"hold": hold.label})
    hold.refresh_from_db()
    words = _("Hold point %(hold)s not recorded: %(why)s") % {"hold": hold.label, "why": why}
    write_change(house, "hold set aside", f"hold:{hold.pk}", words, {"why": why}, by)
    facts = {"hold": hold.label, "why": hold.set_aside_why, "by": {"person": by.pk, "name": by.name}}
    port().record_act(house, "set aside", facts)
    return hold


# ---------------------------------------------------------------- recount


def recount(house: House | None = None) -> list[str]:
    """Differences of the stored closure and the holds from what the networks expect, one line each.

    Run nightly: triggers and services keep them equal, so a line here is a fault to be looked into.
    """
    houses = House.objects.all() if house is None else House.objects.filter(pk=house.pk)
    found = []
    for one in houses.order_by("pk"):
        found += [f"{one}: {point.key} has no hold" for point in points_without_hold(one)]
        odd = Hold.objects.filter(house=one).exclude(point__in=expected_points(one))
        found += [f"{one}: {hold.label} holds at a point that places none" for hold in odd]
        try:
            expected = _expected_before(one)
        except BadInput as overlap:
            found.append(f"{one}: {overlap}")
            continue
        stored = set(HoldBefore.objects.filter(hold__house=one).values_list("hold_id", "visit_id"))
        labels = dict(Hold.objects.filter(house=one).values_list("pk", "label"))
        visits = dict(Visit.objects.filter(house=one).values_list("pk", "key"))
        found += [
            f"{one}: {labels[hold]} is before {visits[visit]} and is not stored"
            for hold, visit in sorted(expected - stored)
        ]
        found += [
            f"{one}: {labels[hold]} is stored before {visits[visit]} and is not before it"
            for hold, visit in sorted(stored - expected)
        ]
    return found
