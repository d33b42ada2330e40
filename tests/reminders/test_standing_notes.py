"""What stands below a message when its mail is written: how the house stands now, not how it stood then.

That an eve message says access, keys, parking, hazards and whom to ring is common practice (no source).
"""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.reminders import truth
from coordination.reminders.standing_notes import notes_for
from coordination.reminders.writing import write_single
from coordination.sequence import bookings
from coordination.sequence.models import House
from hold_points.reopening import reopen
from tests.hold_points.conftest import site
from tests.hold_points.houses import TEXT, make_site

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


@pytest.fixture
def two_visits(db, monday_morning, settings, tmp_path):
    """Batts and linings of one crew, both firm; the crew has heard nothing since.

    'Services and air seal' stands before both, 'Insulation' before the linings only.
    """
    settings.MEDIA_ROOT = tmp_path
    made = make_site(text=TEXT.replace('trade = "plasterer"', 'trade = "installer"'))
    made.release_all("H3", "H4", "H5")
    for key in ("batts", "linings"):
        bookings.make_firm(made.pencil(key), made.planner)
    Message.objects.filter(sent_at=None).update(superseded_at=clock.now())
    monday_morning.shift(60)
    return made


def open_again(site, *points) -> Message:
    """The one message that the crew of both visits gets."""
    for point in points:
        reopen(site.point(point), [site.place("bath").pk], "a pipe was moved", by=site.supervisor)
    return Message.objects.get(crew=site.booking("batts").crew, superseded_at=None, sent_at=None)


def test_a_change_names_each_closed_hold_point_once_with_the_visits_that_wait_for_it(two_visits):
    letter = write_single(open_again(two_visits, "H4", "H5"))
    batts, linings = (two_visits.booking(key).visit.name for key in ("batts", "linings"))
    said = (
        f"Not to be started yet. Not released: Services and air seal; Insulation (before {linings}). "
        "You hear from us when it is."
    )
    assert batts in letter.subject
    assert said in letter.text
    assert said in letter.html


def test_what_all_visits_of_a_change_wait_for_is_said_without_their_names(two_visits):
    assert HELD in write_single(open_again(two_visits, "H4")).text


def test_a_stop_says_what_later_visits_wait_for_and_not_the_one_under_way(two_visits):
    bookings.report_under_way(two_visits.booking("batts"), by=two_visits.planner)
    Message.objects.filter(sent_at=None).update(superseded_at=clock.now())
    letter = write_single(open_again(two_visits, "H4"))
    assert "Stop in Bath" in letter.text
    linings = two_visits.booking("linings").visit.name
    assert f"Not released: Services and air seal (before {linings})." in letter.text


def test_a_change_whose_first_visit_is_gone_is_still_said_of_the_others(two_visits):
    message = open_again(two_visits, "H4")
    message.facts = {**message.facts, "booking": 999_999}
    assert truth.still_true(message)
    assert "Services and air seal" in write_single(message).text
    message.facts = {**message.facts, "bookings": {"999999": {}}}
    assert not truth.still_true(message)


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
