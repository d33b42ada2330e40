"""A line of one's own in a house's diary: it stays as it is written, and nothing computed grows old by it."""

import uuid

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from coordination.people.models import Role
from coordination.sequence import bookings, fit_runs, fitting
from coordination.sequence.diary import NOTED
from coordination.sequence.models import Change, Fit, House
from coordination.sequence.taking_back import latest_reports
from tests.planner.conftest import booking_of, browser_of, linings_visit, text_of
from tests.sequence.brick_veneer import Office
from tests.sequence.builders import make_person

pytestmark = pytest.mark.django_db
RANG = "rang the plumber, comes Thursday"


def write(client: Client, house: House, words: str = RANG, sent: str = "") -> int:
    posted = {"words": words, "sent": sent or str(uuid.uuid4())}
    return client.post(f"/houses/{house.pk}/moves/note/", posted).status_code


def noted(house: House) -> list[Change]:
    return list(Change.objects.filter(house=house, what=NOTED).order_by("pk"))


def test_line_stands_in_the_diary_with_its_writer_and_stays(
    planner: Client, supervisor: Client, house: House, office: Office
) -> None:
    page = f"/houses/{house.pk}/moves/"
    assert 'name="sent"' in planner.get(page).content.decode()
    done = planner.post(f"{page}note/", {"words": f" {RANG}\t ", "sent": str(uuid.uuid4())}, follow=True)
    assert done.redirect_chain == [(f"{page}#diary", 302)]
    assert f"noted: {RANG} {office.planner.name}, Mon 13 Apr, 7:00" in text_of(done)
    assert write(supervisor, house, "gate was locked") == 302
    assert [(one.words, one.by) for one in noted(house)] == [
        (RANG, office.planner),
        ("gate was locked", office.supervisor),
    ]
    with pytest.raises(IntegrityError), transaction.atomic():
        Change.objects.filter(what=NOTED).update(words="rang nobody")


def test_form_sent_twice_is_one_line(planner: Client, house: House) -> None:
    sent = str(uuid.uuid4())
    assert [write(planner, house, sent=sent) for _n in range(2)] == [302, 302]
    assert len(noted(house)) == 1
    write(planner, house)
    assert len(noted(house)) == 2


@pytest.mark.parametrize(
    ("words", "sent"), [("", ""), (" \t ", ""), ("x" * 301, ""), ("a\0b", ""), (RANG, "not an id")]
)
def test_line_that_cannot_stand_is_refused_at_its_field(
    planner: Client, house: House, words: str, sent: str
) -> None:
    assert write(planner, house, words, sent) == 422
    assert not noted(house)


def test_who_writes_is_the_builders_own_planner_or_supervisor(
    stranger: Client, contact: Client, planner: Client, house: House, office: Office
) -> None:
    assessor = browser_of(make_person(office.builder, Role.Kind.ASSESSOR, "Ada"))
    page = assessor.get(f"/houses/{house.pk}/moves/")
    assert page.status_code == 200
    assert "Write it in the diary" not in text_of(page)
    assert [write(one, house) for one in (assessor, contact, stranger)] == [403, 403, 404]
    assert planner.get(f"/houses/{house.pk}/moves/note/").status_code == 405
    assert not noted(house)


def test_crew_may_still_take_its_report_back_after_a_note(
    planner: Client, house: House, office: Office
) -> None:
    booking = bookings.pencil(booking_of(house, linings_visit(house).key), by=office.planner)
    bookings.report_under_way(booking, crew=booking.crew)
    write(planner, house)
    assert booking.pk in latest_reports({booking.pk: house.pk}, booking.crew)


def test_fit_is_as_good_after_a_note_as_before(planner: Client, house: House, office: Office) -> None:
    fit = fitting.start_fit(office.builder, office.planner)
    Fit.objects.filter(pk=fit.pk).update(seconds=0)
    assert fit_runs.take_up(fit.pk)
    write(planner, house)
    assert fitting.find_changed(fit) == []
