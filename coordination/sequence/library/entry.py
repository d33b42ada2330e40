"""What an entry of the library says: one frozen record for each kind of row.

Half-days are working half-days of whoever does the work; lengths are in mm unless a feature says otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from coordination.sequence.conditions import Condition, Kind, Value

PointKind = Literal["", "hold", "hold from photographs", "witness", "photo", "review", "survey"]
CheckKind = Literal["seen", "counted", "measured", "document"]
CompareWord = Literal["at least", "at most", "equals", "between"]
RelationshipType = Literal["FS", "SS", "FF", "SF"]

HOLDING: tuple[PointKind, ...] = ("hold", "hold from photographs")
WITHOUT_SUCCESSOR: tuple[PointKind, ...] = ("witness", "photo")
ROLES = ("planner", "supervisor", "assessor")


@dataclass(frozen=True)
class Trade:
    """A kind of work; `caution` is the usual warning that goes with it."""

    key: str
    name: str
    caution: str = ""


@dataclass(frozen=True)
class Named:
    """A zone, a stage or a section: a key and the words for it."""

    key: str
    name: str


@dataclass(frozen=True)
class Feature:
    """A property of a house (or an attribute of a place), with its limits and its default.

    `source` says where the default comes from. A house for which `when` does not hold is not asked for it
    and keeps the default.
    """

    key: str
    label: str
    kind: Literal["number", "choice", "flag", "text"]
    default: Value
    unit: str = ""
    least: float | None = None
    most: float | None = None
    whole: bool = False
    choices: tuple[str, ...] = ()
    group: str = ""
    help: str = ""
    source: str = ""
    when: Condition | None = None

    @property
    def condition_kind(self) -> Kind:
        """The feature as the condition language sees it."""
        if self.kind in ("number", "flag"):
            return Kind("number" if self.kind == "number" else "flag")
        return Kind("text", self.choices)


@dataclass(frozen=True)
class NotCovered:
    """A combination of features for which the entry sets nothing out, with the reason and the remedy."""

    when: Condition
    feature: str
    why: str
    remedy: str


@dataclass(frozen=True)
class StarterPlace:
    """A place that a new house of this kind usually has; the planner changes the list."""

    key: str
    name: str
    kind: str
    zone: str
    attributes: Mapping[str, Value]


@dataclass(frozen=True)
class Link:
    """A relationship from `predecessor` to `successor`.

    `lag` is in half-days of `lag_calendar`: "" is the successor's working time, "elapsed" counts every
    half-day of the calendar. Out of a hold the lag is the word time.
    """

    predecessor: str
    successor: str
    type: RelationshipType = "FS"
    lag: int = 0
    lag_calendar: str = ""


@dataclass(frozen=True)
class Delivery:
    """Working half-days before the delivery by which it is ordered, and until which it may be changed."""

    order_lead: int
    cut_off: int = 0


@dataclass(frozen=True)
class Activity:
    """A piece of work by one trade, or a point (then `point` names its kind and `walker` who judges it)."""

    id: str
    name: str
    half_days: int
    stage: str
    trade: str = ""
    visit: str = ""
    point: PointKind = ""
    walker: str = ""
    joined_by: str = ""
    notice: int | None = None
    sections: tuple[str, ...] = ()
    zones: tuple[str, ...] = ()
    stake: bool = False
    outdoor: bool = False
    delivery: Delivery | None = None
    after: tuple[Link, ...] = ()
    content: str = ""
    when: Condition | None = None

    @property
    def is_point(self) -> bool:
        return self.point != ""

    @property
    def holds(self) -> bool:
        """Whether it places a hold."""
        return self.point in HOLDING


@dataclass(frozen=True)
class LongestGap:
    """From the finish of `first` to the start of `then` no more than `half_days`: a warning on the plan."""

    first: str
    then: str
    half_days: int
    why: str
    when: Condition | None = None


@dataclass(frozen=True)
class Source:
    """Where a number comes from: a plain value, a feature, a published limit or a calculation.

    Exactly one of `value`, `feature`, `published` (key of `coordination.fabric.LIMITS`) and `calculation`
    (with `result` and `inputs`: input name → feature or number) is given.
    """

    value: float | None = None
    feature: str = ""
    published: str = ""
    calculation: str = ""
    result: str = ""
    inputs: Mapping[str, str | float] = field(default_factory=dict)

    @property
    def features(self) -> tuple[str, ...]:
        """Keys of the features that the number depends on."""
        named = [given for given in self.inputs.values() if isinstance(given, str)]
        return tuple([self.feature, *named] if self.feature else named)


@dataclass(frozen=True)
class LimitRule:
    """How the limit of a check is found for a house. `high` (or `spread`) closes a 'between'."""

    compare: CompareWord
    of: Source
    high: Source | None = None
    spread: float | None = None
    unit: str = ""
    step: float = 1
    source: str = ""
    applies: str = ""
    sure: str = ""


@dataclass(frozen=True)
class Sampling:
    """All of them, or a random sample drawn on entry to the place.

    Of each place (or of a `share` of the places) `number` pieces, at least `least` in the house; where it
    goes by a length, at least one for each `every` of the feature `along`, in that feature's unit.
    """

    rule: Literal["every", "sample"] = "every"
    number: int = 0
    share: float = 1.0
    least: int = 0
    every: float = 0
    along: str = ""
    of: str = ""


@dataclass(frozen=True)
class MissRule:
    """What it costs to leave a detail undone: a kind of `coordination.fabric.misses` and its inputs.

    An input is the name of a feature or of the detail's own numbers, or a number.
    """

    kind: str
    inputs: Mapping[str, str | float] = field(default_factory=dict)


@dataclass(frozen=True)
class Detail:
    """Something that will be buried: who installs it, what covers it, at which point it is judged."""

    id: str
    name: str
    installed_by: tuple[str, ...]
    covered_by: tuple[str, ...]
    point: str
    along: tuple[str, ...] = ()
    section: str = ""
    instruction: str = ""
    tells: Mapping[str, str] = field(default_factory=dict)
    caution: str = ""
    drawing: str = ""
    drawing_inputs: Mapping[str, str | float] = field(default_factory=dict)
    numbers: Mapping[str, Source] = field(default_factory=dict)
    miss: MissRule | None = None
    places: Condition | None = None
    when: Condition | None = None


@dataclass(frozen=True)
class Check:
    """A criterion of a point, mostly on a detail in a place. `once` asks it once for the whole house."""

    id: str
    text: str
    kind: CheckKind
    point: str
    detail: str = ""
    section: str = ""
    limit: LimitRule | None = None
    numbers: Mapping[str, Source] = field(default_factory=dict)
    evidence: tuple[str, ...] = ()
    sampling: Sampling = Sampling()
    safety: bool = False
    remote: bool = False
    once: bool = False
    source: str = ""
    sure: str = ""
    places: Condition | None = None
    when: Condition | None = None


@dataclass(frozen=True)
class Option:
    """A named switch: rows that are added, changed and removed, and features that it fixes."""

    key: str
    name: str
    what: str
    excludes: tuple[str, ...] = ()
    sets: Mapping[str, Value] = field(default_factory=dict)
    added: Mapping[str, tuple[Mapping[str, Any], ...]] = field(default_factory=dict)
    changed: Mapping[str, tuple[Mapping[str, Any], ...]] = field(default_factory=dict)
    removed: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class Explained:
    """A warning that the entry's author knows and lets stand, with the reason."""

    lint: str
    entry: str
    why: str


@dataclass(frozen=True)
class StandardSequence:
    """A versioned entry of the library, as its file says it."""

    key: str
    number: int
    name: str
    description: str
    file: str
    text: str = field(repr=False)
    trades: tuple[Trade, ...]
    zones: tuple[Named, ...]
    stages: tuple[Named, ...]
    features: tuple[Feature, ...]
    not_covered: tuple[NotCovered, ...]
    place_kinds: tuple[Named, ...]
    place_attributes: tuple[Feature, ...]
    places: tuple[StarterPlace, ...]
    visit_names: Mapping[str, str]
    activities: tuple[Activity, ...]
    gaps: tuple[LongestGap, ...]
    details: tuple[Detail, ...]
    checks: tuple[Check, ...]
    options: tuple[Option, ...]
    explained: tuple[Explained, ...]

    @property
    def relationships(self) -> tuple[Link, ...]:
        """Every relationship, in the order of the file."""
        return tuple(link for activity in self.activities for link in activity.after)

    @property
    def feature_kinds(self) -> dict[str, Kind]:
        """Names that conditions on the house may use."""
        return {feature.key: feature.condition_kind for feature in self.features}

    @property
    def place_condition_kinds(self) -> dict[str, Kind]:
        """Names that selectors of places may use."""
        kinds = {"key": Kind("text"), "name": Kind("text")}
        kinds["kind"] = Kind("text", tuple(kind.key for kind in self.place_kinds))
        kinds["zone"] = Kind("text", tuple(zone.key for zone in self.zones))
        return kinds | {one.key: one.condition_kind for one in self.place_attributes}


@dataclass(frozen=True)
class Visit:
    """One trade at one house over consecutive activities; holds before it are the same for all of them."""

    key: str
    name: str
    trade: str
    activities: tuple[str, ...]
    delivery: Delivery | None = None


@dataclass(frozen=True)
class Dropped:
    """An activity that this house does not have, and why."""

    id: str
    why: str


@dataclass(frozen=True)
class ResolvedSequence:
    """The entry for one house: options applied, conditions decided, dropped activities bridged."""

    entry: StandardSequence
    features: Mapping[str, Value]
    options: tuple[str, ...]
    activities: tuple[Activity, ...]
    relationships: tuple[Link, ...]
    visits: tuple[Visit, ...]
    gaps: tuple[LongestGap, ...]
    details: tuple[Detail, ...]
    checks: tuple[Check, ...]
    dropped: tuple[Dropped, ...]

    def activity(self, key: str) -> Activity:
        """The activity of that id; KeyError if the house has none."""
        for one in self.activities:
            if one.id == key:
                return one
        raise KeyError(key)

    @property
    def stake(self) -> Activity | None:
        """The activity that 'float to the linings' means."""
        return next((one for one in self.activities if one.stake), None)

    def checks_of(self, point: str) -> tuple[Check, ...]:
        """Checks that are judged at a point, in the order of the file."""
        return tuple(check for check in self.checks if check.point == point)
