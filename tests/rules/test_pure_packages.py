"""Engine, fabric and clock import what DEVELOPERS.md allows them, and loading the engine loads no Django."""

import json
import subprocess
import sys

import pytest

from tests.rules.project import ROOT, imported_names, name_of, python_files

STANDARD_LIBRARY = set(sys.stdlib_module_names)
# Beyond the standard library: what a file may import, by the longest path that matches.
MAY_IMPORT = {
    "coordination/engine": {"numpy", "coordination.engine"},
    "coordination/engine/compiled.py": {"numpy", "numba", "coordination.engine"},
    "coordination/engine/exchange.py": {"numpy", "holidays", "coordination.engine"},
    "coordination/fabric": {"numpy", "coordination.fabric"},
    "coordination/clock.py": {
        "django.conf",
        "django.utils.timezone",
        "django.utils.formats",
        "django.utils.translation",
    },
}


def allowed_for(name: str) -> set[str]:
    return MAY_IMPORT[max((place for place in MAY_IMPORT if name.startswith(place)), key=len)]


def test_pure_files_import_only_what_they_may():
    files = [*python_files("coordination/engine", "coordination/fabric"), ROOT / "coordination" / "clock.py"]
    assert len(files) > 10
    wrong = [
        f"{name_of(path)}:{line} imports {name}"
        for path in files
        for line, name in imported_names(path)
        if name.split(".")[0] not in STANDARD_LIBRARY
        and not any(name == may or name.startswith(f"{may}.") for may in allowed_for(name_of(path)))
    ]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(
    ("package", "may_load"),
    [
        ("coordination.engine", {"numpy", "numba", "llvmlite", "holidays", "dateutil", "six"}),
        ("coordination.fabric", {"numpy"}),
    ],
)
def test_a_clean_process_loads_nothing_but_the_pure_package(package, may_load):
    start = (
        "import sys, json; before = set(sys.modules); import " + package + "; "
        "print(json.dumps(sorted(set(sys.modules) - before)))"
    )
    run = subprocess.run([sys.executable, "-c", start], cwd=ROOT, capture_output=True, text=True, timeout=600)
    assert run.returncode == 0, run.stderr
    loaded = json.loads(run.stdout)
    assert package in loaded
    own = {name for name in loaded if name.split(".")[0] == "coordination"}
    assert all(name == "coordination" or name == package or name.startswith(f"{package}.") for name in own), (
        own
    )
    # Compiled modules of Cython bring names of their own, all with an underscore or its runtime.
    foreign = {name.split(".")[0] for name in loaded} - STANDARD_LIBRARY - {"coordination"}
    strange = {name for name in foreign - may_load if not name.startswith(("_", "cython"))}
    assert not strange, strange
