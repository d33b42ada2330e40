"""The import rules hold, and the contracts in pyproject.toml do catch what they are for."""

import shutil
import subprocess
import sys

import pytest
from importlinter import cli

from tests.rules.project import PACKAGES, ROOT, python_files

PLANTED = {
    "hold_points imports coordination, never the reverse": (
        "coordination/sequence/planted.py",
        "import hold_points.models",
    ),
    "The rooms of coordination lie in layers; every room is named": (
        "coordination/visits/planted.py",
        "import coordination.planner.urls",
    ),
    "Only sequence.to_engine (and a command) opens the engine": (
        "coordination/sequence/planted.py",
        "import coordination.engine",
    ),
    "Engine and fabric know neither Django nor Celery nor the clock": (
        "coordination/fabric/planted.py",
        "import django.db",
    ),
    "numba is used in the engine alone": ("coordination/fabric/heated.py", "import numba"),
    "People and outbox ask the clock and nothing else below": (
        "coordination/people/planted.py",
        "import coordination.fabric",
    ),
    "Settings, addresses, Celery app and headers name the rooms by string": (
        "coordination/settings/planted.py",
        "import coordination.people.models",
    ),
    "hold_points uses sequence, outbox, people, clock and fabric directly, nothing else": (
        "hold_points/planted.py",
        "import coordination.reminders",
    ),
}


def test_the_import_contracts_are_kept(capsys):
    code = cli.lint_imports(config_filename=str(ROOT / "pyproject.toml"), no_cache=True)
    assert code == cli.EXIT_STATUS_SUCCESS, capsys.readouterr().out


@pytest.fixture(scope="module")
def copied_project(tmp_path_factory):
    """The Python files of the packages, with one forbidden import planted for each contract."""
    copy = tmp_path_factory.mktemp("planted")
    for path in python_files(*PACKAGES):
        target = copy / path.relative_to(ROOT)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(path, target)
    shutil.copy(ROOT / "pyproject.toml", copy)
    for place, line in PLANTED.values():
        with (copy / place).open("a") as file:
            file.write(f"{line}\n")
    (copy / "coordination" / "attic").mkdir()
    (copy / "coordination" / "attic" / "__init__.py").touch()
    return copy


@pytest.fixture(scope="module")
def verdict_on_the_copy(copied_project):
    """What lint-imports says about the copy, all on one line."""
    start = "import sys; from importlinter import cli; sys.exit(cli.lint_imports(no_cache=True))"
    run = subprocess.run(
        [sys.executable, "-c", start], cwd=copied_project, capture_output=True, text=True, timeout=120
    )
    assert run.returncode != 0, run.stdout
    return " ".join(run.stdout.split())


@pytest.mark.parametrize("contract", PLANTED)
def test_a_forbidden_import_breaks_its_contract(contract, verdict_on_the_copy):
    assert f"{contract} BROKEN" in verdict_on_the_copy


def test_a_room_without_a_place_in_the_layers_is_noticed(verdict_on_the_copy):
    assert "coordination.attic" in verdict_on_the_copy
