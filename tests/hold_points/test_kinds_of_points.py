"""The life of each kind of point that stops nobody: witness, photo point, review, survey."""

import datetime as dt
import io
import json

import pytest
from django.urls import reverse

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.models import RegionDay
from coordination.people.refusals import NotAllowed
from coordination.sequence import bookings, progress
from coordination.sequence.replanning import replan
from coordination.sequence.reports import Report
from hold_points.models import RecordEntry
from hold_points.port import HoldPointsPort
from hold_points.queries import list_walks
from hold_points.reopening import reopen
from hold_points.tasks import lapse_due_notices
from hold_points.working_time import days_of
from tests.hold_points.houses import TEXT, make_site

MORE_POINTS = """
[[activity]]
id = "R1"
name = "Drawings"
point = "review"
walker = "planner"
stage = "close"
half_days = 1

[[activity]]
id = "S1"
name = "Finished house"
point = "survey"
walker = "assessor"
stage = "close"
half_days = 1
after = [{id = "linings"}]

[[check]]
id = "heel-drawn"
point = "R1"
kind = "document"
text = "The heel stands on the drawing."
evidence = ["document"]

[[check]]
id = "warm-wall"
point = "S1"
kind = "measured"
text = "Coldest spot of the wall."
once = true
limit = {compare = "at least", value = 12.6, unit = "°C", source = "common practice"}
evidence = ["photo"]
"""


@pytest.fixture
def wide(db, monday_morning, settings, tmp_path):
    """The small house with a review and a survey besides."""
    settings.MEDIA_ROOT = tmp_path
    return make_site(
        text=TEXT.replace("[[detail]]", MORE_POINTS.split("[[check]]")[0] + "\n[[detail]]", 1)
        + "\n[[check]]".join(["", *MORE_POINTS.split("[[check]]")[1:]])
    )


def page(name, *args):
    return reverse(f"hold_points:{name}", args=args)


def facts_of(site, kind):
    return json.loads(RecordEntry.objects.get(house=site.house, kind=kind).text)["facts"]


def call(site, activity, crew):
    return HoldPointsPort().call_ready(visit_id=site.visit(activity).pk, crew=site.crews[crew])


def go_to(clock_, half_day):
    # An afternoon begins at noon, whenever work starts.
    clock_.move_to(clock.starts_at(half_day, "Australia/Hobart") + dt.timedelta(hours=1))


# ---------------------------------------------------------------- witness


def test_a_call_gives_notice_for_as_long_as_the_point_says_in_working_half_days(site, client):
    """Called on Monday morning with notice 2, and no power that afternoon: Tuesday morning and afternoon."""
    RegionDay.objects.create(
        region=site.house.region, first_day=dt.date(2026, 4, 13), first_half="pm", why="power off"
    )
    replan(site.house, cause="power off")
    call(site, "batts", "installer")
    inspection = site.point("W1")
    assert inspection.notice_until == clock.as_half_day(dt.date(2026, 4, 14), "pm")
    assert days_of(site.house).works(inspection.notice_until)
    facts = facts_of(site, "notice")
    assert (facts["until"], facts["half_days"], facts["to"]) == (
        "Tue 14 Apr, afternoon",
        2,
        site.supervisor.name,
    )
    told = Message.objects.get(person=site.supervisor, subject__startswith="Ready for the walk: Wet walls")
    assert "Look by Tue 14 Apr, afternoon; then the work goes on." in told.body
    client.force_login(site.supervisor)
    assert "Look by Tue 14 Apr, afternoon" in client.get(page("walks")).content.decode()
    call(site, "batts", "installer")
    assert site.point("W1").notice_until == inspection.notice_until, "a second call lengthens nothing"


TWO_INSTALLERS = TEXT.replace(
    'name = "Wet walls"\ninstalled_by = ["batts"]', 'name = "Wet walls"\ninstalled_by = ["plumb", "batts"]'
)


def test_the_notice_starts_when_the_last_crew_that_installs_there_has_called_or_is_done(db, monday_morning):
    site = make_site(text=TWO_INSTALLERS)
    call(site, "batts", "installer")
    assert site.point("W1").notice_until is None
    lapse_due_notices.run()
    assert site.point("W1").notice_until is None, "the plumber has not called"
    call(site, "plumb", "plumber")
    assert site.point("W1").notice_until is not None
    bookings.take_back_call(site.booking("plumb"), site.crews["plumber"])
    assert (site.point("W1").notice_until, site.point("W1").notice_given_at) == (None, None)

    bookings.report_done(site.booking("plumb"), crew=site.crews["plumber"])
    lapse_due_notices.run()
    lapse_due_notices.run()
    assert site.point("W1").notice_until is not None
    told = Message.objects.get(
        subject__startswith="Ready for the walk: Wet walls", body__contains="or is done"
    )
    assert "Look by Tue 14 Apr, morning; then the work goes on." in told.body
    with pytest.raises(NotAllowed):
        bookings.take_back_call(site.booking("plumb"), site.crews["installer"])


def test_work_that_nobody_is_booked_for_is_waited_for(db, monday_morning):
    site = make_site(text=TWO_INSTALLERS)
    bookings.stand_down(site.booking("plumb"), "another day", site.planner)
    call(site, "batts", "installer")
    lapse_due_notices.run()
    assert site.point("W1").notice_until is None


def test_a_witness_who_does_not_come_stands_on_the_record_and_stops_nobody(site, client, monday_morning):
    call(site, "batts", "installer")
    until = site.point("W1").notice_until
    go_to(monday_morning, until)
    lapse_due_notices.run()
    assert site.point("W1").lapsed_at is None, "its last half-day is still to come to an end"
    go_to(monday_morning, until + 1)
    lapse_due_notices.run()
    lapse_due_notices.run()
    inspection = site.point("W1")
    assert (inspection.absent, inspection.lapsed_at) == (site.supervisor.name, clock.now())
    assert inspection.point.actual_finish is not None
    facts = facts_of(site, "not attended")
    assert (facts["absent"], facts["why"], facts["checks_left"]) == (
        site.supervisor.name,
        "the notice had run out",
        1,
    )
    assert inspection.pk not in {card.inspection.pk for card in list_walks(type(site.house).objects.all())}
    notices = Message.objects.filter(subject__startswith="Not attended")
    assert {one.person for one in notices} == {site.planner, site.supervisor}
    client.force_login(site.supervisor)
    body = client.get(page("record", site.house.pk)).content.decode()
    assert "not attended" in body
    assert f"{site.supervisor.name} did not attend" in body


def test_work_that_goes_on_without_notice_says_so_on_the_record(site, monday_morning):
    monday_morning.shift(dt.timedelta(days=30))
    progress.record_progress(
        site.house, [Report("linings", started=clock.current_half_day() - 1)], by=site.planner
    )
    lapse_due_notices.run()
    assert facts_of(site, "not attended")["why"] == "the work went on without notice"


def test_who_attends_in_time_signs_and_nothing_lapses(site, monday_morning):
    call(site, "batts", "installer")
    site.release_all("W1")
    go_to(monday_morning, site.point("W1").notice_until + 5)
    lapse_due_notices.run()
    assert site.point("W1").lapsed_at is None
    assert facts_of(site, "release")["point_kind"] == "witness"


def test_who_comes_late_may_still_look_and_sign(site, monday_morning):
    call(site, "batts", "installer")
    go_to(monday_morning, site.point("W1").notice_until + 1)
    lapse_due_notices.run()
    site.release_all("W1")
    kinds = RecordEntry.objects.filter(house=site.house).order_by("n").values_list("kind", flat=True)
    assert list(kinds)[-3:] == ["not attended", "outcome", "release"]


def test_a_reopened_witness_point_is_called_anew(site, monday_morning):
    call(site, "batts", "installer")
    site.release_all("W1")
    monday_morning.shift(3600)
    reopen(site.point("W1"), [site.place("bath").pk], "pipe moved", by=site.supervisor)
    assert site.point("W1").notice_until is None
    reopen(site.point("W1"), [site.place("bath").pk], "pipe " * 59, crew=site.crews["plumber"])
    assert 280 < len(Message.objects.get(subject__startswith="Re-opened: Wet walls").body) <= 300
    monday_morning.shift(3600)
    call(site, "batts", "installer")
    assert site.point("W1").notice_until is not None


def test_a_reopened_witness_point_lapses_anew_for_what_happens_after_that_and_is_told_anew(
    site, monday_morning
):
    monday_morning.shift(dt.timedelta(days=30))
    progress.record_progress(
        site.house, [Report("linings", started=clock.current_half_day() - 1)], by=site.planner
    )
    lapse_due_notices.run()
    site.release_all("W1")
    monday_morning.shift(dt.timedelta(days=1))
    reopen(site.point("W1"), [site.place("bath").pk], "pipe moved", by=site.supervisor)
    lapse_due_notices.run()
    assert site.point("W1").lapsed_at is None, "the boards were there when it was re-opened"
    call(site, "batts", "installer")
    go_to(monday_morning, site.point("W1").notice_until + 1)
    lapse_due_notices.run()
    assert site.point("W1").lapsed_at == clock.now()
    notices = Message.objects.filter(subject__startswith="Not attended", person=site.supervisor)
    assert [one.body.split("; ")[1].split(".")[0] for one in notices.order_by("pk")] == [
        "the work went on without notice",
        "the notice had run out",
    ]


# ---------------------------------------------------------------- photo point, review, survey


def test_a_photo_point_ends_with_its_last_photograph_and_is_on_the_record_page(site, client):
    HoldPointsPort().accept_photo(
        house=site.house,
        crew=site.crews["plumber"],
        file=io.BytesIO(site.picture()),
        point_id=site.point("P2").point_id,
        detail=site.check("lagged").detail,
    )
    assert site.point("P2").point.actual_finish is not None
    client.force_login(site.planner)
    body = client.get(page("record", site.house.pk)).content.decode()
    assert "shown by the crew&#x27;s photographs" in body
    assert bookings.pencil(site.booking("batts"), by=site.planner).state == "pencilled"


def test_a_review_is_judged_and_signed_by_the_planner_at_the_desk(wide, client):
    client.force_login(wide.planner)
    assert "Drawings" in client.get(page("walks")).content.decode()
    check = wide.check("heel-drawn")
    address = page("check", check.pk)
    assert "Met</button>" in client.get(address).content.decode()
    wide.find(check, note="drawing 12, revision C", by=wide.planner)
    assert (
        page("release", wide.point("R1").pk) in client.get(page("walk", wide.point("R1").pk)).content.decode()
    )
    wide.sign("R1", by=wide.planner)
    assert wide.point("R1").point.actual_finish is not None
    assert facts_of(wide, "release")["signed_by"]["role"] == "planner"
    assert not wide.point("R1").point.holds, "it stops nobody"


def test_a_survey_is_walked_by_the_assessor_after_the_work(wide, client, monday_morning):
    monday_morning.shift(dt.timedelta(days=60))
    check = wide.check("warm-wall")
    with pytest.raises(NotAllowed):
        wide.find(check, value=14.0, photo=True, by=wide.planner)
    wide.find(check, "not met", value=9.1, photo=True, by=wide.assessor)
    client.force_login(wide.assessor)
    assert "Coldest spot" in client.get(page("desk")).content.decode()
    monday_morning.shift(60)
    wide.find(check, value=14.0, photo=True, by=wide.assessor)
    wide.sign("S1", by=wide.assessor)
    assert wide.point("S1").point.actual_finish is not None
    assert facts_of(wide, "put right")["check"] == "Coldest spot of the wall."
