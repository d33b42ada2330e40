"""The nightly count names what was taken away by hand, past the triggers and the acts."""

import datetime as dt
import json

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection

from coordination import clock
from coordination.sequence import guard
from coordination.sequence.models import (
    Activity,
    Booking,
    Covering,
    Detail,
    HoldBefore,
    House,
    Installer,
    Relationship,
)
from hold_points.models import Check, Inspection, RecordEntry, Release
from hold_points.recounting import recount
from hold_points.reopening import reopen
from tests.sequence.brick_veneer import open_office
from tests.sequence.builders import say_changed, say_rewriting

MOMENT = dt.datetime(2026, 4, 13, tzinfo=dt.UTC)


@pytest.fixture
def unguarded(site):
    """The house in a database whose guard somebody has taken down."""
    guard.uninstall(connection)
    return site


def differences(site):
    lines = recount(House.objects.get(pk=site.house.pk))
    return [line.removeprefix(f"{site.house}: ") for line in lines]


def test_a_house_that_was_walked_released_and_re_opened_has_no_differences(site):
    site.release_all("H3", "H4", "H5")
    point = site.point("H4")
    places = point.checks.filter(place__isnull=False).values_list("place_id", flat=True)
    reopen(point, places[:1], "a cable was added", by=site.supervisor)
    assert differences(site) == []


def test_a_house_of_the_shipped_sequence_has_no_differences(db, monday_morning):
    assert recount(open_office().house()) == []


def test_a_network_taken_apart_and_a_firm_booking_behind_it_are_named(unguarded):
    hold = unguarded.hold("H5")
    booking = unguarded.pencil("linings")
    HoldBefore.objects.filter(hold=hold).delete()
    Relationship.objects.filter(predecessor=hold.point).delete()
    Covering.objects.filter(point=hold.point).delete()
    Booking.objects.filter(pk=booking.pk).update(state="firm")
    found = differences(unguarded)
    assert "H5 is no longer before linings" in found
    assert any(line.startswith("linings is no longer said to cover") for line in found)


def gone(rows):
    return rows.delete


def changed(rows, **values):
    return lambda: rows.update(**values)


@pytest.mark.parametrize(
    ("act", "said"),
    [
        (changed(Covering.objects.filter(point__key="H5"), along=True), "otherwise than"),
        (changed(Covering.objects.filter(point__key="H5"), point=None), "otherwise than"),
        (changed(Detail.objects.filter(point__key="H5"), point=None), "is not judged at H5"),
        (changed(Relationship.objects.filter(predecessor__is_point=False), lag=-1), "is no longer before"),
        (changed(Relationship.objects.filter(predecessor__key="H5"), lag=-1), "cannot be overlapped"),
        (gone(Installer.objects.all()), "is no longer said to install"),
        (changed(Activity.objects.filter(key="linings"), visit=None), "is not in its visit"),
        (changed(Activity.objects.filter(key="H5"), point_kind="witness"), "holds by the sequence"),
        (gone(Check.objects.filter(key="pipe-off")), "is no longer checked"),
        (
            changed(Check.objects.filter(key="airway"), withdrawn_at=dt.datetime(2026, 4, 13, tzinfo=dt.UTC)),
            "no longer checked",
        ),
        (changed(Check.objects.filter(key="airway"), evidence="none"), "asks something else"),
        (changed(Check.objects.all(), sample={"drawn": False}), "not looked at as often"),
        (gone(Inspection.objects.filter(point__key="H5")), "H5 has no inspection"),
    ],
)
def test_each_thing_taken_away_is_named(unguarded, act, said):
    assert differences(unguarded) == []
    act()
    assert any(said in line for line in differences(unguarded)), differences(unguarded)


def forge(site, role="supervisor"):
    """A release that nobody signed: a row, and nothing in the record."""
    hold = site.hold("H5")
    release = Release.objects.create(
        id="0190d2a0-0000-7000-8000-000000000001",
        inspection=Inspection.objects.get(point=hold.point),
        by=site.planner,
        name="x",
        role=role,
        signature=[],
        at=clock.now(),
        received_at=clock.now(),
    )
    type(hold).objects.filter(pk=hold.pk).update(lifted_at=clock.now(), lifted_by=release.pk)
    return release


def test_a_hold_lifted_by_a_release_outside_the_record_is_named(unguarded):
    forge(unguarded)
    assert differences(unguarded) == ["Insulation is lifted by a release that is not in the record"]


def test_a_hold_lifted_by_a_release_from_before_it_was_re_opened_is_named(unguarded):
    unguarded.release_all("H3")
    signed = unguarded.hold("H3").lifted_by
    point = unguarded.point("H3")
    places = point.checks.filter(place__isnull=False).values_list("place_id", flat=True)
    reopen(point, places[:1], "a cable was added", by=unguarded.supervisor)
    hold = unguarded.hold("H3")
    type(hold).objects.filter(pk=hold.pk).update(lifted_at=clock.now(), lifted_by=signed)
    assert differences(unguarded) == ["Pockets is lifted by a release from before it was re-opened"]


def test_a_hold_lifted_by_another_points_release_is_named(unguarded):
    unguarded.release_all("H3")
    hold = unguarded.hold("H5")
    signed = unguarded.hold("H3").lifted_by
    type(hold).objects.filter(pk=hold.pk).update(lifted_at=clock.now(), lifted_by=signed)
    assert "Insulation is lifted by no release of its point" in differences(unguarded)


def test_a_rewriting_that_was_never_finished_is_named(site):
    say_rewriting(site.house)
    assert differences(site) == ["its rewriting was begun and never finished"]
    say_changed(site.house)
    assert differences(site) == []


def test_a_sequence_that_cannot_be_read_is_named(site):
    type(site.house.sequence_version).objects.update(text="nothing")
    [line] = differences(site)
    assert "cannot be read" in line


def test_the_command_names_each_difference_and_fails(site, capsys):
    call_command("recount")
    assert "what the networks expect" in capsys.readouterr().out
    HoldBefore.objects.filter(hold=site.hold("H5")).delete()
    with pytest.raises(CommandError, match="is not stored"):
        call_command("recount")


def test_a_release_stands_in_the_record_under_its_id(site):
    """What triggers and recount look for: the facts of the entry name the release."""
    site.release_all("H3")
    entry = RecordEntry.objects.get(house=site.house, kind="release")
    assert json.loads(entry.text)["facts"]["release"] == str(site.hold("H3").lifted_by)
