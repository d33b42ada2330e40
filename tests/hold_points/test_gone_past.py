"""A crew that went past a hold point: a nonconformity, decided by a named person, closed by the release."""

import json

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from coordination.outbox.models import Message
from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence import bookings
from hold_points.gone_past import decide
from hold_points.models import Nonconformity, RecordEntry
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
