"""The command, run as a process of its own."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.engine.test_exchange import FULL, with_change

ROOT = Path(__file__).parents[2]


def run(*arguments, document=None):
    return subprocess.run(
        [sys.executable, "-m", "coordination.engine", *arguments],
        input=None if document is None else json.dumps(document),
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
        timeout=600,
    )


def test_dates_of_a_file_and_of_the_standard_input_are_the_same(tmp_path):
    file = tmp_path / "house.json"
    file.write_text(json.dumps(FULL))
    from_file, from_input = run("dates", str(file)), run("dates", "-", document=FULL)
    assert (from_file.returncode, from_file.stderr) == (0, "")
    assert from_file.stdout == from_input.stdout
    answer = json.loads(from_file.stdout)
    assert list(answer) == ["activities", "details", "finish", "houses", "driving_chain", "warnings"]
    assert list(answer["activities"]) == ["frame", "walk", "wrap"]
    assert "float_to" not in answer["activities"]["frame"]


def test_float_to_an_activity_is_added():
    answer = json.loads(run("dates", "-", "--float-to", "walk", document=FULL).stdout)
    assert {name: a["float_to"] for name, a in answer["activities"].items()} == {
        "frame": {"walk": 0},
        "walk": {"walk": 0},
        "wrap": {"walk": None},
    }


def test_a_detail_buried_unseen_is_refused_while_nothing_is_recorded():
    unseen = with_change(("relationships", 1, "from"), "frame")
    refused = run("dates", "-", document=unseen)
    # The walk is then a point without successor; put the coverer before the installer instead.
    assert refused.returncode == 0
    unseen = with_change(
        ("relationships",), [{"from": "walk", "to": "frame"}, {"from": "frame", "to": "wrap"}]
    )
    refused = run("dates", "-", document=unseen)
    assert refused.returncode == 2
    assert "detail 'void caps': the point 'walk' does not follow the installer 'frame'" in refused.stderr
    unseen["activities"][1] |= {"actual_start": "2026-01-30", "actual_finish": "2026-01-30"}
    marked = json.loads(run("dates", "-", document=unseen).stdout)
    assert marked["details"]["void caps"]["inverted"] is True


@pytest.mark.parametrize(
    ("document", "words"),
    [
        (with_change(("activities", 0, "duration"), -3), "activity 'frame': the duration"),
        (with_change(("activities", 0, "colour"), "red"), "unknown key 'colour'"),
        (with_change(("activities", 0, "calendar"), "x"), "unknown calendar 'x'"),
        (with_change(("activities", 0, "duration"), 10**9), "activity 'frame' cannot be dated"),
        (
            with_change(("activities", 0, "actual_start"), "2026-03-01"),
            "'actual_start' lies after the data date",
        ),
        (with_change(("calendars", "carp"), {"week": [0] * 7}), "calendar 'carp' has no working time"),
        (with_change(("relationships", 0, "to"), "x"), "unknown activity 'x'"),
        (with_change(("data_date",), "9999-12-31"), "activity 'frame' cannot be dated"),
        (
            with_change(
                ("relationships",), [{"from": "frame", "to": "wrap"}, {"from": "wrap", "to": "frame"}]
            ),
            "frame > wrap > frame",
        ),
        ({"activities": []}, "no activities"),
    ],
)
def test_bad_input_is_said_on_standard_error_with_status_2_and_nothing_else(document, words):
    refused = run("dates", "-", document=document)
    assert refused.returncode == 2
    assert refused.stdout == ""
    assert refused.stderr.startswith("error: ")
    assert words in refused.stderr
    assert refused.stderr.count("\n") == 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("dates", "no such file.json"), "no such file.json"),
        (("dates", "."), "."),
        (("dates",), "FILE"),
        ((), "command"),
        (("days", "-"), "invalid choice"),
        (("dates", "-", "--float-to", "x"), "unknown activity 'x'"),
    ],
)
def test_bad_arguments_end_with_status_2_too(arguments, words):
    refused = run(*arguments, document=FULL)
    assert (refused.returncode, refused.stdout) == (2, "")
    assert words in refused.stderr


SHARED_CREW = {
    "data_date": "2026-02-02",
    "calendars": {"site": {"week": [2, 2, 2, 2, 2, 0, 0]}},
    "activities": [
        {"id": "walk", "duration": 0, "house": "a", "fails": {"chance": 0.3, "half_days": 3}},
        {"id": "a", "duration": 4, "house": "a", "crew": {"lining": 1}},
        {"id": "b", "duration": 4, "house": "b", "crew": {"lining": 1}},
    ],
    "relationships": [{"from": "walk", "to": "a"}],
    "crews": {"x": {"capacity": 1, "trade": "lining", "reserved": [["2026-02-02", "2026-02-04", 1]]}},
}


def test_a_fitted_forecast_keeps_the_crew_of_a_trade_and_its_reserved_time():
    """One crew for two works of four half-days, away Monday to Wednesday: from 6 on, one after the other."""
    fitted = json.loads(run("forecast", "-", "--fit", "--samples", "20", document=SHARED_CREW).stdout)
    ends = sorted(fitted["activities"][name]["p10"] for name in ("a", "b"))
    assert fitted["crew_limits"] is True
    # Thursday and Friday, then Monday and Tuesday of the week after.
    assert ends == [10, 18]
    free = json.loads(run("forecast", "-", "--samples", "20", document=SHARED_CREW).stdout)
    assert free["crew_limits"] is False
    assert free["activities"]["b"]["p50"] == 4


def test_what_stands_behind_a_walk_that_may_fail_is_promised_without_a_detail():
    found = json.loads(run("forecast", "-", "--confidence", "0.8", document=SHARED_CREW).stdout)
    assert [(one["hold"], one["activity"]) for one in found["promises"]] == [("walk", "a")]


def test_the_engine_loads_neither_django_nor_holidays_unless_asked():
    code = "import sys, coordination.engine; print({'django', 'holidays', 'celery'} & sys.modules.keys())"
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True
    )
    assert loaded.stdout == "set()\n"
