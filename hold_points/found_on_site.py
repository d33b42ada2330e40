"""Found on site and not on the plan: a place of a detail, or a thing, that the set-out did not foresee.

It is added on the spot, so that it is judged with the rest and keeps the point closed until then; the planner
is told and mends the house's features or places at the desk. A later change of the house leaves it there.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction
from django.db.models import Max
from django.utils.text import slugify
from django.utils.translation import gettext as _

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.access import planners_of, require_role
from coordination.people.models import Person
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence.diary import write_change
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Detail, DetailPlace, House, Place
from coordination.sequence.telling import LONGEST_TEXT, cut
from hold_points import record
from hold_points.facts import PointRows, load_point
from hold_points.models import Check, Inspection
from hold_points.readiness import State
from hold_points.walking import WALKERS
from hold_points.walking_order import PLACE_STEP

LONGEST_NAME = 80
MOST_PLACES = 200
"""Places that a house may have: a slip of the finger is not to make a thousand."""


def details_at(inspection: Inspection) -> list[Detail]:
    """Details that the point judges by place, of which one more may be found."""
    found = Detail.objects.filter(
        checks__inspection=inspection, checks__withdrawn_at=None, checks__place__isnull=False
    )
    return list(found.distinct().order_by("order"))


def add_found(
    inspection: Inspection,
    by: Person,
    *,
    detail_id: int | None = None,
    words: str = "",
    place_id: int | None = None,
    new_place: str = "",
) -> list[Check]:
    """Add one more place of a detail, or something the set-out does not know; returns the checks it gets.

    The same again, while nobody has judged it, is the same find pressed twice: its checks are returned.

    Args:
        detail_id: the detail of which there is one more; without it `words` say what was found.
        place_id, new_place: where, one of the house's places or a new one by name.

    Raises:
        NotAllowed: no role to judge here.
        BadInput: neither detail nor words, no place, or a place of another house.
        WrongState: the point is released, or the detail is judged there already.
    """
    with transaction.atomic():
        house = lock_house(inspection.house_id)
        require_role(by, house.builder, *WALKERS)
        inspection = Inspection.objects.select_related("point").get(pk=inspection.pk)
        rows = load_point(inspection)
        detail = _find_detail(inspection, detail_id)
        words = " ".join(words.split())
        if detail is None and not 5 <= len(words) <= 200:
            raise BadInput("words", _("Choose the detail, or say in a few words what you found."))
        place = _find_place(house, place_id, new_place, by)
        there = _find_added(rows, detail, words, place)
        if there:
            return there
        if detail is None:
            fresh = [_describe_unknown(rows, place, words)]
        else:
            fresh = _copy_checks(rows, detail, place)
            DetailPlace.objects.get_or_create(detail=detail, place=place)
        if rows.released or any(one.section in rows.released_sections for one in fresh):
            raise WrongState(
                _("This part is released. Re-open the hold point for the room, then add what you found.")
            )
        Check.objects.bulk_create(fresh)
        _write_down(house, inspection, by, detail, place, words, fresh)
    return fresh


def _find_detail(inspection: Inspection, detail_id: int | None) -> Detail | None:
    if detail_id is None:
        return None
    found = next((one for one in details_at(inspection) if one.pk == detail_id), None)
    if found is None:
        raise BadInput("detail", _("This point does not judge that detail. Choose from the list."))
    return found


def _find_added(rows: PointRows, detail: Detail | None, words: str, place: Place) -> list[Check]:
    """The checks of the same find in the same place, when all of it is still to be looked at."""
    states = {one.check.id: one.state for one in rows.readiness.states}
    found = [
        one
        for one in rows.checks.values()
        if one.found_on_site
        and one.place_id == place.pk
        and one.detail_id == (detail.pk if detail else None)
        and (detail is not None or one.text.casefold() == words.casefold())
    ]
    return found if all(states[one.pk] is State.OPEN for one in found) else []


def _find_place(house: House, place_id: int | None, new_place: str, by: Person) -> Place:
    name = " ".join(new_place.split())
    if place_id is not None:
        found = Place.objects.filter(house=house, pk=place_id).first()
        if found is None:
            raise BadInput("place", _("This place is not of this house. Choose from the list."))
        return found
    if not 2 <= len(name) <= LONGEST_NAME:
        raise BadInput("place", _("Choose the place, or give the new one a name, as in 'Linen cupboard'."))
    places = Place.objects.filter(house=house)
    same = places.filter(name__iexact=name).first()
    if same is not None:
        return same
    if places.count() >= MOST_PLACES:
        raise BadInput("place", _("The house has more places than a house can have. Choose from the list."))
    last = places.order_by("-order").first()
    base = slugify(name)[:50] or "place"
    taken = set(places.filter(key__startswith=base).values_list("key", flat=True))
    key = next(one for one in [base, *(f"{base}-{n}" for n in range(2, MOST_PLACES + 2))] if one not in taken)
    made = Place.objects.create(
        house=house,
        key=key,
        name=name,
        kind=last.kind if last else "room",
        zone=last.zone if last else "ground",
        order=(last.order if last else 0) + 1,
    )
    said = _("%(place)s was found on site and added") % {"place": name}
    write_change(house, "place found", f"place:{made.pk}", said, {"key": key}, by, None)
    return made


def _copy_checks(rows: PointRows, detail: Detail, place: Place) -> list[Check]:
    """The checks that the detail has in its other places, asked in this one as well."""
    mine = [one for one in rows.checks.values() if one.detail_id == detail.pk and one.place_id is not None]
    if any(one.place_id == place.pk for one in mine):
        raise WrongState(
            _("%(detail)s is judged there already (%(place)s).")
            % {"detail": detail.name, "place": place.name}
        )
    templates: dict[str, Check] = {}
    for one in mine:
        templates.setdefault(one.key, one)
    return [_copy_check(rows, one, place) for one in templates.values()]


def _copy_check(rows: PointRows, template: Check, place: Place) -> Check:
    """The same check in a place that was found on site: every one of it is looked at."""
    fresh = Check.objects.get(pk=template.pk)
    fresh.pk = None
    fresh._state.adding = True
    fresh.place, fresh.version, fresh.sample = place, _version(rows, template.key, place), {}
    fresh.order = _first_order(rows, place) + template.order % PLACE_STEP
    fresh.withdrawn_at, fresh.found_on_site = None, True
    return fresh


def _first_order(rows: PointRows, place: Place) -> int:
    """Where the checks of the place begin in the walk; a place without any comes last."""
    here = [one.order for one in rows.checks.values() if one.place_id == place.pk]
    every = [one.order for one in rows.checks.values()]
    step = min(here) // PLACE_STEP if here else max(every, default=0) // PLACE_STEP + 1
    return step * PLACE_STEP


def _version(rows: PointRows, key: str, place: Place) -> int:
    last = Check.objects.filter(inspection=rows.inspection, key=key, place=place).aggregate(Max("version"))
    return (last["version__max"] or 0) + 1


def _describe_unknown(rows: PointRows, place: Place, words: str) -> Check:
    number = Check.objects.filter(inspection=rows.inspection, key__startswith="found-").count() + 1
    return Check(
        inspection=rows.inspection,
        key=f"found-{number}",
        place=place,
        section=next(
            (one.section for one in rows.checks.values() if one.place_id == place.pk),
            rows.sections[0] if rows.sections else "",
        ),
        order=_first_order(rows, place) + PLACE_STEP - 1,
        text=words,
        kind=Check.Kind.SEEN,
        evidence=Check.Evidence.PHOTO,
        source=_("found on site"),
        found_on_site=True,
    )


def _write_down(
    house: House,
    inspection: Inspection,
    by: Person,
    detail: Detail | None,
    place: Place,
    words: str,
    fresh: Sequence[Check],
) -> None:
    what = detail.name if detail else words
    record.append(
        house,
        "found on site",
        {
            "point": inspection.point.key,
            "point_name": inspection.point.name,
            "detail": detail.key if detail else "",
            "what": what,
            "place": place.name,
            "checks": [one.text for one in fresh],
            "by": {"person": by.pk, "name": by.name},
            "found_at": clock.now(),
        },
    )
    for planner in planners_of(house.builder):
        put(
            builder=house.builder,
            to=planner,
            kind=Message.Kind.NOTICE,
            about=f"inspection:{inspection.pk}",
            version=f"found:{fresh[0].pk}",
            subject=_("Found on site: %(house)s, %(place)s") % {"house": house.name, "place": place.name},
            body=cut(
                _("%(name)s found what the set-out does not have: %(what)s (%(place)s).")
                % {"name": by.name, "what": what, "place": place.name},
                LONGEST_TEXT,
            ),
            facts={"check": fresh[0].pk},
        )
