"""The model of a hold point beside the real one: 50 runs of 50 acts.

`BEFORE_THE_BOARD_MODEL_RUNS` and `BEFORE_THE_BOARD_MODEL_STEPS` set other numbers; the long run, 500 of 100,
is `python -m tests.races.long model`. A failing run is shown as it is, every act in order: making it shorter
takes longer than reading it.
"""

import os
import sys
import time
from collections import Counter

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from hold_points import readiness
from tests.hold_points.conftest import site
from tests.races.model import RULES, HoldPointMachine

__all__ = ["site"]
pytestmark = pytest.mark.slow

RUNS = int(os.environ.get("BEFORE_THE_BOARD_MODEL_RUNS", "50"))
STEPS = int(os.environ.get("BEFORE_THE_BOARD_MODEL_STEPS", "50"))


@pytest.fixture
def machine(site, monday_morning):
    """The machine on a house whose first hold is released."""
    site.release_all("H3")
    site.pencil("plumb")
    site.pencil("batts")
    monday_morning.shift(60)

    class Machine(HoldPointMachine):
        def teardown(self) -> None:
            super().teardown()
            self.reached["runs"] += 1
            if self.reached["runs"] % 25 == 0:
                sys.stdout.write(f"model: {self.reached['runs']} runs\n")
                sys.stdout.flush()

    Machine.site, Machine.clock, Machine.reached = site, monday_morning, Counter()
    return Machine


def run(machine, runs, steps):
    start = time.perf_counter()
    run_state_machine_as_test(
        machine,
        settings=settings(
            max_examples=runs,
            stateful_step_count=steps,
            database=None,
            report_multiple_bugs=False,
            phases=(Phase.generate,),
            suppress_health_check=list(HealthCheck),
        ),
    )
    took = time.perf_counter() - start
    reached = ", ".join(f"{what} {times}" for what, times in sorted(machine.reached.items()))
    sys.stdout.write(
        f"model: {runs} runs of up to {steps} acts by {len(RULES)} rules in {took:.0f} s; {reached}\n"
    )


def test_whatever_happens_in_whichever_order_the_hold_is_what_the_model_says(machine):
    assert len(RULES) >= 12
    run(machine, RUNS, STEPS)
    for what in (
        "released",
        "part released",
        "firm",
        "taken back to pencilled",
        "conceded",
        "stopped at work",
    ):
        assert machine.reached[what] > 0, machine.reached


def test_twin_a_rule_that_lets_late_outcomes_count_is_found(machine, monkeypatch):
    """The model sees it when what was looked at before a re-opening counts after it."""
    monkeypatch.setattr(readiness, "reopened_at", lambda check, reopenings: None)
    with pytest.raises(AssertionError):
        run(machine, 50, 50)
