"""From a house set out and pencilled to one mail: put, gathered and sent once by the real worker."""

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.core import mail

from coordination import clock
from coordination.celery_app import tick
from coordination.outbox.models import Digest, Message
from coordination.reminders import digest, planning, sending
from coordination.reminders.tasks import put_and_send
from coordination.sequence import bookings, progress
from tests.hold_points.houses import Site, make_site
from tests.waiting import wait_until

pytestmark = pytest.mark.django_db(transaction=True)

HOBART = ZoneInfo("Australia/Hobart")
MONDAY = dt.datetime(2026, 4, 13, 8, tzinfo=HOBART)
"""The house starts today; the plumber comes on Tuesday."""


@pytest.fixture
def days() -> Any:
    with time_machine.travel(MONDAY, tick=True) as traveller:
        yield traveller


@pytest.fixture
def site(transactional_db: None, days: Any, settings: Any, tmp_path: Any) -> Site:
    """Set out today, and the plumber pencilled and told so."""
    settings.MEDIA_ROOT = tmp_path
    made = make_site()
    made.pencil("plumb")
    put_and_send()
    # The change itself went out at once or waits for the digest; only reminders matter below.
    Message.objects.filter(sent_at=None).update(superseded_at=clock.now())
    mail.outbox.clear()
    return made


def rings_of(worker: Any) -> int:
    """How often the worker took the task that a tick rings for."""
    return int(worker.state.total_count.get("reminders.put_and_send", 0))


def mails_to(site: Site, trade: str) -> list[Any]:
    contact = site.crews[trade].contact
    assert contact is not None
    return [one for one in mail.outbox if one.to == [contact.email]]


def test_the_eve_is_sent_once_by_the_worker_after_two_ticks(
    site: Site, days: Any, celery_worker: Any
) -> None:
    before = rings_of(celery_worker)
    days.move_to(MONDAY.replace(hour=15, minute=31))
    tick.delay()
    wait_until("the digest was sent", lambda: Digest.objects.filter(sent_at__isnull=False).exists())
    rows = Message.objects.count(), Digest.objects.count()
    tick.delay()
    wait_until("the second ring was taken", lambda: rings_of(celery_worker) == before + 2)
    wait_until("the second ring was answered", lambda: not celery_worker.state.active_requests)
    assert (Message.objects.count(), Digest.objects.count()) == rows
    [sent] = mails_to(site, "plumber")
    assert sent.subject == f"{site.builder.name}, {site.house.name}: Plumbing rough-in, Tue 14 Apr, morning"
    # The earliest walk of the visit, and of its details there the one that is buried first.
    assert "Wed 15 Apr, morning; then buried Wed 15 Apr by: Batts." in sent.body
    assert "/v/" in sent.body
    message = Message.objects.get(kind=Message.Kind.EVE)
    assert message.sent_at is not None
    assert message.digest == Digest.objects.get(crew=site.crews["plumber"])


def test_nothing_is_said_before_its_hour_and_two_ticks_double_nothing(site: Site, days: Any) -> None:
    days.move_to(MONDAY.replace(hour=15, minute=29))
    put_and_send()
    assert mail.outbox == []
    days.move_to(MONDAY.replace(hour=15, minute=31))
    put_and_send()
    put_and_send()
    assert len(mails_to(site, "plumber")) == 1
    days.move_to(MONDAY.replace(hour=16, minute=31))
    put_and_send()
    assert len(mails_to(site, "plumber")) == 1
    assert Digest.objects.filter(crew=site.crews["plumber"]).count() == 1


def test_the_link_in_the_mail_opens_the_crews_page(site: Site, days: Any, client: Any) -> None:
    days.move_to(MONDAY.replace(hour=15, minute=31))
    put_and_send()
    [sent] = mails_to(site, "plumber")
    path = next(word for word in sent.body.split() if "/v/" in word).split("/v/", 1)[1]
    page = client.get(f"/v/{path}")
    assert page.status_code == 200
    assert site.house.name in page.content.decode()


def test_a_booking_moved_after_the_message_was_written_is_not_spoken_of(site: Site, days: Any) -> None:
    """Written on Monday afternoon, moved by the planner before the worker came to send it."""
    days.move_to(MONDAY.replace(hour=15, minute=31))
    assert planning.put_due_messages(site.builder) >= 1
    digest.make_digests(site.builder)
    booking = site.booking("plumb")
    eve = Message.objects.get(kind=Message.Kind.EVE, about=f"booking:{booking.pk}")
    assert booking.told_start is not None
    bookings.pencil(booking, booking.told_start + 4, by=site.planner, why="the pump is late")
    sending.send_single_messages()
    sending.send_digests()
    eve.refresh_from_db()
    assert eve.sent_at is None
    assert eve.superseded_at is not None
    for sent in mails_to(site, "plumber"):
        assert "Tue 14 Apr, morning, " not in sent.body
        assert "Thu 16 Apr" in sent.body


def test_a_crew_that_is_done_hears_nothing_more(site: Site, days: Any) -> None:
    days.move_to(MONDAY.replace(hour=14))
    bookings.report_done(site.booking("plumb"), crew=site.crews["plumber"])
    days.move_to(MONDAY.replace(hour=15, minute=31))
    put_and_send()
    assert mails_to(site, "plumber") == []


def test_a_delay_that_moves_the_visit_says_the_new_date_and_no_eve_of_the_old(site: Site, days: Any) -> None:
    site.builder.freeze_days = 0
    site.builder.save()
    progress.add_delay(site.house.activities.get(key="pockets"), 6, "the mortar was missing", by=site.planner)
    days.move_to(MONDAY.replace(hour=15, minute=31))
    put_and_send()
    bodies = [sent.body for sent in mails_to(site, "plumber")]
    assert bodies
    assert all("Fri 17 Apr" in body for body in bodies)
    assert not Message.objects.filter(kind=Message.Kind.EVE, sent_at__isnull=False).exists()


def test_thursdays_look_ahead_names_the_coming_visits_of_one_crew(site: Site, days: Any) -> None:
    days.move_to(MONDAY.replace(day=16, hour=15, minute=29))
    booking = site.booking("linings")
    start = clock.as_half_day(dt.date(2026, 4, 27))
    bookings.pencil(booking, start, by=site.planner)
    Message.objects.filter(crew=booking.crew, sent_at=None).update(superseded_at=clock.now())
    days.move_to(MONDAY.replace(day=16, hour=15, minute=31))
    put_and_send()
    [sent] = mails_to(site, "plasterer")
    assert "1 visit in the coming two weeks" in sent.subject
    assert "Mon 27 Apr, morning: " in sent.body
    assert mails_to(site, "installer") == []
