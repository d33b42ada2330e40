"""The places of a house as the planner lists them, or as the sequence starts a house with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_slug
from django.utils.translation import gettext as _

from coordination.people.refusals import BadInput
from coordination.sequence.library.rows import refuse_value
from coordination.sequence.standard import StandardSequence


@dataclass(frozen=True)
class PlaceOrder:
    """One place, checked against the sequence."""

    key: str
    name: str
    kind: str
    zone: str
    order: int
    attributes: Mapping[str, Any]


def read_places(rows: Sequence[Mapping[str, Any]], entry: StandardSequence) -> list[PlaceOrder]:
    """The places in walking order; an empty list gives those of the sequence.

    Raises:
        BadInput: naming the place and what is wrong with it.
    """
    if not rows:
        return [
            PlaceOrder(one.key, one.name, one.kind, one.zone, number, one.attributes)
            for number, one in enumerate(entry.places, start=1)
        ]
    places = [_read_place(row, number, entry) for number, row in enumerate(rows, start=1)]
    seen: set[str] = set()
    for place in places:
        if place.key in seen:
            raise BadInput(
                f"place '{place.key}'", _("It is there twice. Give the second another key, or join the two.")
            )
        seen.add(place.key)
    return sorted(places, key=lambda place: place.order)


def _read_place(row: Mapping[str, Any], number: int, entry: StandardSequence) -> PlaceOrder:
    key = str(row.get("key", ""))
    where = f"place '{key}'" if key else f"place {number}"
    try:
        validate_slug(key)
    except ValidationError as error:
        raise BadInput(where, _("'key' may have letters, digits, - and _ only, as in bed-1.")) from error
    unknown = sorted(set(row) - {"key", "name", "kind", "zone", "order", "attributes"})
    if unknown:
        raise BadInput(
            where,
            _("'%(name)s' is unknown here. Known are key, name, kind, zone, order, attributes.")
            % {"name": unknown[0]},
        )
    name, order = row.get("name", ""), row.get("order", number)
    if not isinstance(name, str) or not name.strip():
        raise BadInput(where, _("'name' is missing. Say what the place is called, as in 'Bathroom'."))
    if type(order) is not int or not 0 <= order < 10_000:
        raise BadInput(where, _("'order' must be a whole number, the place in the walk."))
    kind = _choose(where, "kind", row.get("kind", "room"), [one.key for one in entry.place_kinds])
    zone = _choose(where, "zone", row.get("zone", "ground"), [one.key for one in entry.zones])
    attributes = row.get("attributes", {})
    if not isinstance(attributes, Mapping):
        raise BadInput(where, _("'attributes' must be a table, as in { wet = true }."))
    known = {one.key: one for one in entry.place_attributes}
    for attribute, value in attributes.items():
        if attribute not in known:
            raise BadInput(
                where,
                _("'%(name)s' is no attribute of a place here. Known are: %(known)s.")
                % {"name": attribute, "known": ", ".join(sorted(known))},
            )
        if message := refuse_value(known[attribute], value):
            raise BadInput(where, f"{known[attribute].label}: {message}")
    return PlaceOrder(key, name.strip()[:80], kind, zone, order, dict(attributes))


def _choose(where: str, name: str, value: Any, known: list[str]) -> str:
    if value not in known:
        raise BadInput(
            where,
            _("'%(name)s' is '%(value)s'. Choose from: %(known)s.")
            % {"name": name, "value": value, "known": ", ".join(known)},
        )
    return str(value)
