"""Which places of a house a detail is in, or a check is asked in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Protocol, TypeVar

from coordination.sequence.conditions import Value
from coordination.sequence.library.entry import Check, Detail, StandardSequence


class PlaceLike(Protocol):
    """What a selector asks of a place; `attributes` holds wet, external, ... as the entry defines them."""

    @property
    def key(self) -> str: ...
    @property
    def name(self) -> str: ...
    @property
    def kind(self) -> str: ...
    @property
    def zone(self) -> str: ...
    @property
    def attributes(self) -> Mapping[str, Value]: ...


P = TypeVar("P", bound=PlaceLike)


def places_for(item: Detail | Check, places: Iterable[P], sequence: StandardSequence) -> tuple[P, ...] | None:
    """The places that the item's selector takes, in the order given.

    None means the house as a whole, asked once (no selector, or a check marked `once`). An empty tuple
    means that this house has no such place. An attribute that a place does not name has the entry's default.
    """
    if item.places is None or (isinstance(item, Check) and item.once):
        return None
    defaults = {one.key: one.default for one in sequence.place_attributes}
    return tuple(place for place in places if item.places.true_for(_values_of(place, defaults)))


def _values_of(place: PlaceLike, defaults: Mapping[str, Value]) -> dict[str, Value]:
    own = {key: value for key, value in place.attributes.items() if key in defaults}
    named: dict[str, Value] = {
        "key": place.key,
        "name": place.name,
        "kind": place.kind,
        "zone": place.zone,
    }
    return {**defaults, **own, **named}
