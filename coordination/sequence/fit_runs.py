"""The worker's part of a fit: claim the row, compute in slices, say how far it is, leave the result.

Whoever claims a row alone computes it: a task that is delivered twice finds it taken. Each report is a
conditional update; a worker whose row was cleared or given to another writes nothing more.
"""

from __future__ import annotations

import logging
import uuid
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import fit_results
from coordination.sequence.fit_basis import read_basis
from coordination.sequence.models import Fit, FittedHouse
from coordination.sequence.to_engine import fit_houses

_log = logging.getLogger(__name__)

WEIGHTS: dict[str, float] = {"first": 4.0, "usual": 1.0, "waits": 0.25}
"""How heavily a half-day weighs that a house is late: one that goes first may cost a usual one up to four
half-days for one of its own. Our choice; practice asks for an order and gives no figure."""

READ, SEARCHED = 15, 90
"""Hundredths of the way at which the houses are read, and the search is over."""


class _Ended(Exception):
    """Somebody asked to stop, or took the row away."""


class _PutBack(Exception):
    """The worker itself is going: another takes the fit up from its beginning."""


@dataclass
class _Run:
    """One claimed row."""

    fit: Fit
    worker: str
    stopping: Callable[[], bool]

    def update(self, **values: Any) -> bool:
        """Write to the row while it is this worker's; whether it still was."""
        mine = Fit.objects.filter(pk=self.fit.pk, state=Fit.State.COMPUTING, worker=self.worker)
        return bool(mine.update(heard_at=clock.now(), **values))

    def report(self, done: int, words: str) -> None:
        """Say how far it is; ends the run when it was stopped or cleared."""
        going_on = self.update(done=done, progress=words)
        self.fit.refresh_from_db()
        if not going_on or self.fit.stop_asked_at is not None:
            raise _Ended
        if self.stopping():
            raise _PutBack

    def end(self, state: str, words: str = "") -> None:
        self.update(state=state, words=words[:500], ended_at=clock.now())


def take_up(fit_id: int, stopping: Callable[[], bool] = lambda: False) -> bool:
    """Claim a waiting fit and compute it; False when it is not there or not waiting any more.

    Args:
        stopping: asked between slices; once it says yes the fit is put back for another worker.
    """
    worker = uuid.uuid4().hex
    claimed = Fit.objects.filter(pk=fit_id, state=Fit.State.WAITING).update(
        state=Fit.State.COMPUTING, worker=worker, heard_at=clock.now()
    )
    if not claimed:
        return False
    run = _Run(Fit.objects.select_related("builder").get(pk=fit_id), worker, stopping)
    try:
        _compute(run)
    except _Ended:
        run.end(Fit.State.STOPPED)
    except _PutBack:
        run.update(state=Fit.State.WAITING, worker="", done=0, progress="")
    except (BadInput, WrongState) as refusal:
        run.end(Fit.State.FAILED, str(refusal))
    except BaseException:
        # Not swallowed: the worker's log has it, and the planner is not left waiting.
        _log.exception("The fit %s broke down.", fit_id)
        run.end(
            Fit.State.FAILED, _("The computation broke down. Start it again; tell whoever runs the program.")
        )
        raise
    return True


def _compute(run: _Run) -> None:
    run.report(1, _("reading the houses"))
    basis = read_basis(run.fit.builder, run.fit.houses.values_list("house", flat=True))
    asked = dict(run.fit.houses.values_list("house", "weight"))
    weights = {one.house.key: WEIGHTS[asked[one.house.pk]] for one in basis.houses}
    basis = replace(basis, weights={key: weight for key, weight in weights.items() if weight != 1.0})
    run.report(READ, _("placing the visits"))

    def report(share: float, words: str) -> None:
        run.report(READ + round(share * (SEARCHED - READ)), words)

    fitted = fit_houses(basis, seconds=run.fit.seconds, report=report)
    houses = {
        one.house.pk: fit_results.write_house(one, fitted.houses[one.house.pk])
        for one in fitted.basis.houses
        if one.house.pk in fitted.houses
    }
    whole = fit_results.write_whole(fitted.basis, fitted, houses)
    run.report(99, _("writing the result"))
    with transaction.atomic():
        rows = {row.house_id: row for row in FittedHouse.objects.filter(fit=run.fit)}
        for one in basis.houses:
            row = rows[one.house.pk]
            row.revision, row.last_change = one.plan.number, one.last_change
            row.result = houses.get(one.house.pk, {})
            row.save(update_fields=["revision", "last_change", "result"])
        if not run.update(
            state=Fit.State.READY,
            done=100,
            progress="",
            result=whole,
            load_stamp=basis.load_stamp,
            ended_at=clock.now(),
        ):
            raise _Ended
