"""Today's walks and the pages around them: until when, late or not, what is loud and what is quiet."""

import datetime as dt
import io

import pytest
from django.urls import reverse

from coordination import clock
from coordination.people.models import CalendarDay, RegionDay
from coordination.sequence.models import Activity, House
from coordination.sequence.replanning import replan
from hold_points.port import HoldPointsPort
from hold_points.queries import list_walks
from hold_points.reopening import reopen
from hold_points.working_time import days_of
from tests.hold_points.houses import make_site


@pytest.fixture
def as_supervisor(site, client):
    client.force_login(site.supervisor)
    return client


def page(name, *args):
    return reverse(f"hold_points:{name}", args=args)


def card_of(site, point):
    return next(one for one in list_walks(House.objects.all()) if one.inspection.point.key == point)


def test_until_when_to_sign_is_counted_in_the_houses_own_working_days(site):
    before = card_of(site, "H5")
    start = site.booking("linings").visit.activities.get(key="linings").planned.latest("pk").start
    assert before.release_by == days_of(site.house).count_back(start, 4)
    day = clock.as_date(before.release_by)[0]
    RegionDay.objects.create(region=site.house.region, first_day=day, why="regatta")
    CalendarDay.objects.create(
        calendar=site.crews["plasterer"].calendar, first_day=day - dt.timedelta(days=1), why="day off"
    )
    replan(site.house, cause="days off")
    card = card_of(site, "H5")
    days = days_of(site.house)
    assert not days.works(clock.as_half_day(day))
    assert days.works(card.release_by)
    start = site.booking("linings").visit.activities.get(key="linings").planned.latest("pk").start
    # Three half-days of word time and the half-day of the signature: four worked ones before the start.
    assert sum(days.works(one) for one in range(card.release_by, start)) == 4


def test_what_should_have_been_signed_is_said_to_be_late(site, as_supervisor, monday_morning):
    # Told their date, the plasterers' word time is counted from that, whatever the plan says later.
    booking = site.pencil("linings")
    until = card_of(site, "H5").release_by
    assert "Late:" not in as_supervisor.get(page("walks")).content.decode()
    assert booking.told_start is not None
    monday_morning.move_to(clock.starts_at(until + 1, "Australia/Hobart"))
    assert card_of(site, "H5").late
    as_supervisor.force_login(site.supervisor)
    assert "Late: was to be signed by" in as_supervisor.get(page("walks")).content.decode()


def test_a_reopened_hold_is_not_one_not_to_drive_to(site, as_supervisor, monday_morning):
    site.release_all("H3", "H4")
    reopen(site.point("H4"), [site.place("bath").pk], "pipe moved", crew=site.crews["plumber"])
    body = as_supervisor.get(page("walks")).content.decode()
    again, never = body.index("Re-opened: ask when"), body.index("Do not drive: not called yet")
    assert again < body.index("Services and air seal") < never
    assert "Re-opened Mon 13 Apr, 7:00: pipe moved" in body
    monday_morning.shift(60)
    HoldPointsPort().call_ready(visit_id=site.visit("plumb").pk, crew=site.crews["plumber"])
    assert "Re-opened: ask when" not in as_supervisor.get(page("walks")).content.decode()


def test_the_signature_is_quiet_while_checks_are_left_and_says_how_many(site, as_supervisor):
    address = page("walk", site.point("H4").pk) + "?room=" + str(site.place("bed").pk)
    body = as_supervisor.get(address).content.decode()
    assert "4 checks are left before it can be signed." in body
    assert "btn--sign" not in body
    assert (
        "Release from photographs"
        not in as_supervisor.get(page("photographs", site.point("H3").pk)).content.decode()
    )
    site.pass_checks("H4")
    body = as_supervisor.get(address).content.decode()
    assert "btn--sign btn--main" in body
    assert "left before it can be signed" not in body


def test_the_record_leads_back_and_says_why_nobody_signed(site, as_supervisor):
    body = as_supervisor.get(page("record", site.house.pk)).content.decode()
    assert f'href="{reverse("planner:house", args=[site.house.pk])}"' in body
    assert "nobody yet" in body
    HoldPointsPort().accept_photo(
        house=site.house,
        crew=site.crews["plumber"],
        file=io.BytesIO(site.picture()),
        point_id=site.point("P2").point_id,
        place=site.place("bath"),
        detail=site.check("lagged").detail,
    )
    body = as_supervisor.get(page("record", site.house.pk)).content.decode()
    assert "shown by the crew&#x27;s photographs" in body


def test_a_house_with_nothing_left_to_walk_is_passed_over(site):
    lined = make_site("lot-9", "wombat")
    Activity.objects.filter(house=lined.house, is_point=True).update(actual_start=1, actual_finish=1)
    cards = list_walks(House.objects.all())
    assert {card.inspection.house_id for card in cards} == {site.house.pk}


def test_a_supervisor_sees_the_own_houses_and_the_others_when_asked(site, as_supervisor):
    body = as_supervisor.get(page("walks")).content.decode()
    assert "Other supervisors" not in body
    House.objects.filter(pk=site.house.pk).update(supervisor=site.deputy)
    # Nobody's houses: all are shown, as to the office.
    assert "Other supervisors" not in as_supervisor.get(page("walks")).content.decode()
    other = House.objects.get(pk=site.house.pk)
    other.pk, other.key, other.name, other.supervisor = None, "lot-8", "Lot 8", site.supervisor
    other.save()
    body = as_supervisor.get(page("walks")).content.decode()
    assert "Other supervisors" in body
    assert "Services and air seal" not in body
    body = as_supervisor.get(page("walks") + "?all=1").content.decode()
    assert "Services and air seal" in body
    assert "Only your own houses" in body


def test_who_stands_in_sees_those_houses_as_her_own(site, client):
    role = site.builder.roles.get(person=site.supervisor, kind="supervisor")
    client.force_login(site.deputy)
    House.objects.filter(pk=site.house.pk).update(supervisor=site.supervisor)
    own = House.objects.get(pk=site.house.pk)
    own.pk, own.key, own.name, own.supervisor = None, "lot-8", "Lot 8", site.deputy
    own.save()
    assert "Other supervisors" in client.get(page("walks")).content.decode()
    site.builder.roles.create(person=site.deputy, kind="supervisor", deputy_for=role)
    assert "Other supervisors" not in client.get(page("walks")).content.decode()


def test_photographs_wait_until_their_work_has_begun(site, as_supervisor):
    body = as_supervisor.get(page("walks")).content.decode()
    assert "From photographs: no drive" not in body
    check = site.point("H3").checks.filter(withdrawn_at=None).first()
    HoldPointsPort().accept_photo(
        house=site.house,
        crew=site.crews["carpenter"],
        file=io.BytesIO(site.picture()),
        point_id=site.point("H3").point_id,
        place=check.place,
        detail=check.detail,
    )
    assert card_of(site, "H3").begun
    assert "From photographs: no drive" in as_supervisor.get(page("walks")).content.decode()
