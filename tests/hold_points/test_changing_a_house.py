"""A house moved to a newer version or with a feature changed: what is open follows, what is closed stays.

The rules are this project's own: a hold point is never taken out, a firm booking that comes to stand behind
an open hold falls back in the same transaction, and a dry run leaves nothing behind.
"""

from __future__ import annotations

import tomllib

import pytest

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import bookings, changing, progress
from coordination.sequence.library.writing import write_document
from coordination.sequence.models import (
    Activity,
    Booking,
    Change,
    Covering,
    Detail,
    Hold,
    HoldBefore,
    House,
    Plan,
    Relationship,
    SequenceVersion,
    Visit,
)
from coordination.sequence.publishing import publish_sequence
from hold_points.desk import list_half_buried
from hold_points.models import Check
from tests.hold_points.houses import TEXT, Site

pytestmark = pytest.mark.usefixtures("nothing_missing")

NETWORK = (Activity, Relationship, Visit, Detail, Covering, Hold, HoldBefore, Check, Plan, Change, Message)


def edited(**kinds) -> str:
    """The small sequence with the functions given applied to the rows of each kind."""
    document = tomllib.loads(TEXT)
    for kind, change in kinds.items():
        document[kind] = change(document[kind])
    return write_document(document)


def row(rows, key):
    return next(one for one in rows if one.get("id", one.get("key")) == key)


def with_clean_up(rows):
    """Cleaning between the insulation hold and the linings, and a longer batt visit."""
    row(rows, "linings")["after"] = [{"id": "sweep", "lag": 3}]
    row(rows, "batts")["half_days"] = 5
    sweep = {"id": "sweep", "name": "Sweep out", "trade": "carpenter", "stage": "close", "half_days": 1}
    return [*rows[:-1], {**sweep, "after": [{"id": "H5"}]}, rows[-1]]


def publish(site: Site, **kinds) -> SequenceVersion:
    return publish_sequence(site.builder, edited(**kinds))


def counted() -> list[int]:
    return [model.objects.count() for model in NETWORK]


def test_the_open_part_follows_the_newer_version(site):
    version = publish(site, activity=with_clean_up)
    change = changing.change_house(site.house, by=site.planner, version=version)

    house = House.objects.get(pk=site.house.pk)
    assert house.sequence_version == version
    sweeping = house.activities.get(key="sweep").visit
    assert sweeping is not None
    assert sweeping.trade.key == "carpenter"
    assert house.activities.get(key="batts").half_days == 5
    assert [one.key for one in change.difference.activities if one.what == "added"] == ["sweep"]
    assert change.finish_before is not None
    assert change.finish_after > change.finish_before
    latest = house.plans.first()
    assert latest is not None
    assert latest.cause.startswith(f"{house.name} changed: moved from version 1 to 2")
    assert house.changes.filter(what="changed", by=site.planner).count() == 1


def test_a_dry_run_says_the_same_and_leaves_nothing_behind(site):
    version = publish(site, activity=with_clean_up)
    before = counted()
    seen = changing.preview_change(site.house, by=site.planner, version=version)
    assert counted() == before
    assert House.objects.get(pk=site.house.pk).sequence_version.number == 1
    assert seen == changing.change_house(site.house, by=site.planner, version=version)


def test_work_that_has_begun_stays_as_it_is(site):
    pockets = site.house.activities.get(key="pockets")
    progress.report_started(pockets, clock.current_half_day(), by=site.planner)
    version = publish(
        site,
        activity=lambda rows: [
            {**one, "half_days": 6} if one["id"] in ("pockets", "plumb") else one for one in rows
        ],
    )
    changing.change_house(site.house, by=site.planner, version=version)
    assert site.house.activities.get(key="pockets").half_days == 1
    assert site.house.activities.get(key="plumb").half_days == 6


def test_a_changed_feature_changes_only_its_limit_and_reopens_its_hold(site):
    site.release_all("H3", "H4", "H5")
    assert not site.hold("H5").is_open
    seen = changing.preview_change(site.house, by=site.planner, features={"airway": 40})
    assert not site.hold("H5").is_open

    change = changing.change_house(site.house, by=site.planner, features={"airway": 40})
    assert change.reopened == seen.reopened
    assert change.reopened == ("Insulation re-opened: 1 checks (Bath)",)
    assert site.hold("H5").is_open
    assert not site.hold("H4").is_open
    [limit] = [field for one in change.difference.checks for field in one.fields if field.label == "limit"]
    assert (limit.before, limit.after) == ("at least 25 mm", "at least 40 mm")
    assert site.check("airway").limit == 40
    assert site.check("airway").version == 2
    assert site.check("full", "bath").version == 1


def test_a_firm_booking_falls_back_when_a_new_hold_comes_before_it(site):
    site.release_all("H3", "H4", "H5")
    firm = bookings.make_firm(site.pencil("linings"), by=site.planner)
    assert firm.state == Booking.State.FIRM

    def with_another_hold(rows):
        row(rows, "linings")["after"] = [{"id": "H6", "lag": 3}]
        extra = {"id": "H6", "name": "Wet areas", "point": "hold", "walker": "supervisor", "stage": "close"}
        return [*rows[:-1], {**extra, "half_days": 1, "after": [{"id": "H5"}]}, rows[-1]]

    def judged_there(rows):
        row(rows, "d-wet")["point"] = "H6"
        return rows

    version = publish(site, activity=with_another_hold, detail=judged_there)
    change = changing.change_house(site.house, by=site.planner, version=version)
    firm.refresh_from_db()
    assert firm.state == Booking.State.PENCILLED
    assert [crew for _visit, crew in change.fell_back] == [firm.crew.name]
    assert site.hold("H6").is_open
    assert firm.visit in [one.visit for one in HoldBefore.objects.filter(hold=site.hold("H6"))]
    with pytest.raises(WrongState):
        bookings.make_firm(firm, by=site.planner)


def test_a_photo_point_that_becomes_a_hold_takes_the_firm_booking_back(site):
    site.release_all("H3")
    site.release_all("H4")
    firm = bookings.make_firm(site.pencil("batts"), by=site.planner)

    def hold_on_lagging(rows):
        row(rows, "P2").update(point="hold", walker="supervisor", half_days=1)
        row(rows, "batts")["after"].append({"id": "P2"})
        return rows

    version = publish(site, activity=hold_on_lagging)
    changing.change_house(site.house, by=site.planner, version=version)
    firm.refresh_from_db()
    assert firm.state == Booking.State.PENCILLED
    assert site.hold("P2").is_open


def test_a_hold_point_is_never_taken_out(site):
    def without_pockets_hold(rows):
        row(rows, "plumb")["after"] = [{"id": "pockets"}]
        return [one for one in rows if one["id"] != "H3"]

    version = publish(
        site,
        activity=without_pockets_hold,
        detail=lambda rows: [one for one in rows if one["id"] != "d-pockets"],
        check=lambda rows: [one for one in rows if one["id"] != "pocket-filled"],
    )
    before = counted()
    with pytest.raises(BadInput, match=r"'Pockets' \(H3\).*Keep the key H3"):
        changing.change_house(site.house, by=site.planner, version=version)
    assert counted() == before
    assert House.objects.get(pk=site.house.pk).sequence_version.number == 1


def test_a_new_hold_whose_work_is_buried_already_stays_open_and_needs_a_walk(site):
    now = clock.current_half_day()
    site.release_all("H3", "H4", "H5")
    for key in ("pockets", "plumb", "batts"):
        activity = site.house.activities.get(key=key)
        progress.report_finished(activity, now, started=now, by=site.planner)

    def hold_on_lagging(rows):
        row(rows, "P2").update(point="hold", walker="supervisor", half_days=1)
        row(rows, "batts")["after"].append({"id": "P2"})
        return rows

    version = publish(site, activity=hold_on_lagging)
    assert changing.preview_change(site.house, by=site.planner, version=version).half_buried == ("Lagging",)
    change = changing.change_house(site.house, by=site.planner, version=version)
    assert change.half_buried == ("Lagging",)
    hold = site.hold("P2")
    assert (hold.is_open, hold.set_aside_at) == (True, None)
    [walk] = list_half_buried(House.objects.filter(pk=site.house.pk))
    assert (walk.hold, walk.waiting) == (hold, [])


def test_a_crew_whose_visit_is_gone_is_stood_down_and_told_once(site):
    told = site.pencil("pockets")

    def without_carpenter(rows):
        row(rows, "pockets")["trade"] = "plumber"
        return rows

    change = changing.change_house(
        site.house, by=site.planner, version=publish(site, activity=without_carpenter)
    )
    told.refresh_from_db()
    assert told.state == Booking.State.STOOD_DOWN
    assert [crew for _visit, crew in change.stood_down] == [told.crew.name]


def test_a_detail_that_was_judged_stays_on_the_record_without_work(site):
    site.release_all("H3", "H4")

    def fewer(rows):
        return [one for one in rows if one["id"] != "d-caps"]

    version = publish(
        site,
        detail=fewer,
        check=lambda rows: [one for one in rows if one.get("detail") != "d-caps"],
        activity=lambda rows: [{**one, "sections": ["pipes"]} if one["id"] == "H4" else one for one in rows],
    )
    changing.change_house(site.house, by=site.planner, version=version)
    detail = Detail.objects.get(house=site.house, key="d-caps")
    assert not detail.installers.exists()
    assert not detail.coverings.exists()
    assert Check.objects.get(key="hot").withdrawn_at is not None


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"features": {"airway": "wide"}}, "feature airway"),
        ({"features": {"chimneys": 2}}, "feature chimneys"),
        ({"options": ["no-such"]}, "option 'no-such'"),
    ],
)
def test_what_does_not_fit_is_refused_by_name(site, asked, words):
    before = counted()
    with pytest.raises(BadInput, match=words):
        changing.change_house(site.house, by=site.planner, **asked)
    assert counted() == before


def test_another_sequence_an_older_version_and_no_change_are_refused(site):
    other = publish_sequence(site.builder, TEXT.replace('key = "short"', 'key = "other"', 1))
    with pytest.raises(BadInput, match="no version of 'short'"):
        changing.change_house(site.house, by=site.planner, version=other)
    with pytest.raises(WrongState, match="like this already"):
        changing.change_house(site.house, by=site.planner, features={"airway": 25})
    first = site.house.sequence_version
    second = publish(site, activity=with_clean_up)
    assert changing.newer_versions(site.house) == [second]
    house = House.objects.get(pk=site.house.pk)
    changing.change_house(house, by=site.planner, version=second)
    with pytest.raises(BadInput, match="at version 2 already"):
        changing.change_house(house, by=site.planner, version=first)
