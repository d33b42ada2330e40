"""Networks that several tests share, built from the data files beside them."""

import csv
import datetime as dt
import tomllib
from pathlib import Path

from coordination.engine import Activity, Detail, Network, Relationship, WorkingCalendar, as_half_day

DATA = Path(__file__).parent / "data"
MONDAY = as_half_day(dt.date(2026, 2, 2))
FIVE_DAYS = (2, 2, 2, 2, 2, 0, 0)


def read_rows(path):
    """The rows of a table, by the first column."""
    with path.open(newline="") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


def number(text):
    return int(text) if text else None


def read_toml(name):
    return tomllib.loads((DATA / name).read_text())


def build(activities, details, calendar, extra=()):
    """A network of plain rows over one calendar."""
    links = [
        Relationship(before["id"], row["id"], before["type"], before["lag"], before.get("lag_calendar"))
        for row in activities
        for before in row["after"]
    ]
    return Network(
        tuple(Activity(row["id"], row["half_days"], calendar="site") for row in activities),
        (*links, *extra),
        {"site": calendar},
        tuple(
            Detail(row["id"], tuple(row["installed_by"]), tuple(row["covered_by"]), row["point"])
            for row in details
        ),
    )


def single_storey(calendar=None, longer=(), extra=()):
    """The default network; `longer` adds half-days to activities, `extra` relationships."""
    rows = read_toml("single_storey.toml")
    added = dict(longer)
    for row in rows["activity"]:
        row["half_days"] += added.pop(row["id"], 0)
    assert not added
    return build(rows["activity"], rows["detail"], calendar or WorkingCalendar(FIVE_DAYS), extra)


def two_storeys(calendar=None, after=()):
    """The two-storey variant; `after` replaces predecessors of activities."""
    rows, differs = read_toml("single_storey.toml"), read_toml("two_storeys.toml")
    activities = rows["activity"] + differs["activity"]
    predecessors = {**differs["after"], **dict(after)}
    for row in activities:
        row["half_days"] = differs["half_days"].get(row["id"], row["half_days"])
        row["after"] = predecessors.get(row["id"], row["after"])
    return build(activities, rows["detail"] + differs["detail"], calendar or WorkingCalendar(FIVE_DAYS))


def worked(plan, instant):
    """Working half-days from the data date to an instant, in the calendar of the site."""
    return plan.network.calendars["site"].count(plan.data_date, instant)
