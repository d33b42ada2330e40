"""A crew that went past a hold point: a nonconformity, decided by a named person, closed by the release."""

import datetime as dt
import json

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence import bookings, progress
from coordination.sequence.progress import Report
from hold_points.gone_past import decide
from hold_points.models import Nonconformity, RecordEntry
from hold_points.releasing import reopen
from tests.hold_points.houses import make_site


def page(name, *args):
    return reverse(f"hold_points:{name}", args=args)


@pytest.fixture
def trouble(site):
    """The plumber worked while the pockets were not released."""
    bookings.report_under_way(site.booking("plumb"), crew=site.crews["plumber"])
    return Nonconformity.objects.get()


def kinds(site):
    return list(RecordEntry.objects.filter(house=site.house).order_by("n").values_list("kind", flat=True))


def facts_of(site, kind):
    return json.loads(RecordEntry.objects.get(house=site.house, kind=kind).text)["facts"]


def test_it_is_raised_once_however_often_the_crew_reports(site, trouble):
    assert (trouble.gone_past.point.key, trouble.visit, trouble.crew) == (
        "H3",
        site.visit("plumb"),
        site.crews["plumber"],
    )
    assert (trouble.check_failed, trouble.state) == (None, "raised")
    bookings.report_done(site.booking("plumb"), crew=site.crews["plumber"])
    assert Nonconformity.objects.count() == 1
    assert kinds(site) == ["went past", "nonconformity", "went past"]
    assert facts_of(site, "nonconformity")["went_past"] == "H3"


def test_a_named_person_decides_and_the_crew_is_told(site, trouble, client):
    client.force_login(site.assessor)
    address = page("decision", trouble.pk)
    assert client.post(address, {"decision": "ok"}).status_code == 422
    assert client.post(address, {"decision": "Open the corner and look."}).status_code == 302
    trouble.refresh_from_db()
    assert (trouble.decided_by, trouble.decision) == (site.assessor, "Open the corner and look.")
    assert facts_of(site, "decision")["by"]["name"] == site.assessor.name
    message = Message.objects.get(kind="rework")
    assert message.crew == site.crews["plumber"]
    assert "Open the corner" in message.body
    for shown in (page("desk"), page("hold", trouble.gone_past_id), page("record", site.house.pk)):
        assert "Open the corner and look." in client.get(shown).content.decode()


def test_the_crew_is_sent_the_whole_decision_in_at_most_300_characters(site, trouble):
    with pytest.raises(BadInput, match="240 characters"):
        decide(trouble, site.assessor, "x" * 241)
    site.assessor.name = "Wilhelmina " * 10
    decide(trouble, site.assessor, "y" * 240)
    body = Message.objects.get(kind="rework").body
    assert body.endswith("y" * 240)
    assert len(body) <= 300


def test_the_release_closes_it_and_says_whose_decision_it_was(site, trouble, client):
    decide(trouble, site.assessor, "Open the corner and look.")
    site.pass_checks("H3")
    client.force_login(site.supervisor)
    body = client.get(page("release", site.point("H3").pk)).content.decode()
    assert "although the work had gone on" in body
    site.sign("H3")
    trouble.refresh_from_db()
    assert (trouble.state, trouble.decided_by) == ("closed", site.assessor)
    assert facts_of(site, "put right")["decided_by"] == site.assessor.name
    with pytest.raises(WrongState, match="released since"):
        decide(trouble, site.assessor, "Something else instead.")
    assert "Went past" not in client.get(page("desk")).content.decode()


def test_what_nobody_decided_is_decided_by_the_signature(site, trouble):
    site.release_all("H3")
    trouble.refresh_from_db()
    assert (trouble.state, trouble.decided_by, trouble.decision) == (
        "closed",
        site.supervisor,
        "looked at and released",
    )


def test_work_that_the_office_reports_behind_a_closed_hold_is_shown_first_and_then_recorded(
    site, client, nothing_missing
):
    site.release_all("H3")
    site.pencil("linings")
    linings = site.house.activities.get(key="linings")
    client.force_login(site.planner)
    address = reverse("planner:progress", args=[site.house.pk])
    entered = {f"started_{linings.pk}_0": "2026-04-13", f"started_{linings.pk}_1": "am"}
    effect = client.post(address, entered).content.decode()
    assert (
        "Plasterboard fixed under way (Saltbush Plasterer crew): past Services and air seal, Insul" in effect
    )
    assert "This goes past a hold point" in effect
    assert (kinds(site)[-1], Nonconformity.objects.count()) == ("release", 0), "looking records nothing"

    page = client.post(address, {**entered, "apply": "1"}, follow=True).content.decode()
    assert "Went past Services and air seal, Insulation" in page
    booking = site.booking("linings")
    assert (booking.state, booking.went_past_hold) == ("under way", True)
    raised = Nonconformity.objects.order_by("pk")
    assert [one.gone_past.point.key for one in raised] == ["H4", "H5"]
    assert {one.crew for one in raised} == {site.crews["plasterer"]}
    assert kinds(site)[-3:] == ["went past", "nonconformity", "nonconformity"]
    told = Message.objects.filter(body__contains="went past hold point", urgent=True)
    assert {one.person for one in told} == {site.planner, site.supervisor}

    progress.take_back(linings, "wrong house", by=site.planner)
    booking = site.booking("linings")
    assert (booking.state, booking.went_past_hold) == ("pencilled", False)
    assert kinds(site)[-1] == "report taken back"
    assert raised.exclude(state="closed").count() == 2, "a named person still decides"


def test_work_that_no_crew_has_goes_past_a_hold_too_and_what_is_behind_none_does_not(site, nothing_missing):
    bookings.stand_down(site.booking("plumb"), "does it himself", site.planner)
    now = clock.current_half_day()
    reports = [Report(key, started=now) for key in ("pockets", "plumb")]
    progress.record_progress(site.house, reports, by=site.planner)
    raised = Nonconformity.objects.get()
    assert (raised.gone_past.point.key, raised.visit, raised.crew) == ("H3", site.visit("plumb"), None)
    assert site.booking("pockets").state == "asked"


def test_what_was_done_before_the_point_was_opened_again_went_past_nothing(site, monday_morning):
    site.release_all("H3")
    monday_morning.shift(dt.timedelta(days=1))
    reopen(site.point("H3"), [site.place("bed").pk], "strap moved", by=site.supervisor)
    began = clock.current_half_day() - 2
    report = Report("plumb", started=began, last=began + 1)
    progress.record_progress(site.house, [report], by=site.planner)
    assert not Nonconformity.objects.exists()
    progress.take_back(site.house.activities.get(key="plumb"), "not finished", by=site.planner)
    progress.record_progress(site.house, [Report("plumb", last=began + 2)], by=site.planner)
    assert Nonconformity.objects.get().gone_past.point.key == "H3"
    progress.take_back(site.house.activities.get(key="plumb"), "not finished", by=site.planner)
    assert site.booking("plumb").state == "asked", "as before that report"


def test_it_is_no_work_of_a_check_and_no_concession_lets_it_go(site, trouble, client):
    client.force_login(site.supervisor)
    assert client.get(page("concession", trouble.pk)).status_code == 404
    site.find(site.check("pipe-off"), "not met")
    other = Nonconformity.objects.get(check_failed__isnull=False)
    assert client.get(page("decision", other.pk)).status_code == 404


def test_only_people_of_the_builder_decide(site, trouble):
    other = make_site("lot-8", "wattle")
    with pytest.raises(NotAllowed):
        decide(trouble, other.supervisor, "Leave it as it is.")
    with pytest.raises(BadInput):
        decide(trouble, site.planner, "  ")


@pytest.mark.parametrize(
    "change",
    [
        {"gone_past": None},
        {"visit": None},
        {"state": "closed"},
        {"decision": "by nobody"},
        {"raised_at": None},
    ],
)
def test_the_database_refuses_one_that_is_neither_of_a_check_nor_of_a_point(site, trouble, change):
    with pytest.raises(IntegrityError), transaction.atomic():
        Nonconformity.objects.filter(pk=trouble.pk).update(**change)
