"""A house brought in half built: buried holds are set aside, half-buried ones need a walk."""

import datetime as dt
import io

import pytest
from django.core.management import CommandError, call_command

from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import bookings, holds, progress
from coordination.sequence.bringing_in import bring_in
from hold_points.models import RecordEntry, Release

FRIDAY = dt.date(2026, 4, 10)


def labels(found):
    return [hold.point.key for hold in found]


def test_buried_half_buried_and_live_holds_are_told_apart(site):
    done = bring_in(site.house, "batts", FRIDAY, site.planner)
    assert [one.key for one in done.stated] == ["pockets", "plumb", "batts"]
    # What covers the pockets (pipes) is done; the pipes lie under the batts, the caps are still to be seen.
    assert labels(done.set_aside) == ["H3"]
    assert labels(done.half_buried) == ["H4"]
    assert labels(done.live) == ["H5"]
    assert not site.hold("H3").is_open
    assert site.hold("H3").lifted_at is None
    assert not Release.objects.exists()
    assert RecordEntry.objects.filter(kind="set aside").count() == 1
    assert holds.recount(site.house) == []


def test_nothing_becomes_firm_and_finished_visits_are_done(site):
    bring_in(site.house, "plumb", FRIDAY, site.planner)
    assert site.booking("plumb").state == "done"
    batts = site.pencil("batts")
    with pytest.raises(WrongState, match="cannot be firm"):
        bookings.make_firm(batts, site.planner)


@pytest.mark.parametrize(
    ("last", "day", "error"),
    [
        ("H4", FRIDAY, BadInput),
        ("nothing", FRIDAY, BadInput),
        ("plumb", dt.date(2026, 4, 14), BadInput),
    ],
)
def test_what_makes_no_sense_is_refused_and_nothing_is_saved(site, last, day, error):
    with pytest.raises(error):
        bring_in(site.house, last, day, site.planner)
    assert not site.house.activities.filter(actual_start__isnull=False).exists()


def test_a_house_is_brought_in_before_anything_is_reported(site):
    pockets = site.house.activities.get(key="pockets")
    progress.report_started(pockets, site.house.recorded_up_to, by=site.planner)
    with pytest.raises(WrongState, match="brought in once"):
        bring_in(site.house, "plumb", FRIDAY, site.planner)


def test_the_command_says_what_needs_a_walk(site):
    out = io.StringIO()
    call_command("bring_in", "lot-7", "batts", "2026-04-10", by=site.planner.email, stdout=out)
    assert "needs a walk: Services and air seal" in out.getvalue()
    with pytest.raises(CommandError, match="no planner"):
        call_command("bring_in", "lot-7", "batts", "2026-04-10", by=site.supervisor.email)
