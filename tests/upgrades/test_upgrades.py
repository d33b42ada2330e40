"""A database of every released version is brought up to date and still says what it said."""

import contextlib
import json
import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from tests.upgrades.dumps import read_dump

HERE = Path(__file__).resolve().parent
PROJECT = HERE.parent.parent
DUMPS = sorted(HERE.glob("*.sql.gz"))

LOOK = """
import json
from coordination.people.models import Builder
from coordination.sequence.models import House
from coordination.sequence.queries import board, programme
from hold_points.record import export_record
from hold_points.recounting import recount
print(json.dumps({
    "differences": [line for house in House.objects.all() for line in recount(house)],
    "rows": [[row.house.key, row.stake_booking.state, [hold.state for hold in row.holds]]
             for builder in Builder.objects.all() for row in board(builder)],
    "programmes": sum(programme(house) is not None for house in House.objects.all()),
    "records": {house.key: export_record(house) for house in House.objects.all()},
}))
"""


def manage(data: Path, *arguments: str) -> str:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("BEFORE_THE_BOARD")}
    environment = kept | {
        "DJANGO_SETTINGS_MODULE": "coordination.settings.local",
        "BEFORE_THE_BOARD_DATA": str(data),
    }
    done = subprocess.run(
        [sys.executable, str(PROJECT / "manage.py"), *arguments],
        env=environment,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_a_dump_of_each_released_version_is_kept():
    assert [dump.name for dump in DUMPS][:1] == ["0.1.sql.gz"]


@pytest.mark.slow
@pytest.mark.parametrize("dump", DUMPS, ids=lambda dump: dump.name)
def test_an_older_database_is_brought_up_to_date_and_its_records_still_verify(dump, tmp_path):
    data = tmp_path / "data"
    data.mkdir(mode=0o700)
    file = data / "before-the-board.sqlite3"
    read_dump(dump, file)
    with contextlib.closing(sqlite3.connect(file)) as database:
        houses = database.execute("SELECT count(*) FROM sequence_house").fetchone()[0]
        entries = database.execute("SELECT count(*) FROM hold_points_recordentry").fetchone()[0]
    manage(data, "migrate", "-v0")
    manage(data, "check", "--database", "default")
    seen = json.loads(manage(data, "shell", "-v0", "-c", LOOK).splitlines()[-1])
    assert seen["differences"] == []
    assert len(seen["rows"]) == seen["programmes"] == houses
    states = {state for _key, _booking, holds in seen["rows"] for state in holds}
    assert {"held", "re-opened", "released", "set aside", "not ready"} <= states
    verified = 0
    for key, text in seen["records"].items():
        record = tmp_path / f"{key}.record"
        record.write_text(text)
        done = subprocess.run(
            [sys.executable, "-m", "hold_points.verify_record", str(record)],
            cwd=PROJECT,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        verified += text.count('"n":')
    assert verified >= entries > 100
