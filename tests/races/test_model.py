"""The model of a hold point beside the real one: 50 runs of 50 acts.

`BEFORE_THE_BOARD_MODEL_RUNS=500 BEFORE_THE_BOARD_MODEL_STEPS=100` for the long run, or
`python -m tests.races.long model`.
"""

import os

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.hold_points.conftest import site
from tests.races.model import RULES, HoldPointMachine

__all__ = ["site"]
pytestmark = pytest.mark.slow

RUNS = int(os.environ.get("BEFORE_THE_BOARD_MODEL_RUNS", "50"))
STEPS = int(os.environ.get("BEFORE_THE_BOARD_MODEL_STEPS", "50"))


def test_whatever_happens_in_whichever_order_the_hold_is_what_the_model_says(site, monday_morning):
    assert len(RULES) >= 12
    site.release_all("H3")
    site.pencil("plumb")
    site.pencil("batts")
    monday_morning.shift(60)

    class Machine(HoldPointMachine):
        pass

    Machine.site, Machine.clock = site, monday_morning
    run_state_machine_as_test(
        Machine,
        settings=settings(
            max_examples=RUNS,
            stateful_step_count=STEPS,
            deadline=None,
            database=None,
            phases=(Phase.explicit, Phase.generate, Phase.shrink),
            suppress_health_check=list(HealthCheck),
        ),
    )
