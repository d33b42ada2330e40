"""What stands below a message when its mail is written: how the house stands now, not how it stood then.

That an eve message says access, keys, parking, hazards and whom to ring is common practice (no source).
"""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.reminders.standing_notes import notes_for
from coordination.reminders.writing import write_single
from coordination.sequence import bookings
from coordination.sequence.models import House
from hold_points.reopening import reopen
from tests.hold_points.conftest import site

__all__ = ["site"]

HELD = "Not to be started yet. Not released: Services and air seal."


@pytest.fixture
def told(site, monday_morning):
    """The insulation's crew is told; the hold before it is closed."""
    site.release_all("H3")
    site.pencil("plumb")
    site.pencil("batts")
    House.objects.filter(pk=site.house.pk).update(
        keys_at="Key box on the meter panel",
        parking="on the verge",
        hazards="Open trench to the east",
    )
    type(site.supervisor).objects.filter(pk=site.supervisor.pk).update(phone="03 5550 0101")
    return site


def put_message(**what) -> Message:
    message = put(**what)
    assert message is not None
    return message


def write_to_crew(site, kind, version="1"):
    booking = site.booking("batts")
    return put_message(
        builder=site.builder,
        to=booking.crew,
        kind=kind,
        about=f"visit:{booking.visit_id}",
        version=version,
        subject="Wall batts",
        body="Wall batts: Thu 16 Apr, morning.",
        facts={"booking": booking.pk, "told_start": booking.told_start},
    )


@pytest.mark.parametrize("kind", ["visit", "eve", "change"])
def test_a_crew_is_told_that_a_hold_point_before_it_is_closed(told, kind):
    letter = write_single(write_to_crew(told, kind))
    assert HELD in letter.text
    assert HELD in letter.html


def test_what_was_released_meanwhile_is_no_longer_said_and_what_was_opened_again_is(told, monday_morning):
    message = write_to_crew(told, "eve")
    told.release_all("H4")
    assert "Not to be started" not in write_single(message).text
    monday_morning.shift(60)
    reopen(told.point("H4"), [told.place("bath").pk], "a pipe was moved", by=told.supervisor)
    assert HELD in write_single(message).text


def test_the_evening_before_says_how_to_get_in_what_is_dangerous_and_whom_to_ring(told):
    text = write_single(write_to_crew(told, "eve")).text
    assert "- Keys: Key box on the meter panel.\n" in text
    assert "- Parking: on the verge.\n" in text
    assert "- Hazards on site: Open trench to the east.\n" in text
    assert f"- On site for us: {told.supervisor.name}, 03 5550 0101.\n" in text
    assert "Access:" not in text
    later = write_single(write_to_crew(told, "visit", "2")).text
    assert "Keys:" not in later


def test_the_trade_s_usual_caution_stands_in_the_mail(told):
    booking = told.booking("plumb")
    message = put_message(
        builder=told.builder,
        to=booking.crew,
        kind="visit",
        about=f"visit:{booking.visit_id}",
        version="caution",
        subject="Plumbing",
        body="Plumbing: Tue 14 Apr.",
        facts={"booking": booking.pk, "told_start": booking.told_start},
    )
    assert "- Caution: Licensed work. Hot pipes: lagged before the batt." in write_single(message).text


def test_work_under_way_is_not_told_to_wait(told):
    told.release_all("H4")
    booking = bookings.make_firm(told.booking("batts"), told.planner)
    bookings.report_under_way(booking, by=told.planner)
    assert "Not to be started" not in write_single(write_to_crew(told, "eve")).text


def test_messages_that_speak_of_no_booking_get_no_notes(told):
    message = put_message(
        builder=told.builder,
        to=told.booking("batts").crew,
        kind="look-ahead",
        about="week",
        version="1",
        subject="Two weeks",
        body="One visit.",
        facts={"bookings": [told.booking("batts").pk]},
    )
    assert notes_for([message]) == {}


def test_queries_do_not_grow_with_the_messages(told):
    for number in range(6):
        write_to_crew(told, "eve", str(number))
    messages = list(Message.objects.filter(kind="eve", subject="Wall batts"))
    assert len(messages) == 6
    with CaptureQueriesContext(connection) as asked:
        notes = notes_for(messages)
    assert len(notes) == 6
    assert len(asked) <= 5
