"""The JSON document: what it may hold, its defaults, and what is refused by name."""

import copy
import datetime as dt
import json
from typing import Any

import pytest

from coordination.engine import Refused, Relationship, as_half_day, compute_dates
from coordination.engine.exchange import read_network, read_problem, write_plan
from coordination.engine.network import Fails, Late, ReservedTime

FULL: dict[str, Any] = {
    "data_date": "2026-02-02",
    "calendars": {
        "carp": {
            "week": [2, 2, 2, 2, 2, 0, 0],
            "holidays": "AU-TAS",
            "off": ["2026-04-03", "2026-04-07 am", ["2026-12-21", "2027-01-08"]],
            "on": ["2026-02-07 am"],
        }
    },
    "activities": [
        {
            "id": "frame",
            "duration": 12,
            "calendar": "carp",
            "house": "14 Example Street",
            "not_before": "2026-02-02",
            "not_after": None,
            "crew": {"carpenters": 1},
            "actual_start": None,
            "actual_finish": None,
            "remaining": None,
            "range": [10, 12, 18],
            "visit": "frame",
            "region": "south",
            "fails": {"chance": 0.3, "half_days": 3},
        },
        {"id": "walk", "duration": 1},
        {"id": "wrap", "duration": 3, "not_after": "2026-02-20"},
    ],
    "relationships": [
        {"from": "frame", "to": "walk"},
        {"from": "walk", "to": "wrap", "type": "FS", "lag": 2, "lag_calendar": "elapsed"},
    ],
    "crews": {
        "carpenters": {
            "capacity": 1,
            "calendar": "carp",
            "late": {"chance": 0.3, "half_days": [1, 6]},
            "reserved": [["2026-03-09", "2026-03-20", 1]],
        }
    },
    "visits": {"frame": {"confirmed": True}},
    "freeze_until": "2026-02-09",
    "weights": {"idle": 1},
    "details": [
        {"id": "void caps", "installed_by": ["frame"], "covered_by": ["wrap"], "with": [], "point": "walk"}
    ],
    "longest_gaps": [{"from": "frame", "to": "wrap", "half_days": 2}],
}


def at(day, half="am"):
    return as_half_day(dt.date.fromisoformat(day), half)


def with_change(path, value) -> Any:
    """The full document with one value put in, by a path of keys."""
    document = copy.deepcopy(FULL)
    place = document
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    return document


def without(path):
    document = with_change(path, None)
    place = document
    for key in path[:-1]:
        place = place[key]
    del place[path[-1]]
    return document


def test_every_documented_key_is_read():
    problem = read_network(FULL)
    network, frame = problem.network, problem.network["frame"]
    assert problem.data_date == at("2026-02-02")
    assert (frame.duration, frame.calendar, frame.house) == (12, "carp", "14 Example Street")
    assert (frame.not_before, frame.not_after) == (at("2026-02-02"), None)
    assert (dict(frame.crew), frame.range, frame.visit, frame.region) == (
        {"carpenters": 1},
        (10, 12, 18),
        "frame",
        "south",
    )
    assert frame.fails == Fails(0.3, 3)
    assert network["wrap"].not_after == at("2026-02-21")  # after the last half-day worked
    assert network.relationships == (
        Relationship("frame", "walk"),
        Relationship("walk", "wrap", "FS", 2, "elapsed"),
    )
    (crew,) = network.crews
    assert (crew.name, crew.capacity, crew.calendar, crew.late) == (
        "carpenters",
        1,
        "carp",
        Late(0.3, (1, 6)),
    )
    assert crew.reserved == (ReservedTime(at("2026-03-09"), at("2026-03-21"), 1),)
    assert network.confirmed == {"frame"}
    assert (network.freeze_until, network.weights) == (at("2026-02-09"), {"idle": 1})
    (detail,) = network.details
    assert (detail.installed_by, detail.covered_by, detail.point) == (("frame",), ("wrap",), "walk")
    assert network.longest_gaps[0].half_days == 2


def test_the_calendar_follows_off_on_and_holidays():
    works = read_network(FULL).network.calendars["carp"].works
    assert not works(at("2026-03-09"))  # a holiday
    assert [works(at("2026-04-07", half)) for half in ("am", "pm")] == [False, True]
    assert [works(at("2026-02-07", half)) for half in ("am", "pm")] == [True, False]
    assert [works(at(day)) for day in ("2026-12-18", "2026-12-21", "2027-01-08", "2027-01-11")] == [
        True,
        False,
        False,
        True,
    ]


def test_what_is_missing_has_its_default():
    plain = read_network({"activities": [{"id": "a", "duration": 3}, {"id": "b", "duration": 1}]})
    assert (plain.data_date, plain.network["a"].calendar) == (0, "every")
    linked = read_network(
        {
            "calendars": {"only": {}},
            "activities": [{"id": "a", "duration": 12}, {"id": "b", "duration": 1, "calendar": "every"}],
            "relationships": [{"from": "a", "to": "b"}],
        }
    ).network
    assert linked["a"].calendar == "only"
    assert linked.relationships == (Relationship("a", "b", "FS", 0, None),)
    assert linked.lag_calendar_of(linked.relationships[0]) is linked.calendars["every"]
    assert compute_dates(linked)["b"].es == 16  # the week is five days unless it says otherwise


def test_start_like_and_finish_like_dates_differ():
    activity = {"id": "a", "duration": 4, "actual_start": "2026-02-02", "actual_finish": "2026-02-03"}
    read = read_network({"data_date": "2026-02-05 pm", "activities": [activity]})
    assert read.data_date == at("2026-02-05", "pm")
    assert (read.network["a"].actual_start, read.network["a"].actual_finish) == (
        at("2026-02-02"),
        at("2026-02-04"),
    )
    activity |= {"actual_finish": "2026-02-03 am"}
    assert read_network({"activities": [activity]}).network["a"].actual_finish == at("2026-02-03", "pm")


def test_a_plan_is_written_as_documented():
    problem = read_network(FULL)
    written = write_plan(compute_dates(problem.network, data_date=problem.data_date, float_to="wrap"))
    assert written["activities"]["frame"] == {
        "start": "2026-02-02 am",
        "finish": "2026-02-09 am",  # the Saturday morning is worked
        "es": 0,
        "ef": 15,
        "ls": 0,
        "lf": 15,
        "total_float": 0,
        "free_float": 0,
        "critical": True,
        "reason": {"kind": "not_before"},
        "float_to": {"wrap": 0},
    }
    assert written["activities"]["wrap"]["reason"] == {
        "kind": "relationship",
        "from": "walk",
        "type": "FS",
        "lag": 2,
        "lag_calendar": "elapsed",
    }
    assert written["details"]["void caps"] == {
        "opens": "2026-02-02 am",
        "due": "2026-02-09 pm",
        "buried": "2026-02-11 am",
        "slack_due": 0,
        "slack_buried": 3,
        "put_right_until": "2026-02-09 pm",
        "inverted": False,
    }
    assert written["finish"] == 21
    assert written["houses"] == {"14 Example Street": {"finish": 15}}
    assert written["driving_chain"] == ["frame", "walk", "wrap"]
    assert written["warnings"] == [
        {
            "kind": "longest gap",
            "from": "frame",
            "to": "wrap",
            "left_at": "2026-02-09 pm",
            "taken_up_at": "2026-02-11 am",
            "half_days": 3,
            "longest": 2,
        }
    ]
    json.dumps(written)


def test_a_missed_wish_and_a_wait_for_the_calendar_are_written():
    document = {
        "data_date": "2026-02-07",
        "calendars": {"site": {}},
        "activities": [{"id": "a", "duration": 2, "not_after": "2026-02-08"}],
    }
    problem = read_network(document)
    written = write_plan(compute_dates(problem.network, data_date=problem.data_date))
    assert written["activities"]["a"]["reason"] == {"kind": "calendar", "after": "data_date", "waits": 4}
    assert written["activities"]["a"]["total_float"] == -2
    assert written["warnings"] == [
        {"kind": "wanted by", "activity": "a", "wanted_by": "2026-02-08 pm", "finish": "2026-02-09 pm"}
    ]


ACT = ("activities", 0)


@pytest.mark.parametrize(
    ("document", "words"),
    [
        ([], "the document must be an object"),
        ({}, "no activities"),
        ({"activities": []}, "no activities"),
        ({"activities": {}}, "'activities' must be a list"),
        (
            with_change(("activitys",), []),
            "the document has the unknown key 'activitys'; did you mean 'activities'",
        ),
        (
            with_change((*ACT, "durration"), 3),
            "activity 'frame' has the unknown key 'durration'; did you mean",
        ),
        (without((*ACT, "duration")), "activity 'frame' has no 'duration'"),
        (without((*ACT, "id")), "activity number 1 has no 'id'"),
        (with_change((*ACT, "id"), 7), "activity number 1: 'id' must be a text"),
        (with_change((*ACT, "id"), "wrap"), "activity 'wrap' is given twice"),
        (with_change((*ACT, "duration"), -1), "activity 'frame': the duration must be a whole number"),
        (
            with_change((*ACT, "duration"), 1.5),
            "activity 'frame': 'duration' must be a whole number, not 1.5",
        ),
        (with_change((*ACT, "duration"), True), "'duration' must be a whole number, not true"),
        (with_change((*ACT, "duration"), "3"), "'duration' must be a whole number, not \"3\""),
        (with_change((*ACT, "calendar"), "x"), "activity 'frame' names the unknown calendar 'x'"),
        (
            with_change((*ACT, "not_before"), "2 Feb"),
            "activity 'frame': 'not_before' must be a date as 2026-04-07",
        ),
        (with_change((*ACT, "not_before"), "2026-02-30"), "'not_before' must be a date"),
        (with_change((*ACT, "not_before"), "02026-02-3"), "'not_before' must be a date"),
        (with_change((*ACT, "not_before"), "2026-02-03 noon"), "'not_before' must be a date"),
        (with_change((*ACT, "not_before"), 20260203), "'not_before' must be a date"),
        (with_change((*ACT, "not_after"), "2026-02-01"), "'frame': 'not_after' .2026-02-01 pm. lies before"),
        (with_change((*ACT, "actual_finish"), "2026-02-01"), "'actual_finish' without 'actual_start'"),
        (with_change((*ACT, "crew"), {"masons": 1}), "unknown crew 'masons'"),
        (
            with_change((*ACT, "crew"), {"carpenters": "1"}),
            "the units of crew 'carpenters' must be a whole number",
        ),
        (with_change((*ACT, "range"), [12, 10, 18]), "'range' must be three lengths, shortest first"),
        (with_change((*ACT, "fails"), {"chance": 2, "half_days": 3}), "chance of failing"),
        (with_change((*ACT, "fails"), {"half_days": 3}), "activity 'frame': 'fails' has no 'chance'"),
        (
            with_change(("relationships", 0, "to"), "x"),
            "relationship 'frame' to 'x' names the unknown activity",
        ),
        (with_change(("relationships", 0, "to"), "frame"), "'frame' cannot wait for itself"),
        (with_change(("relationships", 0, "type"), "XX"), "'type' must be FS, SS, FF or SF, not 'XX'"),
        (with_change(("relationships", 0, "lag"), 0.5), "'lag' must be a whole number"),
        (with_change(("relationships", 0, "lag_calendar"), "x"), "unknown calendar 'x'"),
        (with_change(("relationships", 0, "after"), "x"), "'frame' to 'walk' has the unknown key 'after'"),
        (with_change(("calendars", "every"), {}), "'every' is reserved"),
        (with_change(("calendars", "elapsed"), {}), "'elapsed' is reserved"),
        (with_change(("calendars", "carp", "week"), [2] * 6), "calendar 'carp': 'week' must be seven counts"),
        (with_change(("calendars", "carp", "week"), []), "calendar 'carp': 'week' must be seven counts"),
        (with_change(("calendars", "carp"), {"week": [0] * 7}), "calendar 'carp' has no working time"),
        (with_change(("calendars", "carp", "holidays"), "AU-XX"), "calendar 'carp': holidays of 'AU-XX'"),
        (with_change(("calendars", "carp", "off"), ["x"]), "calendar 'carp': 'off' must be a date"),
        (with_change(("calendars", "carp", "off"), [["2026-02-03", "2026-02-02"]]), "ends before it starts"),
        (with_change(("calendars", "carp", "off"), [["2026-02-03"]]), "a pair of first and last"),
        (with_change(("calendars", "carp", "hours"), 8), "calendar 'carp' has the unknown key 'hours'"),
        (with_change(("calendars", "second"), {}), "activity 'walk' does not say which of the calendars"),
        (with_change(("crews", "carpenters", "capacity"), -1), "crew 'carpenters': the capacity"),
        (with_change(("crews", "carpenters", "reserved"), [["2026-02-02", "2026-02-03"]]), "three values"),
        (with_change(("crews", "carpenters", "late", "half_days"), [6, 1]), "least first"),
        (with_change(("crews", "carpenters", "wage"), 1), "crew 'carpenters' has the unknown key 'wage'"),
        (with_change(("visits", "x"), {}), "unknown visit 'x'"),
        (
            with_change(("visits", "frame", "confirmed"), 1),
            "visit 'frame': 'confirmed' must be true or false",
        ),
        (with_change(("weights", "idle"), "much"), "weight 'idle' must be a number"),
        (with_change(("details", 0, "point"), "x"), "detail 'void caps' names the unknown activity 'x'"),
        (with_change(("details", 0, "with"), ["x"]), "'x' is in 'with' but not in 'covered_by'"),
        (with_change(("details", 0, "covered_by"), []), "detail 'void caps' has no coverer"),
        (with_change(("details", 0, "covered_by"), "wrap"), "'covered_by' must be a list"),
        (with_change(("longest_gaps", 0, "to"), "x"), "unknown activity 'x'"),
    ],
)
def test_nonsense_is_refused_by_name(document, words):
    with pytest.raises(Refused, match=words):
        read_network(document)


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"", "not JSON"),
        (b"{", "not JSON"),
        (b"\xff", "not JSON"),
        (b'{"activities": [], "activities": []}', "'activities' is given twice"),
        (b'{"weights": {"a": NaN}}', "NaN is not a number"),
        (b"[" * 100_000, "nested too deeply"),
        (b'{"data_date": ' + b"9" * 5000 + b"}", "not JSON"),
    ],
)
def test_what_is_no_json_is_refused(raw, words):
    with pytest.raises(Refused, match=words):
        read_problem(raw)


def test_a_byte_order_mark_is_accepted():
    assert read_problem(b'\xef\xbb\xbf{"activities": [{"id": "a", "duration": 1}]}').data_date == 0
