"""What the drawing of one house's programme shows: plain frozen values, refused when they make no sense.

All dates are half-days since Monday 1970-01-05 (even = morning). Instants are the starts of half-days;
intervals are half-open: work from Monday morning to Tuesday afternoon finishes at Wednesday morning's number.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

ROW_STATES: Final = frozenset(
    {"", "asked", "pencilled", "firm", "under way", "done", "declined", "stood down"}
)
HOLD_STATES: Final = frozenset({"held", "not ready", "released", "re-opened", "set aside"})
POINT_KINDS: Final = frozenset({"", "hold", "hold from photographs", "witness", "photo", "review", "survey"})


@dataclass(frozen=True)
class Window:
    """One detail's access window: when it can first be done, is checked, is buried.

    ``due_by_end`` is set where the point takes no time of its own: it is then due *by the end of* the
    half-day before the instant.
    """

    detail: str
    opens: int
    due: int
    buried: int
    point: str = ""
    covered_by: str = ""
    due_by_end: bool = False
    section: str = ""
    """Where its to-scale section is fetched from; empty where it has none."""

    @property
    def inverted(self) -> bool:
        """Whether what really happened turned the order of the window round."""
        return not self.opens <= self.due <= self.buried


@dataclass(frozen=True)
class Row:
    """One activity on ``[start, finish)``; a point of no duration has start = finish."""

    key: str
    name: str
    trade: str
    start: int
    finish: int
    state: str = ""
    point: str = ""
    worked_until: int | None = None
    """While under way: the instant up to which the work is recorded."""
    float_half_days: int | None = None
    """Working half-days of float, negative when late; None where float has no meaning."""
    float_until: int | None = None
    """The instant on the axis at which that float ends."""
    windows: tuple[Window, ...] = ()
    reason: str = ""
    link: str = ""

    def __post_init__(self) -> None:
        if self.finish < self.start:
            raise ValueError(f"{self.key}: finishes ({self.finish}) before it starts ({self.start})")
        if self.state not in ROW_STATES:
            raise ValueError(f"{self.key}: unknown state {self.state!r}; one of {sorted(ROW_STATES)}")
        if self.point not in POINT_KINDS:
            raise ValueError(
                f"{self.key}: unknown kind of point {self.point!r}; one of {sorted(POINT_KINDS)}"
            )

    @property
    def anchor(self) -> str:
        """The id of the row in the table of words."""
        return f"activity-{self.key}"

    @property
    def href(self) -> str:
        """Where the row leads: its own page, or its row in the table of words."""
        return self.link or f"#{self.anchor}"


@dataclass(frozen=True)
class Stage:
    """A named run of rows, such as 'Rough-in'."""

    name: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class HoldMark:
    """A hold across the rows at the instant at which it lets the work go on."""

    key: str
    at: int
    label: str
    state: str
    note: str = ""
    link: str = ""
    former: str = ""
    """The release before a re-opening; stays legible."""

    def __post_init__(self) -> None:
        if self.state not in HOLD_STATES:
            raise ValueError(f"{self.label}: unknown state {self.state!r}; one of {sorted(HOLD_STATES)}")


@dataclass(frozen=True)
class Programme:
    """Everything the drawing of one house shows."""

    house: str
    stages: tuple[Stage, ...]
    holds: tuple[HoldMark, ...] = ()
    today: int | None = None
    non_working: frozenset[int] = frozenset()
    """Half-days on which nobody works here; shaded. The caller decides whose calendar counts."""
    warnings: tuple[str, ...] = ()
    start: int | None = None
    finish: int | None = None
    """Part of the axis that must be seen; without them what the rows need. Never clips a row."""

    @property
    def rows(self) -> tuple[Row, ...]:
        """All rows in drawing order."""
        return tuple(row for stage in self.stages for row in stage.rows)

    @property
    def next_anchor(self) -> str:
        """The anchor of the first row that is not done, which screens bring into sight; empty at the end."""
        return next((row.anchor for row in self.rows if row.state != "done"), "")
