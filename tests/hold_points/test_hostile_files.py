"""Forty and more hostile files: none is taken, and the process that reads them all stays under 512 MB."""

import json
import subprocess
import sys

from tests.hold_points.read_hostile import write_files


def test_no_hostile_file_is_taken_and_the_reader_stays_small(tmp_path):
    write_files(tmp_path)
    done = subprocess.run(
        [sys.executable, "-m", "tests.hold_points.read_hostile", str(tmp_path)],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.stdout, done.stderr
    found = json.loads(done.stdout)
    assert found["accepted"] == []
    assert found["refused"] >= 40
    assert found["largest_taken"]
    assert found["peak_mb"] < 512
