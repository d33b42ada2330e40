"""Doorbells: a key in, one call, and what is due is looked for in rows."""

from __future__ import annotations

import threading

from celery import shared_task
from celery.signals import worker_process_init
from celery.worker import state as worker_state

from coordination.people.each_builder import for_each_builder
from coordination.people.models import Builder
from coordination.sequence import fit_runs, forecasting
from coordination.sequence.models import Fit
from coordination.sequence.to_engine import warm_engine

_warm = threading.Event()


@worker_process_init.connect(dispatch_uid="warm the engine")
def warm_in_background(**_given: object) -> None:
    """Once in each process that works off tasks, beside them: a worker's start may take four seconds only."""
    if not _warm.is_set():
        _warm.set()
        threading.Thread(target=warm_engine, name="warm-engine", daemon=True).start()


def _is_stopping() -> bool:
    """Whether this process's worker was asked to stop: a fit must not keep it waiting for a minute."""
    # By identity: a worker that is to end well is given 0, which equals False.
    return worker_state.should_stop is not None and worker_state.should_stop is not False


@shared_task(name="sequence.fit_to_crews", ignore_result=True)
def fit_to_crews(fit: int) -> None:
    """Compute a fit that waits; rung by the planner, or again by `ring_waiting`."""
    fit_runs.take_up(fit, stopping=_is_stopping)


@shared_task(name="sequence.ring_waiting", ignore_result=True)
def ring_waiting() -> None:
    """Ring for fits that no worker has taken up: a queue may have been lost with its process."""
    for fit in Fit.objects.filter(state=Fit.State.WAITING).values_list("pk", flat=True):
        fit_to_crews.delay(fit)


@shared_task(name="sequence.forecast_house", ignore_result=True)
def forecast_house(house: int) -> None:
    """Forecast a house that a person asked for, and its builder's with it."""
    forecasting.make_asked(house)


@shared_task(name="sequence.make_forecast_rounds", ignore_result=True)
def make_forecast_rounds() -> None:
    """Forecast what is due: houses that have none yet, and by night all of them from that day on."""
    for_each_builder(_forecast_what_is_due)


def _forecast_what_is_due(builder: Builder) -> None:
    if forecasting.find_due(builder):
        forecasting.make_forecasts(builder)
