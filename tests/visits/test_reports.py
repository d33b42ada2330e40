"""At work and done: asked before an unlikely one is recorded, taken back when it was a mistake."""

import datetime as dt
import re
from typing import Any

import pytest
from django.test import Client

from coordination import clock
from coordination.outbox.models import Message
from coordination.sequence import bookings
from coordination.sequence.models import Booking, Change
from hold_points.models import Nonconformity, RecordEntry
from hold_points.reopening import reopen
from tests.hold_points.houses import Site
from tests.planner.conftest import text_of
from tests.visits.conftest import page_of, path_of

pytestmark = pytest.mark.django_db


def firm_plumber(site: Site) -> Booking:
    """The plumber's visit, firm for tomorrow: nothing before it is open."""
    site.release_all("H3")
    bookings.pencil(site.booking("plumb"), clock.as_half_day(dt.date(2026, 4, 14)), by=site.planner)
    return bookings.make_firm(site.booking("plumb"), site.planner)


def standing(booking: Booking) -> tuple[Any, ...]:
    booking.refresh_from_db()
    facts = booking.visit.activities.order_by("pk").values_list("actual_start", "actual_finish", "remaining")
    return (booking.state, booking.on_site, booking.went_past_hold, booking.told_start, list(facts))


def send(phone: Client, link: str, booking: Booking, verb: str, **entries: str) -> Any:
    return phone.post(path_of(link, booking, verb), entries, follow=True)


@pytest.mark.parametrize("verb", ["begun", "done"])
def test_one_press_before_its_day_records_nothing_and_asks(
    site: Site, phone: Client, link: str, verb: str
) -> None:
    booking = firm_plumber(site)
    before = standing(booking)
    written = Change.objects.count()
    answer = send(phone, link, booking, verb)
    assert "You are booked for Tue 14 Apr" in text_of(answer)
    assert "Really" in text_of(answer)
    assert standing(booking) == before
    assert Change.objects.count() == written
    send(phone, link, booking, verb, sure="1")
    assert standing(booking)[0] == ("under way" if verb == "begun" else "done")


def test_done_before_its_day_is_told_to_the_office(site: Site, phone: Client, link: str) -> None:
    booking = firm_plumber(site)
    words = text_of(send(phone, link, booking, "done", sure="1"))
    assert "Noted: done." in words
    told = Message.objects.filter(kind=Message.Kind.NOTICE, about=f"booking:{booking.pk}")
    assert {one.person for one in told} == {site.planner, site.supervisor}
    assert all("reported done" in one.body and "before its day (Tue 14 Apr" in one.body for one in told)


def test_on_its_day_one_press_is_enough(site: Site, phone: Client, link: str, monday_morning: Any) -> None:
    booking = firm_plumber(site)
    monday_morning.shift(dt.timedelta(days=1))
    assert "At work or done before its time" not in text_of(phone.get(link))
    assert "Noted: you are at work here." in text_of(send(phone, link, booking, "begun"))
    assert "Noted: done." in text_of(send(phone, link, booking, "done"))
    assert not Message.objects.filter(body__contains="before its day").exists()


def test_an_open_hold_is_said_before_anything_is_recorded(
    site: Site, phone: Client, link: str, monday_morning: Any
) -> None:
    booking = site.pencil("plumb")
    monday_morning.shift(dt.timedelta(days=1))
    answer = send(phone, link, booking, "begun")
    words = text_of(answer)
    assert f"Hold point not released: Pockets. Stop and ring {site.supervisor.name}" in words
    assert "No, go back: nothing is recorded" in words
    assert not Nonconformity.objects.exists()
    answer = send(phone, link, booking, "begun", sure="1")
    assert 'role="alert"' in answer.content.decode()
    assert "message--error" in answer.content.decode()
    assert Nonconformity.objects.get().visit == booking.visit


@pytest.mark.parametrize("verb", ["begun", "done"])
def test_a_mistake_is_taken_back_and_all_stands_as_before(
    site: Site, phone: Client, link: str, verb: str
) -> None:
    booking = firm_plumber(site)
    before = standing(booking)
    words = text_of(send(phone, link, booking, verb, sure="1"))
    assert "That was a mistake: take it back" in words
    diary = Change.objects.count()
    words = text_of(send(phone, link, booking, "mistake"))
    assert "Taken back: the visit stands as before." in words
    assert standing(booking) == before
    assert "That was a mistake" not in text_of(phone.get(link))
    # Added to the diary, nothing taken out of it.
    assert Change.objects.count() > diary
    assert Change.objects.filter(what="taken back", about=f"booking:{booking.pk}", crew=booking.crew).exists()
    told = Message.objects.filter(kind=Message.Kind.NOTICE, body__contains="reported it by mistake")
    assert {one.person for one in told} == {site.planner, site.supervisor}
    assert "can no longer be taken back here" in text_of(send(phone, link, booking, "mistake"))


def test_done_then_at_work_are_taken_back_one_after_the_other(site: Site, phone: Client, link: str) -> None:
    booking = firm_plumber(site)
    before = standing(booking)
    send(phone, link, booking, "begun", sure="1")
    at_work = standing(booking)
    send(phone, link, booking, "done", sure="1")
    send(phone, link, booking, "mistake")
    assert standing(booking) == at_work
    send(phone, link, booking, "mistake")
    assert standing(booking) == before


def test_a_mistake_is_not_taken_back_late_or_after_somebody_acted(
    site: Site, phone: Client, link: str, monday_morning: Any
) -> None:
    booking = firm_plumber(site)
    send(phone, link, booking, "begun", sure="1")
    at_work = standing(booking)
    reopen(site.point("H3"), [site.place("bed").pk], "A pocket was opened", by=site.supervisor)
    assert "That was a mistake" not in text_of(phone.get(link))
    assert "can no longer be taken back here" in text_of(send(phone, link, booking, "mistake"))
    send(phone, link, booking, "done", sure="1")
    monday_morning.shift(dt.timedelta(hours=3))
    assert "can no longer be taken back here" in text_of(send(phone, link, booking, "mistake"))
    assert standing(booking)[0] == "done"
    assert at_work[0] == "under way"


def test_gone_past_by_mistake_stays_on_the_record_until_somebody_decides(
    site: Site, phone: Client, link: str
) -> None:
    booking = site.pencil("plumb")
    before = standing(booking)
    send(phone, link, booking, "begun", sure="1")
    send(phone, link, booking, "mistake")
    assert standing(booking) == before
    assert Nonconformity.objects.get().state == Nonconformity.State.RAISED
    kinds = list(RecordEntry.objects.filter(house=site.house).order_by("n").values_list("kind", flat=True))
    assert kinds.index("went past") < kinds.index("report taken back")


def test_another_crew_takes_nothing_back(site: Site, phone: Client, link: str) -> None:
    booking = firm_plumber(site)
    send(phone, link, booking, "begun", sure="1")
    stranger = page_of(site.crews["installer"])
    assert phone.post(path_of(stranger, booking, "mistake")).status_code == 404
    assert standing(booking)[0] == "under way"


def test_the_answer_stands_in_the_card_of_its_visit_and_once(site: Site, phone: Client, link: str) -> None:
    booking = site.pencil("plumb")
    page = send(phone, link, booking, "confirm").content.decode()
    card = re.search(rf'<article [^>]*id="visit-{booking.pk}".*?</article>', page, re.S)
    assert card is not None
    assert f'id="answer-{booking.pk}" tabindex="-1" role="status"' in card.group()
    assert page.count("Thank you: confirmed.") == card.group().count("Thank you: confirmed.") == 1
    assert "Thank you: confirmed." not in text_of(phone.get(link))


def test_a_visit_far_ahead_has_a_page_with_everything(
    site: Site, phone: Client, link: str, monday_morning: Any
) -> None:
    booking = site.pencil("plumb")
    monday_morning.shift(dt.timedelta(days=-30))
    page = phone.get(link)
    assert "Pipes off the chords" not in text_of(page)
    address = f"{link}visit/{booking.pk}/"
    assert f'href="{address}"' in page.content.decode()
    words = text_of(phone.get(address))
    assert "Pipes off the chords" in words
    assert "Licensed work. Hot pipes: lagged before the batt." in words
    assert phone.get(f"{link}visit/{site.booking('batts').pk}/").status_code == 404


def test_ready_is_refused_while_rework_stands_open_and_names_it(site: Site, phone: Client, link: str) -> None:
    site.find(site.check("pipe-off", "bath"), "not met", note="On the chord", photo=True)
    finding = Nonconformity.objects.get()
    booking = bookings.report_under_way(site.booking("plumb"), crew=site.crews["plumber"])
    words = text_of(send(phone, link, booking, "ready"))
    assert "Not called: still to be put right: Bath" in words
    booking.refresh_from_db()
    assert booking.ready_at is None
    send(phone, link, booking, "put-right", finding=str(finding.pk))
    assert "Called ready for the walk" in text_of(send(phone, link, booking, "ready", note="Keys in the box"))
    told = Message.objects.get(kind=Message.Kind.CALL, subject__contains="Services and air seal")
    assert told.body.endswith("says that it is ready. Keys in the box")
