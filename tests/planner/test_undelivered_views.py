"""Messages that did not go out: seen by the planner, sent again once, rung; nobody else's business."""

import datetime as dt
from typing import Any

import pytest
from django.core import mail
from django.test import Client

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.models import Crew, Person
from coordination.reminders import digest, sending
from coordination.reminders.channels import CHANNELS
from coordination.reminders.undelivered import list_undelivered, say_why
from coordination.sequence.models import House
from tests.planner.conftest import text_of
from tests.sequence.brick_veneer import Office

pytestmark = pytest.mark.django_db

PAGE = "/messages/"


class Away:
    """A mail server that answers nobody."""

    def send(self, envelope: Any) -> None:
        raise ConnectionRefusedError("no mail server")


@pytest.fixture
def crew(office: Office) -> Crew:
    crew = office.crew("plumber", "Wattle Pipes")
    crew.contact = Person.objects.create_user("pip@example.test", name="Pip Teasel", phone="03 5550 0117")
    crew.save()
    Message.objects.all().delete()
    return crew


def tell(office: Office, to: Crew | Person, about: str, **more: Any) -> Message:
    message = put(
        builder=office.builder,
        to=to,
        kind=more.pop("kind", Message.Kind.NOTICE if isinstance(to, Person) else Message.Kind.CHANGE),
        about=about,
        version="1",
        subject=f"About {about}",
        body=f"Text of {about}.",
        **more,
    )
    assert message is not None
    return message


@pytest.fixture
def failed(office: Office, crew: Crew, monday_morning: Any, monkeypatch: Any) -> dict[str, Message]:
    """A stand-down, a digest of two, and two notices to the planner: the mail server is away."""
    monday_morning.shift(dt.timedelta(hours=9))
    told = {
        "urgent": tell(office, crew, "stand-down", urgent=True),
        "one": tell(office, crew, "one"),
        "two": tell(office, crew, "two"),
        "notice": tell(office, office.planner, "notice"),
        "other": tell(office, office.planner, "other notice"),
    }
    digest.make_digests(office.builder)
    with monkeypatch.context() as away:
        away.setitem(CHANNELS, "mail", Away())
        assert sending.send_single_messages() + sending.send_digests() == 0
    return told


def test_the_planner_sees_what_did_not_go_out_to_whom_why_and_whom_to_ring(
    planner: Client, failed: dict[str, Message]
) -> None:
    assert "5 messages did not go out. See to whom" in text_of(planner.get("/"))
    page = planner.get(PAGE)
    words = text_of(page)
    assert "5 messages did not go out" in words
    assert words.count("Send again") == 1 + 3, "a mail has one button, whatever it carries"
    assert "Pip Teasel Ring 03 5550 0117 Urgent. About stand-down The mail server did not answer." in words
    assert 'href="tel:0355500117"' in page.content.decode()
    assert "About one About two" in words
    assert "Mon 13 Apr, 16:00 tried 1 time, again Mon 13 Apr, 16:10" in words


def test_nothing_is_said_while_all_goes_out(planner: Client, office: Office, crew: Crew) -> None:
    tell(office, crew, "waits for the digest")
    assert "did not go out" not in text_of(planner.get("/"))
    assert "Everything went out" in text_of(planner.get(PAGE))


def test_pressing_send_again_twice_sends_once_and_clears_the_page(
    planner: Client, office: Office, failed: dict[str, Message]
) -> None:
    assert sending.send_single_messages() + sending.send_digests() == 0, "their lease still runs"
    buttons = [f"{PAGE}{one.kind}/{one.number}/again/" for one in list_undelivered([office.builder])]
    assert len(buttons) == 3
    for button in buttons * 2:
        assert planner.get(button).status_code == 405
        assert planner.post(button).status_code == 302
    assert "waits to be sent" in text_of(planner.get(PAGE))
    assert sending.send_single_messages() + sending.send_digests() == 4
    assert sorted(one.subject for one in mail.outbox) == sorted(
        [
            "About stand-down",
            f"{office.builder.name}: 2 things for Mon 13 Apr and after",
            f"{office.builder.name}, 2 things: About notice, and more",
        ]
    )
    assert "Everything went out" in text_of(planner.get(PAGE))
    for button in buttons:
        assert planner.post(button, follow=True).status_code == 200
    assert sending.send_single_messages() + sending.send_digests() == 0
    assert len(mail.outbox) == 3


def test_what_a_worker_has_in_hand_is_not_given_to_another(
    planner: Client, office: Office, failed: dict[str, Message], monday_morning: Any
) -> None:
    """It failed once, and is being sent for the second time just now."""
    message = failed["urgent"]
    monday_morning.shift(sending.LEASE + dt.timedelta(seconds=1))
    assert sending._claim(Message.objects.filter(pk=message.pk), "a worker")
    answer = planner.post(f"{PAGE}message/{message.pk}/again/", follow=True)
    assert "is being sent just now" in text_of(answer)
    assert sending.send_single_messages() == 2, "only the notices, whose lease has run out"
    assert [one.to for one in mail.outbox] == [[office.planner.email]]


def test_all_are_sent_again_when_the_mail_server_is_back(planner: Client, failed: dict[str, Message]) -> None:
    assert "3 mails are being sent again." in text_of(planner.post(f"{PAGE}again/", follow=True))
    assert sending.send_single_messages() + sending.send_digests() == 4


def test_what_was_told_by_phone_leaves_the_list_is_sent_no_more_and_says_who_rang(
    planner: Client, office: Office, failed: dict[str, Message], monday_morning: Any
) -> None:
    mails = list_undelivered([office.builder])
    monday_morning.shift(sending.LEASE + dt.timedelta(seconds=1))
    for one in mails:
        button = f"{PAGE}{one.kind}/{one.number}/rung/"
        assert planner.get(button).status_code == 405
        assert "Noted: told by phone" in text_of(planner.post(button, follow=True))
        assert "It was sent meanwhile" in text_of(planner.post(button, follow=True)), "once"
    assert sending.send_single_messages() + sending.send_digests() == 0
    words = text_of(planner.get(PAGE))
    assert "Everything went out" in words
    assert f"Wattle Pipes: About stand-down · {office.planner.name} rang, Mon 13 Apr, 16:10" in words
    assert words.count(f"{office.planner.name} rang") == 5
    for told in failed.values():
        told.refresh_from_db()
        assert told.sent_at == clock.now()
        assert told.facts["rung"]["by"] == office.planner.pk
        assert told.superseded_at is None, "what follows it is said to somebody who has heard it"
    assert failed["urgent"].last_error, "why it did not go out stays"
    monday_morning.shift(dt.timedelta(days=15))
    assert "rang" not in text_of(planner.get(PAGE)).split("Seen from here")[0]


def test_what_a_worker_has_in_hand_is_not_noted_as_told_by_phone(
    planner: Client, failed: dict[str, Message], monday_morning: Any
) -> None:
    monday_morning.shift(sending.LEASE + dt.timedelta(seconds=1))
    assert sending._claim(Message.objects.filter(pk=failed["urgent"].pk), "a worker")
    answer = planner.post(f"{PAGE}message/{failed['urgent'].pk}/rung/", follow=True)
    assert "is being sent just now" in text_of(answer)
    failed["urgent"].refresh_from_db()
    assert failed["urgent"].sent_at is None


def test_the_week_says_too_how_much_did_not_go_out_to_whoever_plans(
    planner: Client, supervisor: Client, house: House, failed: dict[str, Message]
) -> None:
    assert "5 messages did not go out. See to whom" in text_of(planner.get("/week/"))
    assert "did not go out" not in text_of(supervisor.get("/week/"))


def test_a_crew_without_an_address_is_named_with_the_remedy(
    planner: Client, office: Office, crew: Crew
) -> None:
    crew.contact = None
    crew.save()
    crew.company.phone = "03 5550 0100"
    crew.company.save()
    tell(office, crew, "stand-down", urgent=True)
    sending.send_single_messages()
    words = text_of(planner.get(PAGE))
    assert f"{crew.name} Ring 03 5550 0100" in words
    assert "has no e-mail address: enter the person on the tools." in words


def test_other_roles_and_other_builders_see_and_send_nothing(
    supervisor: Client,
    contact: Client,
    stranger: Client,
    client: Client,
    office: Office,
    failed: dict[str, Message],
) -> None:
    [first, *_rest] = list_undelivered([office.builder])
    button = f"{PAGE}{first.kind}/{first.number}/again/"
    rang = button.replace("again", "rung")
    assert stranger.post(rang).status_code == 404
    assert stranger.post(f"{PAGE}letter/{first.number}/rung/").status_code == 404
    for who in (supervisor, contact):
        assert who.get(PAGE).status_code == 403
        assert who.post(button).status_code == 403
        assert who.post(f"{PAGE}again/").status_code == 403
        assert who.post(rang).status_code == 403
    assert "did not go out" not in text_of(supervisor.get("/"))
    assert "Everything went out" in text_of(stranger.get(PAGE))
    assert stranger.post(button).status_code == 404
    assert "0 mails" in text_of(stranger.post(f"{PAGE}again/", follow=True))
    assert stranger.post(f"{PAGE}letter/{first.number}/again/").status_code == 404
    assert "/sign-in/" in client.get(PAGE).headers["Location"]
    assert all(one.next_try is not None for one in list_undelivered([office.builder]))


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ("", "cut off"),
        ("gaierror: [Errno -2] Name or service not known", "did not answer"),
        ("SMTPRecipientsRefused: {'x@y': (550, b'no')}", "does not take this address"),
        ("SMTPAuthenticationError: (535, b'no')", "refused our sign-in"),
        ("SMTPDataError: (554, b'spam')", "refused the mail"),
        ("TemplateDoesNotExist: x", "could not be made"),
    ],
)
def test_a_reason_is_told_in_words_of_the_office(said: str, why: str) -> None:
    assert why in say_why(said)
