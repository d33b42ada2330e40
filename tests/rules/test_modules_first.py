"""Every module can be the first that is imported: a worker, a command and a page each begin elsewhere.

Two modules that import each other in a circle work or fail by who comes first; the suite always begins at the
same ones, and a worker that cannot start was found by killing it.
"""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent

IMPORT_EACH_FIRST = """
import os, sys, django
django.setup()
for name in sys.argv[1:]:
    child = os.fork()
    if child == 0:
        try:
            __import__(name)
        except BaseException as error:
            print(name, type(error).__name__, error, flush=True)
        os._exit(0)
    os.waitpid(child, 0)
"""


def name_modules():
    for package in ("coordination", "hold_points"):
        for path in sorted((ROOT / package).rglob("*.py")):
            parts = path.relative_to(ROOT).with_suffix("").parts
            if "migrations" not in parts and "settings" not in parts:
                yield ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def test_every_module_can_be_imported_before_any_other():
    names = list(name_modules())
    assert len(names) > 300
    found = subprocess.run(
        [sys.executable, "-c", IMPORT_EACH_FIRST, *names],
        cwd=ROOT,
        env={**os.environ, "DJANGO_SETTINGS_MODULE": "coordination.settings.test"},
        capture_output=True,
        text=True,
        check=True,
        timeout=600,
    )
    assert found.stdout == ""
