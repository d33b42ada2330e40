"""The passes over arrays give the dates and floats of `compute_dates`, which the oracle has judged."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings

from coordination.engine import Activity, BeyondTime, Network, Relationship, WorkingCalendar, compute_dates
from coordination.engine import compiled_dates as kernels
from coordination.engine.compiled import NOTICE, plain_twin
from coordination.engine.compiled_dates import NO_FLOAT, compile_network, compute_arrays
from tests.engine.networks import MONDAY, single_storey
from tests.engine.strategies import problems

ROOT = Path(__file__).parents[2]


def of_plan(network, data_date):
    """The same six rows from the plan, NO_FLOAT where it has none."""
    plan = compute_dates(network, data_date=data_date)
    rows = [
        (a.es, a.ef, a.ls, a.lf, *(NO_FLOAT if f is None else f for f in (a.total_float, a.free_float)))
        for a in plan.activities.values()
    ]
    return np.array(rows).T


def of_arrays(network, data_date):
    found = compute_arrays(compile_network(network, data_date))
    return np.array(
        [found.es, found.ef, found.ls, found.lf, found.total_float, found.free_float], dtype=np.int64
    )


@settings(max_examples=150, derandomize=True)
@given(problems())
def test_arrays_and_plan_agree_on_random_networks(problem):
    network, _, data_date = problem
    np.testing.assert_array_equal(of_arrays(network, data_date), of_plan(network, data_date))


@settings(max_examples=50, derandomize=True)
@given(problems())
def test_the_plain_twin_gives_what_the_compiled_kernel_gives(problem):
    network, _, data_date = problem
    compiled = of_arrays(network, data_date)
    with pytest.MonkeyPatch.context() as patched:
        for name in ("run_passes", "_before", "_kth"):
            patched.setattr(kernels, name, plain_twin(getattr(kernels, name)))
        np.testing.assert_array_equal(of_arrays(network, data_date), compiled)


def test_the_default_house_agrees():
    network = single_storey()
    np.testing.assert_array_equal(of_arrays(network, MONDAY), of_plan(network, MONDAY))


def test_tables_grow_until_the_dates_lie_within():
    network = Network(
        (Activity("a", 9000, "site"), Activity("b", 5, "site")),
        (Relationship("a", "b", lag=4000),),
        {"site": WorkingCalendar()},
    )
    np.testing.assert_array_equal(of_arrays(network, MONDAY), of_plan(network, MONDAY))


def test_dates_beyond_the_last_year_are_refused():
    with pytest.raises(BeyondTime):
        of_arrays(Network((Activity("a", 10**7),)), MONDAY)


def test_without_numba_the_same_dates_come_out_and_it_is_said_once():
    code = """
import sys
sys.modules["numba"] = None
from tests.engine.networks import MONDAY, single_storey
from tests.engine.test_compiled_dates import of_arrays, of_plan
from coordination.engine.compiled import COMPILES
assert not COMPILES
for _ in range(2):
    assert (of_arrays(single_storey(), MONDAY) == of_plan(single_storey(), MONDAY)).all()
"""
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=False)
    assert (run.returncode, run.stderr.strip()) == (0, NOTICE)
