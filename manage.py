#!/usr/bin/env python
"""Runs the administrative commands; `manage.py up` starts everything in one process."""

import os
import sys


def main() -> None:
    """Run the command named on the command line under the local settings unless others are asked for."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coordination.settings.local")
    try:
        from django.core.management import execute_from_command_line
    except ImportError as missing:
        raise SystemExit(
            "Django is not installed in this Python. Make the environment first: "
            "python3 -m venv .venv && .venv/bin/pip install -e ."
        ) from missing
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
