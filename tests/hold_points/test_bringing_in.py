"""A house brought in half built: buried holds are set aside, half-buried ones need a walk."""

import datetime as dt
import io

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse

from coordination import clock
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import bookings, progress, telling
from coordination.sequence.bringing_in import bring_in, bring_in_stated
from hold_points.models import RecordEntry, Release
from hold_points.recounting import recount

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
    assert recount(site.house) == []


def test_what_was_found_not_met_is_on_record_and_stays_open_however_deep_it_is_buried(site):
    check = site.point("H3").checks.first()
    site.find(check, "not met", note="no airway", photo=True)
    done = bring_in(site.house, "batts", FRIDAY, site.planner)
    assert labels(done.set_aside) == []
    assert labels(done.half_buried) == ["H3", "H4"]
    assert site.hold("H3").is_open
    assert site.house.activities.get(key="H3").actual_finish is None


def test_nothing_becomes_firm_and_finished_visits_are_done(site):
    bring_in(site.house, "plumb", FRIDAY, site.planner)
    assert site.booking("plumb").state == "done"
    batts = site.pencil("batts")
    with pytest.raises(WrongState, match="cannot be firm"):
        bookings.make_firm(batts, site.planner)


def test_a_date_that_waits_to_be_sent_is_taken_back_with_the_work_that_is_done(site):
    told = {key: site.pencil(key) for key in ("plumb", "batts")}
    bring_in(site.house, "plumb", FRIDAY, site.planner)
    assert telling.waiting_for(told["plumb"]) == []
    assert len(telling.waiting_for(told["batts"])) == 1, "that one is still to come"


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


# ---------------------------------------------------------------- several lines of work, and the page


def test_lines_of_work_are_stated_with_a_day_each(site):
    days = {"plumb": dt.date(2026, 4, 8), "pockets": dt.date(2026, 4, 2)}
    done = bring_in_stated(site.house, days, site.planner, "framed before this tool was used")
    ends = {one.key: clock.as_date((one.actual_finish or 0) - 1) for one in done.stated}
    assert ends == {"pockets": (dt.date(2026, 4, 2), "pm"), "plumb": (dt.date(2026, 4, 8), "pm")}
    assert site.hold("H3").set_aside_why == "framed before this tool was used"


@pytest.mark.parametrize(
    "days",
    [{}, {"pockets": dt.date(2026, 4, 9), "plumb": dt.date(2026, 4, 8)}, {"plumb": dt.date(2026, 4, 14)}],
)
def test_days_that_contradict_the_order_of_the_work_are_refused(site, days):
    with pytest.raises(BadInput):
        bring_in_stated(site.house, days, site.planner)
    assert not site.house.activities.filter(actual_start__isnull=False).exists()


def test_what_was_finished_today_is_finished_by_now(site):
    done = bring_in_stated(site.house, {"pockets": dt.date(2026, 4, 13)}, site.planner)
    assert [one.key for one in done.stated] == ["pockets"]
    assert done.stated[0].actual_finish == clock.as_half_day(dt.date(2026, 4, 13)) + 1


def test_the_planner_looks_at_it_first_and_brings_it_in_from_the_houses_page(site, client):
    client.force_login(site.planner)
    choose, address = reverse("planner:bring_in_choose"), reverse("planner:bring_in", args=[site.house.pk])
    assert choose in client.get(reverse("planner:houses")).content.decode()
    assert address in client.get(choose).content.decode()
    assert "Close up" in client.get(address).content.decode()
    entered = {"last-close": "batts", "day-close": "2026-04-10", "why": "framed before this tool was used"}
    body = client.post(address, entered).content.decode()
    walk, aside = body.index("Need a walk at once"), body.index("Set aside: not recorded")
    assert walk < body.index("Services and air seal") < aside < body.index("<li>Pockets</li>")
    assert "framed before this tool was used" in body
    assert not site.house.activities.filter(actual_start__isnull=False).exists(), "nothing is saved yet"
    assert site.hold("H3").is_open
    assert 'value="2026-04-10"' in client.post(address, {**entered, "edit": "1"}).content.decode()
    answer = client.post(address, {**entered, "apply": "1"})
    assert answer.headers["Location"] == reverse("hold_points:desk")
    desk = client.get(answer.headers["Location"]).content.decode()
    assert desk.index("These need a walk this week") < desk.index(
        "Lot 7, Saltbush Rise: Services and air seal"
    )
    assert "1 hold points need a walk" in desk or "brought in" in desk
    assert "framed before this tool was used" in desk
    assert address not in client.get(choose).content.decode(), "once"
    assert client.post(address, {**entered, "apply": "1"}).status_code == 409


@pytest.mark.parametrize(
    "entered",
    [
        {},
        {"last-close": "batts"},
        {"day-close": "2026-04-10"},
        {"last-close": "batts", "day-close": "soon"},
        {"last-close": "H4", "day-close": "2026-04-10"},
    ],
)
def test_what_cannot_be_brought_in_says_why(site, client, entered):
    client.force_login(site.planner)
    answer = client.post(reverse("planner:bring_in", args=[site.house.pk]), entered)
    assert answer.status_code == 422
    client.force_login(site.supervisor)
    assert client.get(reverse("planner:bring_in", args=[site.house.pk])).status_code == 403
