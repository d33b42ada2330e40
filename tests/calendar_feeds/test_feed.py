"""The feed is read back by two parsers that know nothing of us: `icalendar` and `ics`."""

import datetime as dt

import ics
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from coordination import clock
from coordination.calendar_feeds.feed import FeedVisit, write_feed

CHANGED = dt.datetime(2026, 3, 1, 2, tzinfo=dt.UTC)


def visit(start="2026-03-09", half_days=1, **changes):
    first = clock.as_half_day(dt.date.fromisoformat(start))
    facts = {
        "uid": "3f0c@example.test",
        "sequence": 2,
        "state": "pencilled",
        "changed_at": CHANGED,
        "told_start": first,
        "told_finish": first + half_days,
        "zone": "Australia/Hobart",
        "title": "Lot 7: rough-in",
        "where": "7 Example Rise, Hobart",
        "lines": ["Pipes off the bottom chords", "Walk: Thu; then buried"],
    }
    return FeedVisit(**(facts | changes))


def written(*visits):
    return write_feed(name="Crew calendar", uid="crew-7@example.test", visits=visits)


def events_of(data):
    return list(Calendar.from_ical(data).events)


def test_a_half_day_is_a_timed_event_in_utc():
    # Hobart is at UTC+11 on 9 March 2026 (IANA tz database): 7:00 is 20:00 of the day before.
    [event] = events_of(written(visit()))
    assert event.start == dt.datetime(2026, 3, 8, 20, tzinfo=dt.UTC)
    assert event.end == dt.datetime(2026, 3, 9, 0, tzinfo=dt.UTC)


def test_the_night_the_clocks_go_back_moves_the_utc_time_by_an_hour():
    # Summer time ends in Hobart on Sunday 5 April 2026 (IANA tz database).
    [friday] = events_of(written(visit("2026-04-03")))
    [monday] = events_of(written(visit("2026-04-06")))
    assert (friday.start.hour, monday.start.hour) == (20, 21)


def test_several_days_are_an_all_day_event_whose_end_is_the_day_after():
    [event] = events_of(written(visit(half_days=5)))
    assert (event.start, event.end) == (dt.date(2026, 3, 9), dt.date(2026, 3, 12))
    assert "Mon 9 Mar, morning to Wed 11 Mar, morning" in event["DESCRIPTION"]


def test_state_is_a_status_and_a_word_in_the_title():
    states = {
        "asked": "TENTATIVE",
        "pencilled": "TENTATIVE",
        "firm": "CONFIRMED",
        "declined": "CANCELLED",
        "stood down": "CANCELLED",
    }
    for state, status in states.items():
        [event] = events_of(written(visit(state=state)))
        assert event["STATUS"] == status
        assert event["SUMMARY"] == f"{state.upper()}: Lot 7: rough-in"


def test_the_same_visits_give_the_same_bytes():
    assert written(visit(), visit(uid="other")) == written(visit(uid="other"), visit())


# `icalendar` takes a typed backslash before n for a line break, in what it writes and in what it reads.
texts = (
    st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=80)
    .map(str.strip)
    .filter(lambda text: "\\n" not in text.lower())
)
visits = st.builds(
    visit,
    start=st.dates(dt.date(2026, 1, 1), dt.date(2027, 12, 30)).map(dt.date.isoformat),
    half_days=st.integers(1, 24),
    uid=st.uuids().map(lambda uid: f"{uid}@example.test"),
    sequence=st.integers(0, 99),
    state=st.sampled_from(["asked", "pencilled", "firm", "under way", "done", "declined", "stood down"]),
    title=texts.filter(bool),
    where=texts.filter(bool),
    lines=st.lists(texts.filter(bool), max_size=4),
)


@given(st.lists(visits, min_size=1, max_size=6, unique_by=lambda visit: visit.uid))
def test_two_parsers_read_equal_content(rows):
    data = written(*rows)
    lines = data.split(b"\r\n")
    assert max(map(len, lines)) <= 75, "RFC 5545 3.1: no line longer than 75 octets"
    assert b"\n" not in data.replace(b"\r\n", b"")
    one = {str(event["UID"]): event for event in events_of(data)}
    two = {event.uid: event for event in ics.Calendar(data.decode()).events}
    assert set(one) == set(two) == {row.uid for row in rows}
    for row in rows:
        first, second = one[row.uid], two[row.uid]
        assert str(first["SUMMARY"]) == second.name == f"{row.state.upper()}: {row.title}"
        assert str(first["LOCATION"]) == second.location == row.where
        assert str(first["DESCRIPTION"]) == second.description
        assert str(first["STATUS"]) == second.status
        assert int(first["SEQUENCE"]) == row.sequence
        begin = (
            first.start
            if isinstance(first.start, dt.datetime)
            else dt.datetime.combine(first.start, dt.time(), dt.UTC)
        )
        assert second.begin.datetime == begin
