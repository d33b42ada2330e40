"""The examples in the engine's own descriptions run and say the truth."""

import doctest
import importlib

import pytest


@pytest.mark.parametrize("module", ["__init__", "critical_path", "exchange", "workdays"])
def test_examples_run(module):
    name = "coordination.engine" if module == "__init__" else f"coordination.engine.{module}"
    result = doctest.testmod(importlib.import_module(name))
    assert result.attempted > 0
    assert result.failed == 0
