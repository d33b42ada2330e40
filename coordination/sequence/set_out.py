"""Setting out: from a standard sequence and the house's features to activities, visits, details and holds.

One transaction: the whole house stands, with holds, inspections, bookings and its first plan, or nothing.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_slug
from django.db import transaction
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.access import has_role
from coordination.people.models import Builder, Crew, Person, Region, Role, Trade, WorkingCalendar
from coordination.people.refusals import BadInput
from coordination.sequence import bookings, holds, inspection, standard
from coordination.sequence.diary import write_change
from coordination.sequence.library.rows import refuse_value
from coordination.sequence.models import (
    Activity,
    Covering,
    Detail,
    DetailPlace,
    House,
    Installer,
    Place,
    Relationship,
    SequenceVersion,
    Visit,
)
from coordination.sequence.publishing import add_trades, as_bad_input, read_version, refuse_findings
from coordination.sequence.replanning import replan
from coordination.sequence.set_out_places import PlaceOrder, read_places
from coordination.sequence.set_out_rows import (
    activity_values,
    describe_coverings,
    describe_links,
    detail_values,
    lay_gaps,
    present_details,
    visit_values,
)

ACCESS_FIELDS = ("keys_at", "access", "start_times", "parking", "hazards", "power_and_toilet")


@dataclass(frozen=True)
class SetOut:
    """The order to set out one house.

    Attributes:
        features: those that differ from the builder's own (state, climate zone, edition) and from the
            sequence's defaults.
        options: keys of the sequence's named switches.
        places: rows ``{"key", "name", "kind", "zone", "attributes"}`` (and `order`, else as listed); empty:
            the places that the sequence starts a house with.
        crews: trade key → the crew that is asked for all visits of that trade.
    """

    builder: Builder
    version: SequenceVersion
    key: str
    name: str
    region: Region
    calendar: WorkingCalendar
    starts_on: dt.date
    features: Mapping[str, Any] = field(default_factory=dict)
    options: list[str] = field(default_factory=list)
    places: list[Mapping[str, Any]] = field(default_factory=list)
    supervisor: Person | None = None
    address: str = ""
    required_by: dt.date | None = None
    keys_at: str = ""
    access: str = ""
    start_times: str = ""
    parking: str = ""
    hazards: str = ""
    power_and_toilet: str = ""
    crews: Mapping[str, Crew] = field(default_factory=dict)


@transaction.atomic
def set_out(order: SetOut, by: Person | None = None) -> House:
    """Set a house out and return it, with its first plan.

    Raises:
        BadInput: naming the field, feature, place, option or row of the sequence that is wrong.
    """
    _refuse_nonsense(order)
    entry = read_version(order.version)
    usual = builder_features(order.builder, entry, order.options)
    resolved = resolve_for(order.version, {**usual, **order.features}, order.options, order.features)
    places = read_places(order.places, resolved.entry)
    trades = add_trades(resolved.entry)
    _refuse_wrong_crews(order, trades)
    house = _make_house(order, resolved)
    made_places = _make_places(house, places)
    visits = _make_visits(house, resolved, trades)
    activities = _make_activities(house, resolved, trades, visits)
    _make_relationships(house, resolved, activities)
    _make_details(house, resolved, activities, made_places)
    holds.place_holds(house)
    holds.rebuild_hold_before(house)
    inspection.port().on_set_out(house, resolved)
    for visit in visits.values():
        crew = order.crews.get(visit.trade.key)
        if crew is not None:
            bookings.ask(visit, crew, by)
    words = _("%(house)s set out from %(version)s") % {"house": house.name, "version": order.version}
    facts = {"sequence": order.version.key, "version": order.version.number}
    write_change(house, "set out", "", words, facts, by)
    replan(house, cause=words, by=by)
    return House.objects.select_related("builder", "region", "calendar", "sequence_version").get(pk=house.pk)


def resolve_for(
    version: SequenceVersion,
    features: Mapping[str, Any],
    options: list[str],
    told: Mapping[str, Any] | None = None,
) -> standard.ResolvedSequence:
    """The sequence of one house, as its version gives it.

    Args:
        told: features that a person gives now; their texts are read even where nothing of the house uses
            them yet. What a house has had since it was set out is taken as it is.

    Raises:
        BadInput: naming each feature or the option that the sequence refuses.
    """
    entry = read_version(version)
    try:
        resolved = standard.resolve(entry, features, options)
        standard.refuse_misread(resolved.entry, told or {})
    except standard.FeatureErrors as errors:
        where = ", ".join(errors.errors)
        raise BadInput(_("feature %(keys)s") % {"keys": where}, "; ".join(errors.errors.values())) from errors
    except standard.SequenceError as error:
        raise as_bad_input(error) from error
    refuse_findings(standard.lint(resolved))
    return resolved


def builder_features(
    builder: Builder, entry: standard.StandardSequence, options: Iterable[str] = ()
) -> dict[str, Any]:
    """The builder's own state, climate zone and edition of the code, where the sequence asks for them.

    A value that the sequence does not know, or that one of `options` fixes, is left to the sequence.
    """
    fixed = {key for one in entry.options if one.key in options for key in one.sets}
    given = {
        "state": builder.state,
        "climate_zone": builder.climate_zone,
        "ncc_edition": builder.code_edition,
    }
    return {
        one.key: given[one.key]
        for one in entry.features
        if one.key in given and one.key not in fixed and not refuse_value(one, given[one.key])
    }


def resolved_of(house: House) -> standard.ResolvedSequence:
    """The sequence that a house was set out from, with its features and options."""
    return resolve_for(house.sequence_version, house.features, list(house.options))


# ---------------------------------------------------------------------- refusals


def _refuse_nonsense(order: SetOut) -> None:
    try:
        validate_slug(order.key)
    except ValidationError as error:
        raise BadInput("key", _("Use letters, digits, - and _ only, as in lot-7.")) from error
    if not order.name.strip():
        raise BadInput("name", _("Say what the house is called on site, as in 'Lot 7'."))
    if order.builder.houses.filter(key=order.key).exists():
        raise BadInput("key", _("There is a house '%(key)s' already. Choose another.") % {"key": order.key})
    owned = {
        "sequence": order.version.builder_id,
        "region": order.region.builder_id,
        "calendar": order.calendar.builder_id or order.builder.pk,
    }
    for name, builder_id in owned.items():
        if builder_id != order.builder.pk:
            raise BadInput(
                name, _("It belongs to another builder. Choose one of %(own)s.") % {"own": order.builder}
            )
    if order.required_by is not None and order.required_by < order.starts_on:
        raise BadInput("required_by", _("The house is wanted before it starts. Correct one of the two days."))
    if order.supervisor is not None and not has_role(order.supervisor, order.builder, Role.Kind.SUPERVISOR):
        raise BadInput(
            "supervisor",
            _("%(person)s is no supervisor of %(builder)s today. Add the role, or choose another.")
            % {"person": order.supervisor, "builder": order.builder},
        )
    for name in ("address", *ACCESS_FIELDS):
        longest = getattr(House._meta.get_field(name), "max_length", None)
        if longest is not None and len(getattr(order, name)) > longest:
            raise BadInput(name, _("It is too long: at most %(most)s characters.") % {"most": longest})


def _refuse_wrong_crews(order: SetOut, trades: Mapping[str, Trade]) -> None:
    engaged = set(order.builder.engagements.values_list("company", flat=True))
    for key, crew in order.crews.items():
        where = f"crews, {key}"
        if key not in trades:
            raise BadInput(
                where,
                _("This sequence has no such trade. Its trades are: %(trades)s.")
                % {"trades": ", ".join(sorted(trades))},
            )
        if crew.trade_id != trades[key].pk:
            raise BadInput(
                where,
                _("%(crew)s is of the trade %(trade)s. Choose a crew of this one.")
                % {"crew": crew, "trade": crew.trade},
            )
        if crew.company_id not in engaged:
            raise BadInput(
                where,
                _("%(company)s does not work for %(builder)s. Engage it first.")
                % {"company": crew.company, "builder": order.builder},
            )


# ---------------------------------------------------------------------- rows


def _make_house(order: SetOut, resolved: standard.ResolvedSequence) -> House:
    starts = clock.as_half_day(order.starts_on)
    return House.objects.create(
        builder=order.builder,
        sequence_version=order.version,
        region=order.region,
        calendar=order.calendar,
        supervisor=order.supervisor,
        key=order.key,
        name=order.name.strip(),
        address=order.address,
        features=dict(resolved.features),
        options=list(resolved.options),
        starts_on=order.starts_on,
        required_by=order.required_by,
        # Nothing has happened yet; a start in the past waits for its reports.
        recorded_up_to=min(starts, clock.current_half_day(order.builder.time_zone)),
        created_at=clock.now(),
        **{name: getattr(order, name) for name in ACCESS_FIELDS},
    )


def _make_places(house: House, places: list[PlaceOrder]) -> list[Place]:
    return Place.objects.bulk_create(
        Place(
            house=house,
            key=place.key,
            name=place.name,
            kind=place.kind,
            zone=place.zone,
            order=place.order,
            attributes=dict(place.attributes),
        )
        for place in places
    )


def _make_visits(
    house: House, resolved: standard.ResolvedSequence, trades: Mapping[str, Trade]
) -> dict[str, Visit]:
    made = Visit.objects.bulk_create(
        Visit(house=house, key=visit.key, **visit_values(visit, number, trades))
        for number, visit in enumerate(resolved.visits, start=1)
    )
    return {visit.key: visit for visit in made}


def _make_activities(
    house: House,
    resolved: standard.ResolvedSequence,
    trades: Mapping[str, Trade],
    visits: Mapping[str, Visit],
) -> dict[str, Activity]:
    visit_of = {key: visits[visit.key] for visit in resolved.visits for key in visit.activities}
    made = Activity.objects.bulk_create(
        Activity(house=house, key=one.id, **activity_values(one, number, trades, visit_of.get(one.id)))
        for number, one in enumerate(resolved.activities, start=1)
    )
    return {activity.key: activity for activity in made}


def _make_relationships(
    house: House, resolved: standard.ResolvedSequence, activities: Mapping[str, Activity]
) -> None:
    Relationship.objects.bulk_create(describe_links(house, resolved, activities))
    lay_gaps(house, resolved, activities)


def _make_details(
    house: House,
    resolved: standard.ResolvedSequence,
    activities: Mapping[str, Activity],
    places: list[Place],
) -> None:
    """Details with installers, coverings and places; one that is in no place of this house is left out."""
    present = present_details(resolved, places)
    details = Detail.objects.bulk_create(
        Detail(house=house, key=one.id, **detail_values(one, number, resolved, activities))
        for number, (one, _found) in enumerate(present, start=1)
    )
    by_key = {detail.key: detail for detail in details}
    Installer.objects.bulk_create(
        Installer(detail=by_key[one.id], activity=activities[key])
        for one, _found in present
        for key in one.installed_by
    )
    Covering.objects.bulk_create(describe_coverings(resolved, by_key, activities))
    DetailPlace.objects.bulk_create(
        DetailPlace(detail=by_key[one.id], place=place) for one, found in present for place in found or ()
    )
