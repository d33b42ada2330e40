"""A crew that went past a hold point: a nonconformity, decided by a named person, closed by the release."""

import datetime as dt
import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.links import make_link
from coordination.people.models import CrewLink
from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence import bookings, progress
from coordination.sequence.inspection import port
from coordination.sequence.progress import Report
from hold_points.facts import load_point
from hold_points.gone_past import decide
from hold_points.models import Evidence, Nonconformity, RecordEntry
from hold_points.releasing import reopen
from tests.hold_points.houses import make_site
from tests.planner.conftest import text_of


def page(name, *args):
    return reverse(f"hold_points:{name}", args=args)


class Phone:
    """A crew's page, as its phone shows it."""

    def __init__(self, booking, link):
        self.browser, self.booking, self.link = Client(), booking, link

    def read(self):
        return text_of(self.browser.get(self.link))

    def press(self, verb, **entries):
        assert self.browser.post(f"{self.link}visit/{self.booking.pk}/{verb}/", entries).status_code == 302


@pytest.fixture
def phone_of(site):
    return lambda trade: Phone(
        site.booking("plumb"), f"/v/{make_link(site.crews[trade], CrewLink.Kind.PAGE)}/"
    )


@pytest.fixture
def trouble(site):
    """The plumber worked while the pockets were not released."""
    bookings.report_under_way(site.booking("plumb"), crew=site.crews["plumber"])
    return Nonconformity.objects.get()


def point_of(one):
    assert one.gone_past is not None
    return one.gone_past.point.key


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


def test_the_decision_is_work_on_the_crews_page_until_the_release_and_the_crew_says_when_it_is_done(
    site, trouble, client, phone_of
):
    phone = phone_of("plumber")
    assert "Put right" not in phone.read(), "nobody has decided yet"
    with pytest.raises(WrongState, match="Nobody has decided"):
        port().say_put_right(nonconformity_id=trouble.pk, crew=site.crews["plumber"])
    decide(trouble, site.assessor, "Open the corner and look.")
    words = phone.read()
    assert "Open the corner and look. Decided because the work went past Pockets." in words
    photo = SimpleUploadedFile("corner.jpg", site.picture(), "image/jpeg")
    phone.press("photo", finding=trouble.pk, done="1", photo=photo)
    trouble.refresh_from_db()
    assert trouble.state == "put right"
    evidence = Evidence.objects.get(nonconformity=trouble)
    assert (evidence.inspection, evidence.check_shown) == (trouble.gone_past, None)
    assert not load_point(site.point("H3")).evidence, "it proves no check"
    assert "You said it is put right" in phone.read()
    notice = Message.objects.get(subject__startswith="Said to be put right: Pockets")
    assert (notice.person, "Open the corner" in notice.body) == (site.supervisor, True)
    client.force_login(site.supervisor)
    assert "that it is done: look at it." in client.get(page("hold", trouble.gone_past_id)).content.decode()

    decide(trouble, site.assessor, "Open the other corner as well.")
    trouble.refresh_from_db()
    assert (trouble.state, trouble.said_done_at) == ("raised", None)
    with pytest.raises(NotAllowed):
        port().say_put_right(nonconformity_id=trouble.pk, crew=site.crews["installer"])
    site.release_all("H3")
    assert "Open the other corner" not in phone.read()


def test_a_decision_about_work_that_no_crew_has_goes_to_the_planners(site, client):
    bookings.stand_down(site.booking("plumb"), "does it himself", site.planner)
    progress.record_progress(site.house, [Report("plumb", started=clock.current_half_day())], by=site.planner)
    one = Nonconformity.objects.get()
    decide(one, site.assessor, "Open the corner and look.")
    told = Message.objects.get(body__contains="Open the corner")
    assert (told.person, told.kind) == (site.planner, "notice")
    client.force_login(site.supervisor)
    addresses = [page("desk"), page("hold", one.gone_past_id), page("record", site.house.pk)]
    for address in (*addresses, page("decision", one.pk), page("pack", site.house.pk, "builder")):
        body = client.get(address).content.decode()
        assert "Plumbing rough-in" in body
        assert "None" not in body.replace("None was given", ""), address


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
    assert [point_of(one) for one in raised] == ["H4", "H5"]
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
    assert (point_of(raised), raised.visit, raised.crew) == ("H3", site.visit("plumb"), None)
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
    assert point_of(Nonconformity.objects.get()) == "H3"
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
