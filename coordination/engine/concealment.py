"""What is buried when: access windows of concealed details, and the faults of a sequence that would bury one
unseen.

A detail is *installed* by some activities, *judged* at its point, *buried* by its coverers, in this order.
The order is a matter of structure (a path of relationships must enforce it, whatever the durations) and of
dates (the window in which the detail can be seen).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from coordination.engine.network import Detail, Network, Relationship
from coordination.engine.plan import PlannedActivity, Window
from coordination.engine.workdays import Refused, add_lag, take_lag

Dates = Mapping[str, PlannedActivity]


# --- windows ------------------------------------------------------------------------------------------------


def find_windows(network: Network, data_date: int, dates: Dates) -> dict[str, Window]:
    """The window of every detail, by id."""
    into: defaultdict[str, list[Relationship]] = defaultdict(list)
    out: defaultdict[str, list[Relationship]] = defaultdict(list)
    for link in network.relationships:
        into[link.to_id].append(link)
        out[link.from_id].append(link)
    return {d.id: _find_window(network, d, data_date, dates, into, out) for d in network.details}


def _find_window(
    network: Network,
    detail: Detail,
    data_date: int,
    dates: Dates,
    into: Mapping[str, list[Relationship]],
    out: Mapping[str, list[Relationship]],
) -> Window:
    opens = max(
        (
            add_lag(dates[link.from_id].ef, link.lag, network.lag_calendar_of(link))
            for installer in detail.installed_by
            for link in into[installer]
            if link.type == "FS" and link.from_id not in detail.installed_by
        ),
        default=data_date,
    )
    last = max(detail.installed_by, key=lambda name: dates[name].ef)
    installed, calendar = dates[last].ef, network.calendar_of(last)
    buried = min(dates[c].ef if c in detail.alongside else dates[c].es for c in detail.covered_by)
    if detail.point is None:
        due = judged = min(dates[c].es for c in detail.covered_by)
    else:
        due, judged = dates[detail.point].es, dates[detail.point].ef
    until = buried
    if detail.point is not None and out[detail.point]:
        until = max(opens, _latest_start_of_point(network, detail.point, dates, out[detail.point]))
    return Window(
        id=detail.id,
        opens=opens,
        due=due,
        buried=buried,
        slack_due=calendar.count(installed, due),
        slack_buried=calendar.count(installed, buried),
        put_right_until=until,
        inverted=not (installed <= due and judged <= buried),
    )


def _latest_start_of_point(network: Network, point: str, dates: Dates, out: list[Relationship]) -> int:
    """The latest start of a point at which nothing that waits for it moves, coverer or not."""
    calendar, n = network.calendar_of(point), network[point].duration
    starts = []
    for link in out:
        kept = dates[link.to_id].ef if link.type[1] == "F" else dates[link.to_id].es
        bound = take_lag(kept, link.lag, network.lag_calendar_of(link))
        if link.type[0] == "F":
            starts.append(calendar.start_to_finish_by(bound, n))
        else:
            starts.append(calendar.last_start(bound, n))
    return min(starts)


# --- structure ----------------------------------------------------------------------------------------------

End = tuple[str, bool]
"""One end of an activity: its id, and whether the finish is meant."""


@dataclass(frozen=True)
class DetailFault:
    """A detail that the relationships do not protect: which, what is wrong, between which activities."""

    detail_id: str
    kind: str
    first: str
    second: str

    def __str__(self) -> str:
        words = {
            "coverer": "the coverer {1!r} does not follow the installer {0!r}",
            "point": "the point {1!r} does not follow the installer {0!r}",
            "hold": "the coverer {1!r} does not follow the holding point {0!r}",
            "lag": "the negative lag from the holding point {0!r} to {1!r} lets work start too early",
        }
        return (
            f"detail {self.detail_id!r}: {words[self.kind].format(self.first, self.second)}; "
            "add or correct the relationship"
        )


def find_detail_faults(network: Network) -> list[DetailFault]:
    """Every detail that could be buried unseen, whatever the durations.

    One end follows another when a path of relationships without negative lag leads to it. A coverer must
    follow every installer's finish, as must the point; a *holding* point (one that has successors: witness
    and photo points have none) must lie between them and the coverer. A coverer alongside need only finish
    after them.
    """
    faults: list[DetailFault] = []
    follows: defaultdict[End, list[End]] = defaultdict(list)
    out: defaultdict[str, list[Relationship]] = defaultdict(list)
    for activity in network.activities:
        follows[(activity.id, False)].append((activity.id, True))
    for link in network.relationships:
        out[link.from_id].append(link)
        if link.lag >= 0:
            follows[(link.from_id, link.type[0] == "F")].append((link.to_id, link.type[1] == "F"))
    reached: dict[str, set[End]] = {}

    def after_finish(name: str) -> set[End]:
        if name not in reached:
            reached[name] = _reach(follows, (name, True))
        return reached[name]

    for detail in network.details:
        ends = [(coverer, coverer in detail.alongside) for coverer in detail.covered_by]
        for installer in detail.installed_by:
            found = after_finish(installer)
            faults += [
                DetailFault(detail.id, "coverer", installer, end[0]) for end in ends if end not in found
            ]
            if detail.point is not None and (detail.point, False) not in found:
                faults.append(DetailFault(detail.id, "point", installer, detail.point))
        if detail.point is not None and out[detail.point]:
            found = after_finish(detail.point)
            faults += [
                DetailFault(detail.id, "hold", detail.point, end[0]) for end in ends if end not in found
            ]
            faults += [
                DetailFault(detail.id, "lag", detail.point, x.to_id) for x in out[detail.point] if x.lag < 0
            ]
    return faults


def refuse_detail_faults(network: Network) -> None:
    """Raise `Refused` with the first fault of `find_detail_faults`, if there is one."""
    for fault in find_detail_faults(network):
        raise Refused(str(fault))


def _reach(follows: Mapping[End, list[End]], source: End) -> set[End]:
    found, stack = {source}, [source]
    while stack:
        for end in follows.get(stack.pop(), ()):
            if end not in found:
                found.add(end)
                stack.append(end)
    return found
