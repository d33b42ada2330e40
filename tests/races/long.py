"""The long runs: ``python -m tests.races.long NAME``, NAME a key of RUNS or ``all``, with figures.

They are the suite's own tests with larger numbers, set by environment variables.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys

PYTEST = ("-m", "pytest", "-q", "-s", "-p", "no:randomly")
RUNS: dict[str, tuple[dict[str, str], tuple[str, ...]]] = {
    "sql": (
        {"BEFORE_THE_BOARD_RACE_TRANSACTIONS": "1000000"},
        (*PYTEST, "tests/races/test_many_clients.py"),
    ),
    "http": ({"BEFORE_THE_BOARD_RACE_REQUESTS": "20000"}, (*PYTEST, "tests/races/test_http.py")),
    "model": (
        {"BEFORE_THE_BOARD_MODEL_RUNS": "500", "BEFORE_THE_BOARD_MODEL_STEPS": "100"},
        (*PYTEST, "tests/races/test_model.py"),
    ),
    "tablets": (
        {"BEFORE_THE_BOARD_TABLET_RUNS": "1000"},
        (*PYTEST, "tests/hold_points/test_kept_by_chance.py"),
    ),
    "kill": ({"BEFORE_THE_BOARD_KILLS": "30"}, (*PYTEST, "tests/crashes/test_kills.py")),
    "tampers": ({}, ("-m", "tests.races.tampering", "--tampers", "10000", "--entries", "100000")),
    "photographs": ({}, ("-m", "tests.hold_points.read_hostile")),
}


def main() -> int:
    """Run what is named; 1 when one of them failed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("run", choices=[*RUNS, "all"])
    wanted = parser.parse_args().run
    failed = []
    for name in RUNS if wanted == "all" else [wanted]:
        more, arguments = RUNS[name]
        sys.stdout.write(f"---- {name}\n")
        sys.stdout.flush()
        if subprocess.run([sys.executable, *arguments], env={**os.environ, **more}, check=False).returncode:
            failed.append(name)
    if failed:
        sys.stdout.write(f"failed: {', '.join(failed)}\n")
    return int(bool(failed))


if __name__ == "__main__":
    sys.exit(main())
