"""How a crew is told, and its choice to do without reminders.

How a mail program asks is said by RFC 2369 and by RFC 8058, sections 3 and 4 (from memory): both lines in the
head, an address of https, `List-Unsubscribe=One-Click` in the body, nothing by GET, no cookies.
"""

import datetime as dt
import email
from typing import Any

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.links import revoke_links
from coordination.people.models import Crew, CrewLink, Engagement
from coordination.reminders.tasks import put_and_send
from coordination.sequence import bookings
from tests.hold_points.houses import Site, make_site
from tests.planner.conftest import text_of
from tests.visits.conftest import page_of
from tests.visits.test_page import everything

pytestmark = pytest.mark.django_db

ONE_CLICK = {"List-Unsubscribe": "One-Click"}


@pytest.fixture
def afternoon(site: Site, monday_morning: Any, settings: Any) -> Site:
    """Monday, one minute past the hour of the day's mail; the plumber comes tomorrow and knows it."""
    settings.COORDINATION_SITE_URL = "https://board.example"
    site.pencil("plumb")
    put_and_send()
    Message.objects.filter(sent_at=None).update(superseded_at=site.booking("plumb").made_at)
    mail.outbox.clear()
    monday_morning.shift(dt.timedelta(hours=8, minutes=31))
    return site


def mails_to(crew: Crew) -> list[Any]:
    assert crew.contact is not None
    return [one for one in mail.outbox if one.to == [crew.contact.email]]


def stop_address(sent: Any) -> str:
    """The path that the head names, as it leaves."""
    head = email.message_from_bytes(sent.message().as_bytes())["List-Unsubscribe"].strip()
    assert head.startswith("<https://board.example/v/")
    assert head.endswith(">")
    return str(head[1:-1].removeprefix("https://board.example"))


def test_the_page_says_where_when_and_whom_to_ring(site: Site, phone: Client, link: str) -> None:
    site.builder.phone = "03 5550 0144"
    site.builder.digest_at = dt.time(14, 5)
    site.builder.save()
    other = make_site("lot-9", "bluegum")
    Engagement.objects.create(builder=other.builder, company=site.crews["plumber"].company)
    assert f'href="{link}told/"' in phone.get(link).content.decode()
    words = text_of(phone.get(f"{link}told/"))
    contact = site.crews["plumber"].contact
    assert contact is not None
    assert f"By e-mail to {contact.name}, {contact.email} ." in words
    assert "The day's mail: 14:05 on working days. Quiet from 18:00 to 6:30" in words
    assert "Ring 03 5550 0144" in words
    assert "Bluegum The day's mail: 15:30" in words
    assert "within 2 working days" in words
    assert "within 12 hours" in words
    Crew.objects.update(contact=None)
    assert "Nobody is named to be told." in text_of(phone.get(f"{link}told/"))


def test_a_crew_that_stops_reminders_gets_none_and_still_hears_what_changes(
    afternoon: Site, phone: Client, link: str, monday_morning: Any
) -> None:
    crew = afternoon.crews["plumber"]
    shown = phone.post(f"{link}told/reminders/", {"wanted": "no"}, follow=True)
    assert "No more reminders by e-mail." in text_of(shown)
    assert "Send me reminders again" in text_of(shown)
    put_and_send()
    assert mails_to(crew) == []
    assert not Message.objects.filter(crew=crew, kind="eve").exists()
    bookings.stand_down(afternoon.booking("plumb"), "the slab is late", afternoon.planner)
    put_and_send()
    [sent] = mails_to(crew)
    assert "stood down" in sent.subject
    assert "List-Unsubscribe" not in sent.extra_headers
    crew.refresh_from_db()
    [notice] = [
        one for one in mail.outbox if one.to == [afternoon.planner.email] and "Reminders" in one.subject
    ]
    assert "wants no reminders by e-mail" in notice.body
    assert reverse("planner:crew", args=[crew.pk]) in notice.body


def test_a_reminder_that_was_written_already_is_left_out_and_a_change_in_the_same_mail_is_not(
    afternoon: Site, phone: Client, link: str, monkeypatch: Any
) -> None:
    crew = afternoon.crews["plumber"]
    put(
        builder=afternoon.builder,
        to=crew,
        kind=Message.Kind.CHANGE,
        about="booking-less:1",
        version="1",
        subject="A day moved",
        body="It moved.",
    )
    monkeypatch.setattr("coordination.reminders.sending.send_digests", lambda: 0)
    put_and_send()
    assert Message.objects.filter(kind="eve", digest__isnull=False, sent_at=None).count() == 1
    monkeypatch.undo()
    phone.post(f"{link}told/reminders/", {"wanted": "no"})
    put_and_send()
    [sent] = mails_to(crew)
    assert sent.subject == "A day moved"
    assert "List-Unsubscribe" not in sent.extra_headers
    phone.post(f"{link}told/reminders/", {"wanted": "yes"})
    crew.refresh_from_db()
    assert crew.tells == Crew.Tells.MAIL


def test_a_mail_program_stops_reminders_by_one_click_without_cookies_or_form_token(afternoon: Site) -> None:
    crew = afternoon.crews["plumber"]
    put_and_send()
    [sent] = mails_to(crew)
    message = email.message_from_bytes(sent.message().as_bytes())
    assert message["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    address = stop_address(sent)
    assert f"https://board.example{address.removesuffix('stop/')}" in sent.body
    program = Client(enforce_csrf_checks=True)
    for _twice in range(2):
        assert program.post(address, ONE_CLICK).status_code == 200
    crew.refresh_from_db()
    assert crew.tells == Crew.Tells.CALENDAR
    assert Message.objects.filter(about=f"crew:{crew.pk}").count() == 1, "told once"


def test_opening_the_address_or_another_post_stops_nothing(afternoon: Site, phone: Client) -> None:
    put_and_send()
    address = stop_address(mails_to(afternoon.crews["plumber"])[0])
    phone.get(address)  # notes when the link was last used
    before = everything()
    page = address.removesuffix("stop/")
    for answer in (
        phone.get(address),
        phone.head(address),
        phone.post(address),
        phone.post(address, {"a": "b"}),
    ):
        assert answer.status_code == 302
        assert answer.headers["Location"] == page
    assert phone.get(f"{page}reminders/").status_code == 405
    assert everything() == before
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(f"{page}reminders/", {"wanted": "no"}).status_code == 403, "the page's own form asks"


def test_without_https_the_mail_leads_to_the_page_and_offers_no_one_click(
    afternoon: Site, settings: Any
) -> None:
    settings.COORDINATION_SITE_URL = "http://127.0.0.1:8000"
    put_and_send()
    [sent] = mails_to(afternoon.crews["plumber"])
    assert sent.extra_headers["List-Unsubscribe"].startswith("<http://127.0.0.1:8000/v/")
    assert "List-Unsubscribe-Post" not in sent.extra_headers


def test_a_link_that_is_unknown_or_revoked_stops_nothing(site: Site, phone: Client) -> None:
    crew = site.crews["plumber"]
    link = page_of(crew)
    revoke_links(crew, CrewLink.Kind.PAGE)
    for before in (link, "/v/never-made/"):
        assert phone.get(f"{before}told/").status_code == 404
        assert phone.post(f"{before}told/reminders/", {"wanted": "no"}).status_code == 404
        assert phone.post(f"{before}told/stop/", ONE_CLICK).status_code == 404
    crew.refresh_from_db()
    assert crew.tells == Crew.Tells.MAIL
