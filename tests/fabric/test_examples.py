"""The examples in the docstrings are true."""

import doctest
import importlib
import pkgutil

import pytest

from coordination import fabric

MODULES = sorted(
    one.name
    for one in pkgutil.walk_packages(fabric.__path__, "coordination.fabric.")
    if not one.name.endswith("__main__")
)


@pytest.mark.parametrize("name", ["coordination.fabric", *MODULES])
def test_docstring_examples_hold(name):
    module = importlib.import_module(name)
    assert module.__doc__
    assert doctest.testmod(module).failed == 0


def test_the_textbook_has_examples():
    attempted = [doctest.testmod(importlib.import_module(name)).attempted for name in MODULES]
    assert sum(1 for count in attempted if count) >= 6


def test_every_public_function_says_what_it_does():
    for name in MODULES:
        module = importlib.import_module(name)
        for word, thing in vars(module).items():
            if not word.startswith("_") and callable(thing) and getattr(thing, "__module__", "") == name:
                assert thing.__doc__, f"{name}.{word}"
