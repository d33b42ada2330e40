"""Fitting to the crews: the engine levels many houses, and its answer is read as starts with their reasons.

The search runs in slices, so that somebody can be told how far it is and may stop it. What stays (see
`fit_basis`) never moves: where levelling would push it by moving what leads up to it, that stays too, and the
search is made again. The answer is judged by the engine's independent judge before anybody sees it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _

from coordination import engine
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence.fit_basis import FitBasis
from coordination.sequence.models import FittedStart
from coordination.sequence.to_engine.crew_network import CrewNetwork, Piece

FIRST_SCHEDULES = 8
"""Before the first slice: the plain rules, so that there is always something to show."""
WEIGHED_SCHEDULES = 512
"""Instead of these where houses are weighed: the plain rules know nothing of that, only their mixtures do."""
CHOICE_SCHEDULES = 64
"""To choose crews by, where no crew has a visit."""
SLICES = (64, 128, 256, 512, 1024)
"""Schedules of each slice in turn, the last one over and over. Time only decides how many slices are made:
the same houses, searched for as many slices, come out with the same dates."""

Report = Callable[[float, str], None]
"""Told the share that is done and what is being done; raises to end the computation."""


@dataclass(frozen=True)
class Overbooked:
    """A crew that has more fixed visits at once than it can do; a fit cannot settle it."""

    crew: int
    half_day: int
    visits: tuple[int, ...]


@dataclass(frozen=True)
class HouseFit:
    """One house in a fit.

    Attributes:
        dates: activity key → start and finish (instants) of what is unfinished.
        starts: rows, not saved, that make the house's own plan come out with these dates.
        waits: crew → half-days that it costs on the way to the house's finish.
        free_finish, finish: exclusive, without and with the limits of the crews.
    """

    dates: Mapping[str, tuple[int, int]]
    starts: tuple[FittedStart, ...]
    waits: Mapping[int, int]
    free_finish: int
    finish: int


@dataclass(frozen=True)
class CrewFit:
    """Dates that the crews can keep, by house."""

    houses: Mapping[int, HouseFit]
    overbooked: tuple[Overbooked, ...]
    schedules: int
    kept: frozenset[int]
    basis: FitBasis
    """The houses with the crews that were chosen for visits without one."""


def fit_houses(basis: FitBasis, *, seconds: float, report: Report) -> CrewFit:
    """Level the houses of a basis.

    Args:
        seconds: how long to look for better dates; 0: those of the plain rules.
        report: called before each slice; what it raises ends the computation.

    Raises:
        BadInput: what cannot be planned, by name.
        WrongState: the answer does not stand before the judge (a fault of this program, said openly).
    """
    try:
        basis = choose_crews(basis)
        whole = CrewNetwork(basis)
    except engine.Refused as refused:
        raise BadInput(_("houses"), str(refused)) from refused
    kept = {visit for one in basis.houses for visit in one.stays}
    if not whole.pieces:
        return CrewFit({}, (), 0, frozenset(kept), basis)
    try:
        while True:
            # Looked at with few schedules first: what has to stay besides shows at once.
            network = whole.network(kept)
            best = _level(network, whole.data_date, schedules=1, seed=0)
            if not (pushed := _find_pushed(whole, kept, best)):
                best, made = _search(network, whole.data_date, seconds, report)
                if not (pushed := _find_pushed(whole, kept, best)):
                    break
            kept |= pushed
    except engine.Refused as refused:
        raise BadInput(_("houses"), str(refused)) from refused
    report(1.0, _("checking the dates"))
    _judge(network, whole.data_date, best)
    return _describe(whole, kept, best, made)


def choose_crews(basis: FitBasis) -> FitBasis:
    """The basis with a crew for each visit that has none, where the builder has crews of its trade.

    Chosen is by the house's own calendar; the dates are then levelled with calendar and word time of the
    crew that was chosen. `Refused` as by `engine.level_parts`.
    """
    whole = CrewNetwork(basis)
    if all(piece.trade is None for piece in whole.pieces.values()):
        return basis
    kept = {visit for one in basis.houses for visit in one.stays}
    best = _level(whole.network(kept), whole.data_date, schedules=CHOICE_SCHEDULES, seed=0)
    chosen = {}
    for piece in whole.pieces.values():
        if piece.visit is not None and piece.trade is not None and piece.id in best.crew_of:
            name = best.crew_of[piece.id][f"trade {piece.trade}"]
            chosen[piece.visit] = basis.crews[int(name.split()[1])]
    return basis.with_crews(chosen)


def _level(network: engine.Network, data_date: int, *, schedules: int, seed: int) -> engine.Levelled:
    """Houses that share no crew are levelled apart from each other."""
    return engine.level_parts(network, data_date=data_date, schedules=schedules, seed=seed)


def _search(
    network: engine.Network, data_date: int, seconds: float, report: Report
) -> tuple[engine.Levelled, int]:
    """The best of several slices, each begun from another seed."""
    report(0.0, _("placing the visits"))
    first = WEIGHED_SCHEDULES if network.weights else FIRST_SCHEDULES
    best = _level(network, data_date, schedules=first, seed=0)
    made = best.schedules
    spent = last = 0.0
    number = 0
    while seconds > 0 and best.objective > 0:  # at 0 nobody waits for anybody
        size = SLICES[min(number, len(SLICES) - 1)]
        if number and spent + last * size / SLICES[min(number - 1, len(SLICES) - 1)] > seconds:
            break
        report(min(1.0, spent / seconds), _("looking for better dates"))
        found = _level(network, data_date, schedules=size, seed=number + 1)
        number, last = number + 1, found.seconds
        spent, made = spent + last, made + found.schedules
        if found.objective < best.objective:
            best = found
    return best, made


def _find_pushed(whole: CrewNetwork, kept: set[int], best: engine.Levelled) -> set[int]:
    """Visits that must stay too, because what leads up to a kept visit has pushed it."""
    pushed = [
        piece.id
        for piece in whole.pieces.values()
        if piece.visit in kept and best.start[piece.id] != piece.start
    ]
    if not pushed:
        return set()
    leading = {whole.pieces[name].visit for name in whole.before(pushed)}
    more = {visit for visit in leading if visit is not None} - kept
    if not more:
        names = ", ".join(sorted({whole.pieces[name].activity.name for name in pushed})[:3])
        raise WrongState(
            _("%(work)s has to stay and finds no place. Look at its booking, then fit again.")
            % {"work": names}
        )
    return more


def _judge(network: engine.Network, data_date: int, best: engine.Levelled) -> None:
    dates = {name: (best.start[name], best.finish[name]) for name in best.start}
    faults = [
        *engine.find_faults(network, dates, data_date=data_date),
        *engine.find_crew_faults(network, dates, data_date=data_date),
    ]
    if faults:
        raise WrongState(
            _("The dates found do not stand up to the check: %(fault)s. Nothing was changed.")
            % {"fault": faults[0]}
        )


# -------------------------------------------------------------------- the answer


def _describe(whole: CrewNetwork, kept: set[int], best: engine.Levelled, made: int) -> CrewFit:
    where = _Whereabouts(whole, kept, best)
    houses = {}
    for one in whole.basis.houses:
        mine = [piece for piece in whole.pieces.values() if piece.house is one]
        free = [piece.finish for piece in mine]
        fitted = [best.finish[piece.id] for piece in mine]
        result = best.houses[one.house.key]
        houses[one.house.pk] = HouseFit(
            dates={piece.activity.key: (best.start[piece.id], best.finish[piece.id]) for piece in mine},
            starts=tuple(start for piece in mine if (start := where.start_of(piece)) is not None),
            waits={int(name.split()[1]): half_days for name, half_days in result.waits.items() if half_days},
            free_finish=max(free, default=one.plan.finish),
            finish=max(fitted, default=one.plan.finish),
        )
    overbooked = tuple(
        Overbooked(crew, half_day, tuple(sorted(visits))) for crew, half_day, visits in whole.overbooked(kept)
    )
    return CrewFit(houses, overbooked, made, frozenset(kept), whole.basis)


class _Whereabouts:
    """Where each crew is in each half-day of the levelled dates: the reason of every wait."""

    def __init__(self, whole: CrewNetwork, kept: set[int], best: engine.Levelled) -> None:
        self.whole, self.best = whole, best
        self.free = {crew: whole.free(crew, kept) for crew in whole.basis.crews}
        self.at: dict[tuple[int, int], dict[int, Piece]] = defaultdict(dict)
        self.ends: dict[int, int] = {}
        for piece in whole.pieces.values():
            if piece.crew is None or piece.visit is None:
                continue
            finish = best.finish[piece.id]
            self.ends[piece.visit] = max(finish, self.ends.get(piece.visit, finish))
            for t in piece.worked(best.start[piece.id], finish):
                self.at[piece.crew, t][piece.visit] = piece

    def start_of(self, piece: Piece) -> FittedStart | None:
        """The row that keeps a piece at its levelled start; None when the network alone brings it there."""
        if piece.activity.actual_start is not None:
            return None
        start = self.best.start[piece.id]
        if piece.crew is not None and self.best.waits[piece.id]:
            crew = self.whole.basis.crews[piece.crew]
            where, until = self._find_cause(piece, piece.crew, start)
            return FittedStart(
                activity=piece.activity,
                crew=crew,
                not_before=start,
                cause=FittedStart.Cause.BUSY,
                where=where[:120],
                until=until,
            )
        laid = self.whole.laid[piece.house.house.pk]
        reason, held = laid.plan[piece.activity.key].reason, piece.house.rows.fitted_start_of(piece.activity)
        if start == piece.start and held is not None and "not_before" in (reason.kind, reason.after):
            # The told date, or the present, holds it: a house's own plan knows neither.
            return held if held.not_before == laid.network[piece.activity.key].not_before else None
        return None

    def _find_cause(self, piece: Piece, crew: int, start: int) -> tuple[str, int]:
        """Name of the house where the crew was last before the start, and its last half-day there."""
        capacity = self.whole.basis.crews[crew].capacity
        for t in range(start - 1, piece.start - 1, -1):
            others = {v: one for v, one in self.at[crew, t].items() if v != piece.visit}
            if len(others) < self.free[crew].get(t, capacity) or not piece.calendar.works(t):
                continue
            if others:
                there = min(others.values(), key=lambda one: self.ends[one.visit or 0])
                until = min(self.ends[there.visit or 0], start) - 1
                return there.house.house.name, until
            return self._find_elsewhere(crew, t), t
        return "", start - 1

    def _find_elsewhere(self, crew: int, half_day: int) -> str:
        names = [
            one.where
            for one in self.whole.basis.elsewhere
            if one.crew == crew and one.first <= half_day < one.end
        ]
        return names[0] if names else ""
