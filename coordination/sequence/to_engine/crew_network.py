"""Many houses as one network for levelling: only what is still to be done, each visit with its crew.

What a house's own network, calendars, records and told dates demand is put into one number for each
activity: the earliest start that they allow, as an elapsed lag from the house's anchor. So houses that are
recorded up to different half-days stand in one network, whose data date is the earliest of all.

Capacity is given by half-day: what the crew has, less what it does elsewhere, and never less than what stays
where it is: two firm bookings that clash do so already, and a fit does not settle it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

from coordination import clock, engine
from coordination.sequence.fit_basis import FitBasis, HouseBasis
from coordination.sequence.models import Activity
from coordination.sequence.to_engine.house_dates import LaidOut, lay_out

ANCHOR = "anchor"
FAR_AHEAD = 2 * 366 * 60
"""Half-days after the data date up to which a crew's other work is laid out."""
YEARS_BEYOND = 2


@dataclass(frozen=True)
class Piece:
    """One unfinished activity as levelling knows it."""

    house: HouseBasis
    activity: Activity
    id: str
    calendar: engine.WorkingCalendar
    duration: int
    start: int
    """Earliest start without the limits of crews."""
    finish: int
    visit: int | None
    crew: int | None
    trade: int | None
    """Of the crews to choose from, where no crew has the visit."""

    def worked(self, start: int, finish: int) -> list[int]:
        """Half-days worked between two instants."""
        return [t for t in range(start, finish) if self.calendar.works(t)] if self.duration else []


@dataclass
class CrewNetwork:
    """The pieces of all houses; `network` gives them to the engine with some visits kept."""

    basis: FitBasis
    laid: dict[int, LaidOut] = field(init=False)
    pieces: dict[str, Piece] = field(init=False)

    def __post_init__(self) -> None:
        self.laid = {
            one.house.pk: lay_out(
                one.house, stored=one.plan.calendars, rows=one.rows, years_beyond=YEARS_BEYOND
            )
            for one in self.basis.houses
        }
        self._calendars: dict[tuple[object, ...], engine.WorkingCalendar] = {}
        self.pieces = {}
        for one in self.basis.houses:
            for piece in self._cut(one):
                self.pieces[piece.id] = piece
        self.links = [link for one in self.basis.houses for link in self._join(one)]
        self._awaited = {link.from_id for link in self.links}
        self.data_date = min((piece.start for piece in self.pieces.values()), default=0)

    # ------------------------------------------------------------ the parts

    def id_of(self, house: HouseBasis, key: str) -> str:
        """An activity among all houses: '12:frame'."""
        return f"{house.house.pk}:{key}"

    def _share(self, calendar: engine.WorkingCalendar) -> engine.WorkingCalendar:
        """The same calendar once, however many houses resolved it."""
        facts = (calendar.week, tuple(sorted(calendar.off)), tuple(sorted(calendar.on)))
        return self._calendars.setdefault(facts, calendar)

    def _cut(self, one: HouseBasis) -> Iterable[Piece]:
        laid, rows = self.laid[one.house.pk], one.rows
        for activity in rows.activities:
            given, planned = laid.network[activity.key], laid.plan[activity.key]
            if given.finished:
                continue
            calendar = self._share(laid.network.calendar_of(activity.key))
            duration, start = given.duration, planned.es
            if given.under_way and given.actual_start is not None:
                left = given.remaining
                if left is None:
                    worked = calendar.count(given.actual_start, one.house.recorded_up_to)
                    left = max(1, given.duration - worked)
                duration = left
                start = calendar.start_to_finish_by(planned.ef, left) if left else planned.ef
            crew = rows.crew_of(activity)
            yield Piece(
                house=one,
                activity=activity,
                id=self.id_of(one, activity.key),
                calendar=calendar,
                duration=duration,
                start=start,
                finish=planned.ef,
                visit=activity.visit_id,
                crew=crew.pk if crew is not None and crew.pk in self.basis.crews else None,
                trade=self._find_trade(one, activity),
            )

    def _find_trade(self, one: HouseBasis, activity: Activity) -> int | None:
        visit = activity.visit
        if visit is None or visit.pk in one.rows.bookings or visit.pk in one.rows.begun_visits:
            return None
        return visit.trade_id if visit.trade_id in self.basis.choices else None

    def _join(self, one: HouseBasis) -> Iterable[engine.Relationship]:
        """Relationships between what is unfinished; what a recorded start settles stands in the anchor."""
        network = self.laid[one.house.pk].network
        for link in network.relationships:
            source, target = network[link.from_id], network[link.to_id]
            if source.finished or target.finished:
                continue
            if (target.under_way and link.type == "SS") or (source.under_way and link.type[0] == "S"):
                continue
            yield engine.Relationship(
                self.id_of(one, link.from_id),
                self.id_of(one, link.to_id),
                link.type,
                link.lag,
                self._name_lag_calendar(network, link),
            )

    def _name_lag_calendar(self, network: engine.Network, link: engine.Relationship) -> str | None:
        if link.lag_calendar in (None, "elapsed", "every"):
            return link.lag_calendar
        return self._name(self._share(network.calendars[str(link.lag_calendar)]))

    def _name(self, calendar: engine.WorkingCalendar) -> str:
        return f"calendar {[id(one) for one in self._calendars.values()].index(id(calendar))}"

    # ------------------------------------------------------------ the whole

    def before(self, ids: Collection[str]) -> set[str]:
        """All unfinished activities that lead to these."""
        into: dict[str, list[str]] = defaultdict(list)
        for link in self.links:
            into[link.to_id].append(link.from_id)
        seen: set[str] = set()
        ahead = list(ids)
        while ahead:
            for source in into[ahead.pop()]:
                if source not in seen:
                    seen.add(source)
                    ahead.append(source)
        return seen

    def network(self, kept: Collection[int]) -> engine.Network:
        """The engine's network with these visits kept where they are."""
        names = {id(one): f"calendar {n}" for n, one in enumerate(self._calendars.values())}
        anchors = [
            engine.Activity(f"{one.house.pk}:{ANCHOR} of the house", 0, house=one.house.key)
            for one in self.basis.houses
        ]
        anchor_of = {one.house: one.id for one in anchors}
        links = [
            engine.Relationship(
                anchor_of[piece.house.house.key], piece.id, "FS", piece.start - self.data_date, "elapsed"
            )
            for piece in self.pieces.values()
        ]
        return engine.Network(
            activities=(
                *anchors,
                *(self._give(piece, names[id(piece.calendar)]) for piece in self.pieces.values()),
            ),
            relationships=(*links, *self.links),
            calendars={names[id(one)]: one for one in self._calendars.values()},
            crews=tuple(self._give_crew(pk, kept) for pk in sorted(self.basis.crews)),
            weights=self.basis.weights,
            confirmed=frozenset(
                f"visit {piece.visit}" for piece in self.pieces.values() if piece.visit in kept
            ),
        )

    def _give(self, piece: Piece, calendar: str) -> engine.Activity:
        told = piece.house.told.get(piece.visit or 0)
        begun = piece.activity.actual_start is not None
        # A told date that may move is known to the engine as such: moving it has its price.
        movable = told is not None and not begun and piece.visit not in piece.house.stays
        not_before = told[0] if told and movable and told[0] >= self.basis.now else None
        wanted = piece.house.house.required_by
        last = piece.duration and piece.id not in self._awaited
        not_after = clock.as_half_day(wanted) + 2 if wanted and last else None
        if not_before is not None and not_after is not None and not_after <= not_before:
            not_after = None
        return engine.Activity(
            id=piece.id,
            duration=piece.duration,
            calendar=calendar,
            house=piece.house.house.key,
            not_before=not_before,
            not_after=not_after,
            crew=_ask(piece),
            visit=f"visit {piece.visit}" if piece.visit is not None else None,
        )

    # ------------------------------------------------------------ capacity

    def kept_load(self, crew: int, kept: Collection[int]) -> dict[int, set[int]]:
        """Half-day → the kept visits that have the crew there."""
        load: dict[int, set[int]] = defaultdict(set)
        for piece in self.pieces.values():
            if piece.crew == crew and piece.visit in kept and piece.visit is not None:
                for t in piece.worked(piece.start, piece.finish):
                    load[t].add(piece.visit)
        return load

    def free(self, crew: int, kept: Collection[int]) -> Mapping[int, int]:
        """Half-day → units for visits of the fit, wherever that differs from the crew's capacity."""
        capacity = self.basis.crews[crew].capacity
        taken: dict[int, int] = defaultdict(int)
        end = self.data_date + FAR_AHEAD
        for one in self.basis.elsewhere:
            if one.crew == crew:
                for t in range(max(one.first, self.data_date), min(one.end, end)):
                    taken[t] += one.units
        load = self.kept_load(crew, kept)
        return {t: max(0, capacity - taken.get(t, 0), len(load.get(t, ()))) for t in {*taken, *load}}

    def overbooked(self, kept: Collection[int]) -> list[tuple[int, int, set[int]]]:
        """Crew, first half-day and visits, where what stays is more than the crew can do."""
        found = []
        for crew, row in sorted(self.basis.crews.items()):
            taken: dict[int, int] = defaultdict(int)
            for one in self.basis.elsewhere:
                if one.crew == crew:
                    for t in range(max(one.first, self.data_date), min(one.end, one.first + 400)):
                        taken[t] += one.units
            load = self.kept_load(crew, kept)
            clashes = [t for t in sorted(load) if len(load[t]) + taken.get(t, 0) > row.capacity]
            if clashes:
                found.append((crew, clashes[0], load[clashes[0]]))
        return found

    def _give_crew(self, pk: int, kept: Collection[int]) -> engine.Crew:
        """A crew whose units by half-day are those of `free`: the most of all, less what is reserved."""
        capacity = self.basis.crews[pk].capacity
        free = self.free(pk, kept)
        most = max([capacity, *free.values()])
        reserved = []
        edge = self.data_date
        for first, end, units in _runs(free):
            if capacity < most and edge < first:
                reserved.append(engine.ReservedTime(edge, first, most - capacity))
            if units < most:
                reserved.append(engine.ReservedTime(first, end, most - units))
            edge = end
        if capacity < most:
            reserved.append(engine.ReservedTime(edge, edge + FAR_AHEAD, most - capacity))
        asked = {piece.trade for piece in self.pieces.values() if piece.trade is not None}
        trade = self.basis.crews[pk].trade_id
        chosen = f"trade {trade}" if trade in asked and pk in self.basis.choices.get(trade, ()) else None
        return engine.Crew(f"crew {pk}", most, reserved=tuple(reserved), trade=chosen)


def _ask(piece: Piece) -> dict[str, int]:
    """What a piece asks for: its crew, or one of the crews of its trade."""
    if not piece.duration:
        return {}
    if piece.crew is not None:
        return {f"crew {piece.crew}": 1}
    return {f"trade {piece.trade}": 1} if piece.trade is not None else {}


def _runs(free: Mapping[int, int]) -> list[tuple[int, int, int]]:
    """Runs of consecutive half-days with the same units: first, end, units."""
    runs: list[tuple[int, int, int]] = []
    for t in sorted(free):
        if runs and runs[-1][1] == t and runs[-1][2] == free[t]:
            runs[-1] = (runs[-1][0], t + 1, free[t])
        else:
            runs.append((t, t + 1, free[t]))
    return runs
