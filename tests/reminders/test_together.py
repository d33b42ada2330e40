"""What a person of the office gets at the same moment comes in one mail for each builder; crews and what is
urgent are not held up by that.

One mail for what comes together, what is urgent at once, nothing else in the quiet hours: common practice (no
source).
"""

import datetime as dt

import pytest
from django.core import mail

from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.reminders import sending
from coordination.reminders.channels import CHANNELS
from hold_points.calling import call_ready
from tests.hold_points.conftest import site
from tests.hold_points.houses import make_site

__all__ = ["site"]


def notify(site, about, person=None, **more) -> Message:
    subject = more.pop("subject", f"About {about}")
    message = put(
        builder=more.pop("builder", site.builder),
        to=person or site.planner,
        kind=more.pop("kind", Message.Kind.NOTICE),
        about=about,
        version="1",
        subject=subject,
        body=f"Text of {about}.",
        facts={"house": site.house.pk},
        **more,
    )
    assert message is not None
    return message


def mails_to(person):
    return [one for one in mail.outbox if one.to == [person.email]]


@pytest.fixture
def evening(site, monday_morning):
    """Monday at half past seven in the evening: the quiet hours have begun."""
    Message.objects.all().delete()
    monday_morning.shift(dt.timedelta(hours=12, minutes=30))
    return site


def test_crews_that_call_their_walks_in_the_evening_are_one_mail_in_the_morning(evening, monday_morning):
    call_ready(evening.visit("pockets").pk, evening.booking("pockets").crew)
    call_ready(evening.visit("plumb").pk, evening.booking("plumb").crew, "all lagged")
    call_ready(evening.visit("batts").pk, evening.booking("batts").crew)
    calls = Message.objects.filter(kind="call", recipient=f"person:{evening.supervisor.pk}")
    assert calls.count() >= 4
    assert sending.send_single_messages() == 0
    monday_morning.shift(dt.timedelta(hours=11, minutes=30))
    assert sending.send_single_messages() == calls.count()
    [sent] = mails_to(evening.supervisor)
    assert "all lagged" in sent.body
    html = sent.alternatives[0][0]
    for call in calls:
        assert sent.body.count(f"* {call.subject}\n") == 1, "one heading for a walk, whoever called it"
        page = f"/walks/{call.facts['inspection']}/"
        assert page in sent.body
        assert page in html
    assert not calls.filter(sent_at=None).exists()
    assert sending.send_single_messages() == 0


def test_what_is_urgent_is_kept_or_comes_from_another_builder_goes_by_itself(evening, monday_morning):
    monday_morning.shift(dt.timedelta(hours=12))
    other = make_site("lot-9", "wombat")
    Message.objects.all().delete()
    notify(evening, "house:1", subject="One")
    notify(evening, "house:2", subject="Two")
    notify(evening, "house:3", subject="Urgent", urgent=True)
    notify(evening, "seal:4", subject="Seal")
    notify(evening, "house:5", subject="Elsewhere", builder=other.builder)
    notify(evening, "house:6", subject="Other person", person=evening.supervisor)
    assert sending.send_single_messages() == 6
    assert sorted(one.subject for one in mails_to(evening.planner)) == [
        "Elsewhere",
        "Saltbush, 2 things: One, and more",
        "Seal",
        "Urgent",
    ]
    assert [one.subject for one in mails_to(evening.supervisor)] == ["Other person"]


def test_work_to_put_right_still_comes_to_a_crew_in_a_mail_each(evening, monday_morning):
    """It carries its own drawing and is superseded by itself."""
    monday_morning.shift(dt.timedelta(hours=12))
    crew = evening.booking("plumb").crew
    for number in (1, 2):
        notify(evening, f"nonconformity:{number}", person=crew, kind=Message.Kind.REWORK)
    assert sending.send_single_messages() == 2
    assert len(mails_to(crew.contact)) == 2


def test_after_a_failure_the_same_go_together_again_under_the_same_id(evening, monday_morning, monkeypatch):
    monday_morning.shift(dt.timedelta(hours=12))
    first, second = notify(evening, "house:1"), notify(evening, "house:2")
    ids = []

    class LosesTheAnswer:
        def send(self, envelope):
            ids.append((envelope.message_id, envelope.text))
            raise ConnectionResetError("the answer was lost")

    with monkeypatch.context() as away:
        away.setitem(CHANNELS, "mail", LosesTheAnswer())
        assert sending.send_single_messages() == 0
    late = notify(evening, "house:3")
    assert sending.send_single_messages() == 1, "what came since does not wait for the lease"
    monday_morning.shift(sending.LEASE + dt.timedelta(seconds=1))
    assert sending.send_single_messages() == 2
    assert [one.subject for one in mails_to(evening.planner)] == [
        late.subject,
        "Saltbush, 2 things: About house:1, and more",
    ]
    again = mails_to(evening.planner)[1]
    [(message_id, text)] = ids
    assert (again.extra_headers["Message-ID"], again.body) == (f"<{message_id}>", text)
    assert message_id.startswith(f"message-{first.pk}@")
    second.refresh_from_db()
    assert (second.attempts, second.last_error) == (2, "")


def test_what_is_no_longer_true_is_left_out_of_the_mail_and_the_rest_keeps_its_id(
    evening, monday_morning, monkeypatch
):
    monday_morning.shift(dt.timedelta(hours=12))
    first, second, third = (notify(evening, f"house:{number}") for number in range(3))

    class Away:
        def send(self, envelope):
            raise ConnectionRefusedError("no mail server")

    with monkeypatch.context() as away:
        away.setitem(CHANNELS, "mail", Away())
        sending.send_single_messages()
    Message.objects.filter(pk=first.pk).update(superseded_at=second.created_at)
    monday_morning.shift(sending.LEASE + dt.timedelta(seconds=1))
    assert sending.send_single_messages() == 2
    [sent] = mails_to(evening.planner)
    assert first.body not in sent.body
    assert second.body in sent.body
    assert third.body in sent.body
    assert sent.extra_headers["Message-ID"].startswith(f"<message-{first.pk}@")
