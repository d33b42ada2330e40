"""One thing that goes wrong holds up nothing else: neither another builder's mail nor the next message."""

import datetime as dt

import pytest
from django.core import mail

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.each_builder import for_each_builder
from coordination.reminders import planning, sending, tasks, truth, writing
from coordination.reminders.channels import CHANNELS
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


def test_a_message_that_cannot_be_written_says_so_and_those_of_its_mail_go_without_it(
    site, monday_morning, monkeypatch, heard
):
    broken, *whole = (tell_supervisor(site, str(number)) for number in range(3))
    find_page = writing._page_of_office

    def find_or_fail(message):
        if message.pk == broken.pk:
            raise ValueError("no such page")
        return find_page(message)

    monkeypatch.setattr(writing, "_page_of_office", find_or_fail)
    monday_morning.shift(3600)
    assert sending.send_single_messages() == 2
    rows = Message.objects.in_bulk([broken.pk, *(one.pk for one in whole)])
    assert rows[broken.pk].last_error == "ValueError: no such page"
    assert rows[broken.pk].sent_at is None
    assert all(rows[one.pk].sent_at for one in whole)
    assert f"Message {broken.pk} could not be written" in "\n".join(heard)


@pytest.mark.parametrize("error", [ValueError("no such address"), ConnectionRefusedError("nobody there")])
def test_a_mail_that_cannot_be_sent_is_not_said_to_be_unwritten(
    site, monday_morning, monkeypatch, heard, error
):
    message = tell_supervisor(site, "1")

    class Broken:
        def send(self, envelope):
            raise error

    monkeypatch.setitem(CHANNELS, "mail", Broken())
    monday_morning.shift(3600)
    assert sending.send_single_messages() == 0
    message.refresh_from_db()
    assert str(error) in message.last_error
    assert f"Message {message.pk} was not sent" in "\n".join(heard)
    assert "written" not in "\n".join(heard)


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
