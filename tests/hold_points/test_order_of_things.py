"""What proves what: a photograph of the defect closes nothing, and a clock set back turns nothing round."""

import datetime as dt
import io

import pytest

from coordination import clock
from coordination.people.refusals import BadInput
from hold_points.evidence import Shows, accept
from hold_points.facts import load_point
from hold_points.identifiers import new_id
from hold_points.models import Nonconformity, Outcome, RecordEntry, Release
from hold_points.readiness import State
from hold_points.reopening import reopen
from hold_points.signing import Signature
from tests.hold_points.houses import PASSWORD


def state_of(site, check):
    rows = load_point(check.inspection)
    return next(one for one in rows.readiness.states if one.check.id == check.pk)


def photograph(site, check, **who):
    shows = Shows(inspection=check.inspection, check=check, **who)
    return accept(io.BytesIO(site.picture()), site.house, shows)


def test_a_defect_is_not_closed_from_a_photograph_that_is_older_than_it(site):
    check = site.check("full", "bed")
    photograph(site, check, crew=site.crews["installer"])
    site.find(check, "not met", note="a gap")
    with pytest.raises(BadInput, match="no photograph"):
        site.find(check, from_photograph=True)
    assert Nonconformity.objects.get().state == "raised"
    photograph(site, check, crew=site.crews["installer"])
    site.find(check, from_photograph=True)
    assert Nonconformity.objects.get().state == "closed"


def test_a_defect_is_not_closed_from_its_own_photograph(site):
    check = site.check("full", "bed")
    site.find(check, "not met", note="a gap", photo=True)
    with pytest.raises(BadInput, match="no photograph"):
        site.find(check, from_photograph=True)


def test_a_photograph_that_was_sent_just_before_the_button_is_one_of_the_failure(site):
    """The tablet sends the picture as soon as it is taken."""
    check = site.check("full", "bed")
    photograph(site, check, by=site.supervisor)
    site.find(check, "not met", note="a gap")
    with pytest.raises(BadInput, match="no photograph"):
        site.find(check, from_photograph=True)


def test_an_own_hand_is_shown_by_its_own_photograph_and_not_by_the_crews_old_one(site):
    check = site.check("pipe-off")
    photograph(site, check, crew=site.crews["plumber"])
    site.find(check, "not met", note="touches")
    with pytest.raises(BadInput, match="what you put right"):
        site.find(check, "put right", own_hand=True)
    photograph(site, check, by=site.supervisor)
    site.find(check, "put right", own_hand=True)
    assert state_of(site, check).state is State.SECOND_PERSON
    site.find(check, by=site.planner, from_photograph=True)
    assert state_of(site, check).state is State.PUT_RIGHT


def test_evidence_from_before_a_failure_does_not_pass_what_is_found_met_after_it(site):
    check = site.check("airway", "bath")
    site.find(check, value=check.limit, photo=True)
    site.find(check, "not met", value=1.0)
    site.find(check, value=check.limit)
    assert state_of(site, check).state is State.NO_EVIDENCE
    photograph(site, check, by=site.supervisor)
    assert state_of(site, check).state is State.MET


@pytest.mark.parametrize("back", [dt.timedelta(seconds=2), dt.timedelta(hours=3)])
def test_a_re_opening_undoes_the_release_although_the_clock_was_set_back(site, monday_morning, back):
    site.release_all("H3", "H4")
    monday_morning.shift(-back)
    opened = reopen(site.point("H4"), [site.place("bath").pk], "pipe moved", by=site.supervisor)
    assert opened.at > Release.objects.get(inspection=site.point("H4")).received_at
    rows = load_point(site.point("H4"))
    assert site.hold("H4").is_open
    assert not rows.released
    site.pass_checks("H4")
    site.sign("H4")
    assert load_point(site.point("H4")).released
    assert not site.hold("H4").is_open


def test_a_release_is_not_dated_before_what_it_covers(site):
    site.pass_checks("H3")
    wrong = dt.datetime(2001, 1, 1, tzinfo=dt.UTC)
    signed = site.sign("H3", at=wrong)
    judged = Outcome.objects.filter(check_judged__inspection=site.point("H3")).latest("at").at
    assert judged <= signed.at <= signed.received_at
    assert site.point("H3").point.actual_finish == clock.half_day_of(signed.at, site.builder.time_zone) + 1
    # What the tablet said is kept beside it.
    assert '"stated_at":"2001-01-01' in RecordEntry.objects.get(kind="release").text


def test_the_same_release_id_with_other_content_is_refused(site):
    site.pass_checks("H3")
    name, wrong = new_id(), dt.datetime(2001, 1, 1, tzinfo=dt.UTC)
    there = site.sign("H3", id=name, device="tablet", at=wrong)
    assert site.sign("H3", id=name, device="tablet", at=wrong) == there
    other_hand = Signature(site.supervisor.name, [[[1, 1], [2, 2]]], password=PASSWORD)
    for more in (
        {"signature": other_hand},
        {"device": "another"},
        {"at": wrong + dt.timedelta(days=1)},
    ):
        with pytest.raises(BadInput, match="Another release"):
            site.sign("H3", **{"id": name, "device": "tablet", **more})
    assert Release.objects.count() == 1


@pytest.mark.parametrize("who", ["supervisor", "crew"])
def test_the_same_re_opening_again_is_harmless(site, who):
    site.release_all("H3", "H4")
    by = {"by": site.supervisor} if who == "supervisor" else {"crew": site.crews["installer"]}
    point, rooms = site.point("H4"), [site.place("bath").pk]
    opened = reopen(point, rooms, "pipe moved", **by)
    assert reopen(point, rooms, " pipe moved ", **by) == opened
    assert RecordEntry.objects.filter(kind="re-opening").count() == 1
    # Other words are another act, and so are the same ones once something was judged.
    assert reopen(point, rooms, "another pipe", **by) != opened
    site.pass_checks("H4")
    assert reopen(point, rooms, "another pipe", **by).pk > opened.pk + 1
