"""One thing that goes wrong holds up nothing else: neither another builder's mail nor the next message."""

import datetime as dt

import pytest
from django.core import mail

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.each_builder import for_each_builder
from coordination.reminders import planning, sending, tasks, truth, writing
from tests.hold_points.conftest import site
from tests.hold_points.houses import make_site

__all__ = ["site"]


def tell_supervisor(site, version):
    return put(
        builder=site.builder,
        to=site.supervisor,
        kind=Message.Kind.NOTICE,
        about="house",
        version=version,
        subject=f"Notice {version}",
        body="Something moved.",
        facts={"house": site.house.pk},
    )


def test_an_error_at_one_builder_is_raised_after_the_others_had_their_turn(site):
    other = make_site("lot-9", "wombat")
    seen = []

    def act(builder):
        seen.append(builder.slug)
        if builder == site.builder:
            raise ValueError("broken")

    with pytest.raises(ExceptionGroup) as raised:
        for_each_builder(act)
    assert seen == [site.builder.slug, other.builder.slug]
    assert [str(one) for one in raised.value.exceptions] == ["broken"]


def test_mail_goes_out_although_planning_fails_at_a_builder(site, monday_morning, monkeypatch):
    tell_supervisor(site, "1")

    def fail(builder):
        raise ValueError(builder.slug)

    monkeypatch.setattr(planning, "put_due_messages", fail)
    monday_morning.shift(3600)
    with pytest.raises(ExceptionGroup):
        tasks.put_and_send()
    assert [one.subject for one in mail.outbox if one.subject == "Notice 1"] == ["Notice 1"]


def test_a_message_that_cannot_be_written_says_so_and_the_next_is_sent(site, monday_morning, monkeypatch):
    broken, whole = tell_supervisor(site, "1"), tell_supervisor(site, "2")
    write = writing.write_single

    def write_or_fail(message):
        if message.pk == broken.pk:
            raise ValueError("no such template")
        return write(message)

    monkeypatch.setattr(writing, "write_single", write_or_fail)
    monday_morning.shift(3600)
    sending.send_single_messages()
    rows = Message.objects.in_bulk([broken.pk, whole.pk])
    assert rows[broken.pk].last_error == "ValueError: no such template"
    assert rows[broken.pk].sent_at is None
    assert rows[whole.pk].sent_at is not None


@pytest.mark.parametrize("kind", ["visit", "eve"])
def test_a_reminder_is_withdrawn_when_its_half_day_has_begun(site, monday_morning, kind):
    site.release_all("H3")
    booking = site.pencil("plumb")
    message = put(
        builder=site.builder,
        to=booking.crew,
        kind=kind,
        about=f"visit:{booking.visit_id}",
        version="1",
        subject="Plumbing",
        body="Plumbing.",
        facts={"booking": booking.pk, "told_start": booking.told_start},
    )
    assert message is not None
    begins = clock.starts_at(booking.told_start, site.builder.time_zone)
    monday_morning.move_to(begins - dt.timedelta(minutes=1))
    assert truth.still_true(message)
    monday_morning.move_to(begins + dt.timedelta(minutes=1))
    assert not truth.still_true(message)
