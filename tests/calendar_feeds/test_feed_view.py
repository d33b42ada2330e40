"""The feed as a calendar program fetches it: its secret address, what is new, what a change does to it."""

import datetime as dt
from typing import Any

import ics
import pytest
from django.test import Client
from icalendar import Calendar

from coordination import clock
from coordination.people.links import make_link, revoke_links
from coordination.people.models import CrewLink, Engagement
from coordination.sequence import bookings, progress
from coordination.sequence.models import Booking
from tests.hold_points.houses import Site, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(db: None, monday_morning: Any, settings: Any, tmp_path: Any) -> Site:
    settings.MEDIA_ROOT = tmp_path
    return make_site()


@pytest.fixture
def reader() -> Client:
    return Client()


@pytest.fixture
def address(site: Site) -> str:
    """The plumber's calendar address."""
    return f"/calendar/{make_link(site.crews['plumber'], CrewLink.Kind.FEED)}.ics"


def events_of(answer: Any) -> list[Any]:
    return list(Calendar.from_ical(answer.content).events)


def event_of(answer: Any) -> Any:
    [event] = events_of(answer)
    return event


def told_start_of(booking: Booking) -> int:
    assert booking.told_start is not None
    return booking.told_start


def starts_at(booking: Booking) -> dt.datetime:
    return clock.starts_at(told_start_of(booking), "Australia/Hobart")


def test_only_the_secret_address_opens_it_and_a_revoked_one_does_not(
    site: Site, reader: Client, address: str
) -> None:
    answer = reader.get(address)
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert reader.get("/calendar/never-made.ics").status_code == 404
    page = make_link(site.crews["plumber"], CrewLink.Kind.PAGE)
    assert reader.get(f"/calendar/{page}.ics").status_code == 404, "a page's link is no calendar's"
    assert reader.post(address).status_code == 405
    revoke_links(site.crews["plumber"], CrewLink.Kind.FEED)
    assert reader.get(address).status_code == 404


def test_it_is_private_and_makes_no_session(reader: Client, address: str) -> None:
    answer = reader.get(address)
    assert answer["Cache-Control"].startswith("private")
    assert answer["X-Robots-Tag"] == "noindex"
    assert not answer.cookies


def test_a_reader_that_has_it_already_is_told_so_until_something_changes(
    site: Site, reader: Client, address: str
) -> None:
    site.pencil("plumb")
    first = reader.get(address)
    tag = first["ETag"]
    same = reader.get(address, headers={"If-None-Match": tag})
    assert (same.status_code, same.content, same["ETag"]) == (304, b"", tag)
    assert reader.get(address, headers={"If-None-Match": f'"other", {tag}'}).status_code == 304
    assert reader.get(address, headers={"If-None-Match": '"other"'}).status_code == 200
    assert reader.get(address).content == first.content
    bookings.confirm(site.booking("plumb"))
    bookings.stand_down(site.booking("plumb"), "rain", site.planner)
    changed = reader.get(address, headers={"If-None-Match": tag})
    assert changed.status_code == 200
    assert changed["ETag"] != tag


def test_a_visit_appears_with_its_first_told_date(site: Site, reader: Client, address: str) -> None:
    assert events_of(reader.get(address)) == []
    booking = site.pencil("plumb")
    event = event_of(reader.get(address))
    assert event["UID"] == f"{booking.uid}@before-the-board.localhost"
    assert event["STATUS"] == "TENTATIVE"
    assert str(event["SUMMARY"]) == f"PENCILLED: {site.house.name}: Plumbing rough-in"
    # Two half-days of one day, Tuesday 14 April: 7:00 to 15:30 or so, at UTC+10 since 5 April (IANA tz).
    assert event.start == starts_at(booking)
    assert event.start.astimezone(dt.UTC) == dt.datetime(2026, 4, 13, 21, tzinfo=dt.UTC)


def test_state_and_sequence_follow_the_booking_and_the_uid_stays(
    site: Site, reader: Client, address: str
) -> None:
    booking = site.pencil("plumb")
    told = [event_of(reader.get(address))]
    site.release_all("H3")
    bookings.make_firm(site.booking("plumb"), site.planner)
    told.append(event_of(reader.get(address)))
    bookings.pencil(
        site.booking("plumb"), told_start_of(booking) + 4, by=site.planner, why="the pump is late"
    )
    told.append(event_of(reader.get(address)))
    bookings.stand_down(site.booking("plumb"), "no water yet", site.planner)
    told.append(event_of(reader.get(address)))
    assert [event["STATUS"] for event in told] == ["TENTATIVE", "CONFIRMED", "TENTATIVE", "CANCELLED"]
    assert len({str(event["UID"]) for event in told}) == 1
    numbers = [int(event["SEQUENCE"]) for event in told]
    assert numbers == sorted(set(numbers)), "each change of what was told has a higher number"
    assert told[2].start - told[1].start == dt.timedelta(days=2)
    assert str(told[3]["SUMMARY"]).startswith("STOOD DOWN: ")


def test_a_told_date_that_a_delay_moves_has_a_higher_sequence(
    site: Site, reader: Client, address: str
) -> None:
    site.builder.freeze_days = 0
    site.builder.save()
    booking = site.pencil("plumb")
    before = event_of(reader.get(address))
    progress.add_delay(site.house.activities.get(key="pockets"), 6, "the mortar was missing", by=site.planner)
    after = event_of(reader.get(address))
    assert int(after["SEQUENCE"]) > int(before["SEQUENCE"])
    assert after["UID"] == before["UID"]
    assert after.start - before.start == dt.timedelta(days=3)
    booking.refresh_from_db()
    assert after.start == starts_at(booking)


def test_a_cancelled_visit_stays_thirty_days_so_that_phones_take_it_off(
    site: Site, reader: Client, address: str, monday_morning: Any
) -> None:
    site.pencil("plumb")
    bookings.decline(site.booking("plumb"), site.crews["plumber"], "ill")
    assert event_of(reader.get(address))["STATUS"] == "CANCELLED"
    monday_morning.shift(dt.timedelta(days=29, hours=23))
    assert event_of(reader.get(address))["STATUS"] == "CANCELLED"
    monday_morning.shift(dt.timedelta(hours=2))
    assert events_of(reader.get(address)) == []


def test_a_visit_never_told_is_not_shown_even_when_it_is_stood_down(
    site: Site, reader: Client, address: str
) -> None:
    bookings.stand_down(site.booking("plumb"), "not needed", site.planner)
    assert events_of(reader.get(address)) == []


def test_it_holds_the_crews_own_visits_of_every_builder_and_no_telephone_number(
    site: Site, reader: Client, address: str
) -> None:
    other = make_site("lot-9", "bluegum")
    plumber = site.crews["plumber"]
    Engagement.objects.create(builder=other.builder, company=plumber.company)
    bookings.change_crew(other.visit("plumb"), plumber, other.planner)
    for one in (site, other):
        type(one.supervisor).objects.filter(pk=one.supervisor.pk).update(phone="03 5550 0999")
        one.pencil("plumb")
        for activity in ("batts", "linings"):
            one.pencil(activity)
    answer = reader.get(address)
    own = Booking.objects.filter(crew=plumber, told_start__isnull=False)
    assert {str(event["UID"]).split("@")[0] for event in events_of(answer)} == {
        str(booking.uid) for booking in own
    }
    assert len(events_of(answer)) == 2
    assert b"5550" not in answer.content


def test_two_parsers_read_equal_content_of_a_real_feed(site: Site, reader: Client, address: str) -> None:
    """`icalendar` and `ics` share no code."""
    site.pencil("plumb")
    data = reader.get(address).content
    [first] = list(Calendar.from_ical(data).events)
    [second] = list(ics.Calendar(data.decode()).events)
    assert str(first["SUMMARY"]) == second.name
    assert str(first["UID"]) == second.uid
    assert str(first["DESCRIPTION"]) == second.description
    assert "Pipes off the chords" in second.description
    assert str(first["STATUS"]) == second.status
    assert (first.start, first.end) == (second.begin.datetime, second.end.datetime)
    assert max(len(line) for line in data.split(b"\r\n")) <= 75
