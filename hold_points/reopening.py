"""Re-open a point: the whole hold closes again, only the checks in the named places open."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.access import require_role
from coordination.people.models import Crew, Person, Role
from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence import holds, progress
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Booking, Hold, House, Place
from coordination.sequence.telling import LONGEST_TEXT, cut
from hold_points import record
from hold_points.facts import load_point
from hold_points.models import Call, Inspection, Outcome, Release, Reopening
from hold_points.moments import next_moment
from hold_points.rework import who_looks

REOPENERS = (Role.Kind.SUPERVISOR, Role.Kind.ASSESSOR, Role.Kind.PLANNER)


def reopen(
    inspection: Inspection,
    place_ids: Iterable[int],
    reason: str,
    *,
    by: Person | None = None,
    crew: Crew | None = None,
) -> Reopening:
    """Re-open a point for the named places; without places, for what is asked once for the house.

    The same again, with nothing called, judged or released in between, returns the re-opening that is there.

    Raises:
        NotAllowed: no role for the builder; a crew without a booking at the house.
        BadInput: no reason, a place of another house, or none where the point is judged by rooms.
        WrongState: nothing was judged or released at this point yet.
    """
    with transaction.atomic():
        house = lock_house(inspection.house_id)
        inspection = Inspection.objects.select_related("point").get(pk=inspection.pk)
        _require_right(house, by, crew)
        if not reason.strip() or len(reason) > 300:
            raise BadInput("reason", _("Say in a few words why it is re-opened."))
        places = _find_places(inspection, place_ids)
        there = _find_same(inspection, places, reason.strip(), by, crew)
        if there is not None:
            return there
        rows = load_point(inspection)
        if not rows.releases and all(one.latest is None for one in rows.readiness.states):
            raise WrongState(
                _("Nothing was judged at this point yet, or not since it was re-opened: it is open already.")
            )
        return reopen_locked(house, inspection, places, reason.strip(), by=by, crew=crew)


def _require_right(house: House, by: Person | None, crew: Crew | None) -> None:
    if by is not None:
        require_role(by, house.builder, *REOPENERS)
    elif crew is None or not Booking.objects.filter(house=house, crew=crew, state__in=Booking.LIVE).exists():
        raise NotAllowed(_("Only a crew that is booked at this house may say so."))


def _find_places(inspection: Inspection, place_ids: Iterable[int]) -> list[Place]:
    wanted = set(place_ids)
    judged = inspection.checks.filter(withdrawn_at=None, place__isnull=False)
    places = list(Place.objects.filter(house=inspection.house_id, pk__in=wanted).order_by("order", "key"))
    if len(places) != len(wanted):
        raise BadInput("places", _("One of the rooms is not of this house. Choose from the list."))
    if not places and judged.exists():
        raise BadInput("places", _("Name the rooms in which the work was disturbed."))
    there = {one.place_id: one.place.name for one in judged.select_related("place") if one.place is not None}
    foreign = [place.name for place in places if place.pk not in there]
    if foreign:
        raise BadInput(
            "places",
            _("Nothing of %(point)s is judged in %(rooms)s. It is judged in: %(judged)s.")
            % {
                "point": inspection.point.name,
                "rooms": ", ".join(foreign),
                "judged": ", ".join(sorted(there.values())) or _("the whole house"),
            },
        )
    return places


def find_judged_points(house_ids: Iterable[int]) -> dict[int, list[tuple[int, str]]]:
    """By house, points (id, name) at which something was judged or released: what can be re-opened.

    What was judged last stands first: it lies on top, and is what a later trade disturbs.
    """
    ids = list(house_ids)
    last: dict[int, dt.datetime] = {}
    outcomes = Outcome.objects.filter(check_judged__inspection__house__in=ids)
    releases = Release.objects.filter(inspection__house__in=ids)
    for inspection, at in (
        *outcomes.values_list("check_judged__inspection").annotate(Max("received_at")),
        *releases.values_list("inspection").annotate(Max("received_at")),
    ):
        last[inspection] = max(at, last.get(inspection, at))
    rows = Inspection.objects.filter(pk__in=last).select_related("point")
    found: dict[int, list[tuple[int, str]]] = {}
    for one in sorted(rows, key=lambda one: (last[one.pk], one.point.order), reverse=True):
        found.setdefault(one.house_id, []).append((one.point_id, one.point.name))
    return found


def _find_same(
    inspection: Inspection, places: Sequence[Place], reason: str, by: Person | None, crew: Crew | None
) -> Reopening | None:
    """The last re-opening, if this one says the same of it and nothing has come about at the point since."""
    last = inspection.reopenings.order_by("-at", "-pk").first()
    if last is None or (last.by, last.crew, last.reason) != (by, crew, reason[:300]):
        return None
    if set(last.places.all()) != set(places):
        return None
    since = (
        Outcome.objects.filter(check_judged__inspection=inspection, received_at__gt=last.at),
        Release.objects.filter(inspection=inspection, received_at__gt=last.at),
        Call.objects.filter(inspection=inspection, at__gt=last.at),
    )
    return None if any(one.exists() for one in since) else last


def reopen_locked(
    house: House,
    inspection: Inspection,
    places: Sequence[Place],
    reason: str,
    *,
    by: Person | None = None,
    crew: Crew | None = None,
) -> Reopening:
    """The act itself, for a caller that holds the house's lock and has verified the right to it."""
    # Later than what it undoes, also where the clock was set back.
    moment = next_moment(inspection.pk)
    opened = Reopening.objects.create(inspection=inspection, by=by, crew=crew, reason=reason[:300], at=moment)
    opened.places.set(places)
    # A witness point is called anew: its notice starts with that call.
    Inspection.objects.filter(pk=inspection.pk).update(
        notice_given_at=None, notice_until=None, lapsed_at=None, absent=""
    )
    names = [place.name for place in places]
    record.append(
        house,
        "re-opening",
        {
            "reopening": opened.pk,
            "point": inspection.point.key,
            "point_name": inspection.point.name,
            "places": names,
            "reason": opened.reason,
            "by": {"person": by.pk, "name": by.name} if by else None,
            "crew": crew.name if crew else None,
            "reopened_at": opened.at,
        },
    )
    hold = Hold.objects.filter(point=inspection.point, set_aside_at__isnull=True).first()
    if hold is not None and _concerns_others(hold, inspection):
        holds.close_again(hold, reason=opened.reason, place_names=names, by=by, crew=crew)
    elif by is None:
        # Closing a hold has told the office already.
        _tell_walker(house, inspection, opened, names, crew)
    if inspection.point.actual_finish is not None:
        progress.point_reopened(inspection.point, by=by, crew=crew)
    return opened


def _concerns_others(hold: Hold, inspection: Inspection) -> bool:
    """Whether others went by a release of it, or work behind it though it is closed: they hear of it."""
    return not hold.is_open or inspection.releases.exists() or bool(holds.at_work_behind(hold))


def _tell_walker(
    house: House, inspection: Inspection, opened: Reopening, names: Sequence[str], crew: Crew | None
) -> None:
    """The supervisor (without one, the planners) hears of what a crew or a change of the house re-opened."""
    who = crew.name if crew else _("A change of the house")
    for person in who_looks(house):
        put(
            builder=house.builder,
            to=person,
            kind=Message.Kind.NOTICE,
            about=f"inspection:{inspection.pk}",
            version=f"reopening:{opened.pk}",
            subject=_("Re-opened: %(point)s, %(house)s")
            % {"point": inspection.point.name, "house": house.name},
            # The reason stands whole on the record and on the walk's page, to which the message leads.
            body=cut(
                _("%(who)s re-opened it (%(rooms)s): %(reason)s")
                % {"who": who, "rooms": ", ".join(names) or _("whole house"), "reason": opened.reason},
                LONGEST_TEXT,
            ),
            facts={"reopening": opened.pk},
            urgent=True,
        )
