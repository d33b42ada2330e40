"""Each message has its effect once: digests, urgent ones, two senders at the same moment, failures."""

import datetime as dt
import re
import threading
from contextlib import contextmanager
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.core import mail
from django.db import connection, transaction
from django.urls import reverse

from coordination import clock
from coordination.outbox.models import Digest, Message
from coordination.outbox.put import put, supersede
from coordination.people.models import Builder, Company, Crew, Person, Trade, WorkingCalendar
from coordination.reminders import digest, sending
from coordination.reminders.channels import CHANNELS
from tests.crashes.faults import InjectedFault
from tests.waiting import PATIENCE, wait_for_end

HOBART = ZoneInfo("Australia/Hobart")
THURSDAY = dt.datetime(2026, 3, 12, 15, 29, 50, tzinfo=HOBART)


@pytest.fixture
def builder(db):
    return Builder.objects.create(name="Quoll Homes", slug="quoll")


@pytest.fixture
def crew(db):
    calendar = WorkingCalendar.objects.create(key="five-days", name="Five days")
    return Crew.objects.create(
        company=Company.objects.create(name="Pipes"),
        trade=Trade.objects.get_or_create(key="plumber", defaults={"name": "plumber"})[0],
        name="Pipes 1",
        calendar=calendar,
        contact=Person.objects.create_user("pip@example.test", name="Pip"),
    )


def tell(builder, crew, about="booking-less:1", version="1", **changes):
    with transaction.atomic():
        return put(
            builder=builder,
            to=crew,
            about=about,
            version=version,
            **(
                {"kind": Message.Kind.VISIT, "subject": f"About {about}", "body": f"Text of {about}"}
                | changes
            ),
        )


def test_a_message_outside_its_cause_is_refused(transactional_db, builder, crew):
    with pytest.raises(transaction.TransactionManagementError):
        put(builder=builder, to=crew, kind=Message.Kind.VISIT, about="a", version="1", subject="s", body="b")


def test_the_same_fact_is_put_once(builder, crew):
    assert tell(builder, crew) is not None
    assert tell(builder, crew) is None
    assert tell(builder, crew, version="2") is not None
    assert Message.objects.count() == 2


def test_the_digest_waits_for_its_hour_and_gathers_everything(builder, crew):
    with time_machine.travel(THURSDAY, tick=False) as traveller:
        tell(builder, crew, about="one")
        tell(builder, crew, about="two")
        assert digest.make_digests(builder) == 0
        traveller.shift(10)
        assert digest.make_digests(builder) == 1
        assert sending.send_digests() == 1
        tell(builder, crew, about="three")
        assert digest.make_digests(builder) == 0, "one a day; the third waits for tomorrow"
        assert sending.send_digests() == 0
        traveller.shift(dt.timedelta(days=1))
        assert digest.make_digests(builder) == 1
        assert sending.send_digests() == 1
    assert len(mail.outbox) == 2
    assert "Text of one" in mail.outbox[0].body
    assert "Text of two" in mail.outbox[0].body
    assert mail.outbox[0].extra_headers["Message-ID"].startswith("<digest-")


def test_no_digest_leaves_on_a_day_without_work(builder, crew):
    saturday = dt.datetime(2026, 3, 14, 16, tzinfo=HOBART)
    with time_machine.travel(saturday, tick=False):
        tell(builder, crew)
        assert digest.make_digests(builder) == 0


def test_what_is_no_longer_true_is_not_sent(builder, crew):
    with time_machine.travel(THURSDAY + dt.timedelta(minutes=1), tick=False):
        tell(builder, crew, about="one")
        tell(builder, crew, about="two", facts={"booking": 999_999, "told_start": 1})
        supersede(about="one", kinds=(Message.Kind.VISIT,))
        digest.make_digests(builder)
        assert sending.send_digests() == 0
    assert mail.outbox == []
    assert not Message.objects.filter(superseded_at__isnull=True).exists()


def test_urgent_messages_leave_at_night_and_others_wait_for_morning(builder, crew):
    night = dt.datetime(2026, 3, 12, 23, tzinfo=HOBART)
    with time_machine.travel(night, tick=False) as traveller:
        tell(builder, crew, about="stop", kind=Message.Kind.STOP, urgent=True)
        tell(builder, crew, about="rework", kind=Message.Kind.REWORK)
        assert sending.send_single_messages() == 1
        traveller.shift(dt.timedelta(hours=8))
        assert sending.send_single_messages() == 1
        assert sending.send_single_messages() == 0
    assert [message.subject for message in mail.outbox] == ["About stop", "About rework"]


@pytest.mark.parametrize(
    ("start", "was", "wakes"),
    [
        # Eleven at night. The next morning is eight hours away; the afternoon after it thirteen and a half.
        (dt.datetime(2026, 3, 13, 7), None, True),
        (dt.datetime(2026, 3, 13, 13), None, False),
        (dt.datetime(2026, 3, 20, 7), dt.datetime(2026, 3, 13, 7), True),
        (dt.datetime(2026, 3, 20, 7), None, False),
    ],
)
def test_a_move_wakes_a_crew_only_when_a_start_is_within_twelve_hours(builder, crew, start, was, wakes):
    """Common practice: a crew that would drive before it reads is told at night; any other sleeps."""
    night = dt.datetime(2026, 3, 12, 23, tzinfo=HOBART)
    half_days = [clock.as_half_day(one.date()) + int(one.hour >= 12) for one in (start, was) if one]
    facts = {"bookings": {"999": {"told_start": half_days[0]}}, "was": half_days[1:]}
    with time_machine.travel(night, tick=False) as traveller:
        tell(builder, crew, kind=Message.Kind.CHANGE, urgent=True, facts=facts)
        assert sending.send_single_messages() == int(wakes)
        traveller.shift(dt.timedelta(hours=8))
        assert sending.send_single_messages() == int(not wakes), "then in the morning, not with the digest"


def test_a_mail_to_the_office_opens_what_it_speaks_of(builder):
    planner = Person.objects.create_user("pam@example.test", name="Pam")
    with time_machine.travel(THURSDAY, tick=False):
        for about, facts in (("inspection:12", {}), ("booking:5", {"house": 7}), ("seal:3", {})):
            tell(builder, planner, about=about, facts=facts, kind=Message.Kind.NOTICE)
            assert sending.send_single_messages() == 1
    pages = [urlsplit(re.findall(r"http\S+", str(sent.body))[0]).path for sent in mail.outbox]
    assert pages == [
        reverse("hold_points:walk", args=[12]),
        reverse("planner:house", args=[7]),
        "",
    ]


def test_a_failure_is_written_down_and_tried_again_after_the_lease(builder, crew, monkeypatch):
    class Broken:
        def send(self, envelope):
            raise ConnectionRefusedError("no mail server")

    monkeypatch.setitem(CHANNELS, "mail", Broken())
    with time_machine.travel(THURSDAY, tick=False) as traveller:
        message = tell(builder, crew, urgent=True)
        assert sending.send_single_messages() == 0
        message.refresh_from_db()
        assert "no mail server" in message.last_error
        monkeypatch.undo()
        assert sending.send_single_messages() == 0, "the lease still runs"
        traveller.shift(sending.LEASE + dt.timedelta(seconds=1))
        assert sending.send_single_messages() == 1
    message.refresh_from_db()
    assert message.attempts == 2
    assert message.last_error == ""


def test_a_mail_server_that_is_away_for_a_day_loses_nothing_and_is_asked_once_an_hour(
    builder, crew, monkeypatch
):
    tries = []

    class Away:
        def send(self, envelope):
            tries.append(clock.now())
            raise ConnectionRefusedError("no mail server")

    with time_machine.travel(THURSDAY, tick=False) as traveller:
        message = tell(builder, crew, urgent=True)
        with monkeypatch.context() as away:
            away.setitem(CHANNELS, "mail", Away())
            for _five_minutes in range(24 * 12):
                sending.send_single_messages()
                traveller.shift(dt.timedelta(minutes=5))
        assert len(tries) < 40
        traveller.shift(sending.LONG_LEASE)
        assert sending.send_single_messages() == 1
    message.refresh_from_db()
    assert message.sent_at is not None


def test_the_lease_of_a_row_begins_when_its_sending_does_not_with_the_batch(builder, crew, monkeypatch):
    """Each mail takes four minutes; while the third is sent, a second worker looks for free rows."""
    with time_machine.travel(THURSDAY, tick=False) as traveller:
        for number in range(3):
            tell(builder, crew, about=f"booking-less:{number}", urgent=True)
        found_free = []

        class Slow:
            def send(self, envelope):
                traveller.shift(dt.timedelta(minutes=4))
                found_free.append(Message.objects.filter(sending._free(clock.now())).count())

        monkeypatch.setitem(CHANNELS, "mail", Slow())
        assert sending.send_single_messages() == 3
    assert found_free == [2, 1, 0]


def test_a_digest_and_what_it_carries_are_marked_together(transactional_db, builder, crew):
    """The connection is lost after the digest was marked: then nothing is, and both go again."""
    with time_machine.travel(THURSDAY + dt.timedelta(minutes=1), tick=False) as traveller:
        message = tell(builder, crew)
        digest.make_digests(builder)
        with pytest.raises(InjectedFault), failing_after_the_mark_of_a_digest():
            sending.send_digests()
        message.refresh_from_db()
        assert (message.sent_at, Digest.objects.get().sent_at) == (None, None)
        traveller.shift(sending.LEASE + dt.timedelta(seconds=1))
        assert sending.send_digests() == 1
    message.refresh_from_db()
    assert message.sent_at == Digest.objects.get().sent_at is not None
    assert len({sent.extra_headers["Message-ID"] for sent in mail.outbox}) == 1


@contextmanager
def failing_after_the_mark_of_a_digest():
    """Fail at the first statement after the one that marks a digest as sent."""
    marked: list[str] = []

    def watch(execute, sql, params, many, context):
        if marked and not sql.startswith("ROLLBACK"):
            raise InjectedFault("the connection is lost")
        answer = execute(sql, params, many, context)
        if sql.startswith('UPDATE "outbox_digest" SET "sent_at"'):
            marked.append(sql)
        return answer

    with connection.execute_wrapper(watch):
        yield


def test_a_crew_without_an_address_is_named(builder, crew):
    crew.contact = None
    crew.save()
    message = tell(builder, crew, urgent=True)
    assert sending.send_single_messages() == 0
    message.refresh_from_db()
    assert "Pipes 1" in message.last_error


def send_twice_at_once(step):
    """Run a step in two threads that start together, each with a connection of its own."""
    barrier = threading.Barrier(2)
    results, errors = [], []

    def run():
        try:
            barrier.wait(timeout=PATIENCE)
            results.append(step())
        except Exception as error:  # noqa: BLE001 - shown by the caller
            errors.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=run) for _ in range(2)]
    for thread in threads:
        thread.start()
    wait_for_end(threads)
    assert errors == []
    return results


@pytest.mark.django_db(transaction=True)
def test_two_workers_make_one_digest_and_send_it_once(builder, crew):
    with time_machine.travel(THURSDAY + dt.timedelta(minutes=1), tick=False):
        for number in range(20):
            tell(builder, crew, about=f"thing {number}")
        assert sorted(send_twice_at_once(lambda: digest.make_digests(builder))) == [0, 1]
        assert sorted(send_twice_at_once(sending.send_digests)) == [0, 1]
    assert Digest.objects.count() == 1
    assert len(mail.outbox) == 1


@pytest.mark.django_db(transaction=True)
def test_two_workers_send_forty_urgent_messages_once_each(builder, crew):
    with time_machine.travel(THURSDAY, tick=False):
        for number in range(40):
            tell(builder, crew, about=f"thing {number}", urgent=True)
        assert sum(send_twice_at_once(sending.send_single_messages)) == 40
    assert len({message.subject for message in mail.outbox}) == len(mail.outbox) == 40


@pytest.mark.django_db(transaction=True)
def test_without_the_claim_two_workers_send_twice(builder, crew, monkeypatch):
    """The twin: with the guard off the same race doubles messages, so the tests above can fail."""
    monkeypatch.setattr(sending, "_claim", lambda row, me: bool(row.update(claimed_by=me)) or True)
    barrier = threading.Barrier(2, timeout=PATIENCE)
    real = CHANNELS["mail"]

    class Meeting:
        def send(self, envelope):
            barrier.wait()
            real.send(envelope)

    monkeypatch.setitem(CHANNELS, "mail", Meeting())
    with time_machine.travel(THURSDAY, tick=False):
        tell(builder, crew, urgent=True)
        send_twice_at_once(sending.send_single_messages)
    assert len(mail.outbox) == 2
