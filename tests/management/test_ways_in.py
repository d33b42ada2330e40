"""The printed ways in: one click for the office, a page for a crew, and shut wherever they must be."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse

from coordination.people.links import crew_for_token
from coordination.people.models import Builder, Company, Crew, CrewLink, Person, Role, Trade, WorkingCalendar
from coordination.people.one_click import sign_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def planner():
    person = Person.objects.create_user("planner@example.org", name="Pat Quill")
    builder = Builder.objects.create(name="Fernhollow Homes", slug="fernhollow")
    Role.objects.create(person=person, builder=builder, kind=Role.Kind.PLANNER)
    return person


@pytest.fixture
def plumbers():
    calendar = WorkingCalendar.objects.create(key="week", name="Monday to Friday")
    trade = Trade.objects.create(key="plumber", name="plumber")
    company = Company.objects.create(name="Quoll Pipes")
    return Crew.objects.create(company=company, trade=trade, name="Quoll", calendar=calendar)


@pytest.fixture
def embedded(settings, tmp_path):
    settings.COORDINATION_ONE_CLICK_SIGN_IN = True
    settings.DATA_DIR = tmp_path
    return tmp_path


def way_in(person):
    return reverse("people:one_click", args=[sign_person(person)])


def print_ways_in():
    out = StringIO()
    call_command("ways_in", address="http://127.0.0.1:8123", stdout=out)
    return out.getvalue()


def test_opening_the_link_shows_a_button_and_pressing_it_signs_in(client, planner, embedded):
    for _ in range(3):
        assert client.get(way_in(planner)).status_code == 200
        assert client.head(way_in(planner)).status_code == 200
    assert "_auth_user_id" not in client.session
    assert client.post(way_in(planner)).status_code == 302
    assert client.session["_auth_user_id"] == str(planner.pk)


@pytest.mark.parametrize(
    "foreign",
    [{"REMOTE_ADDR": "192.168.1.20"}, {"REMOTE_ADDR": ""}, {"HTTP_X_FORWARDED_FOR": "127.0.0.1"}],
    ids=["another machine", "unknown", "through a proxy"],
)
def test_another_machine_finds_nothing_there(client, planner, embedded, foreign):
    assert client.get(way_in(planner), **foreign).status_code == 404
    assert client.post(way_in(planner), **foreign).status_code == 404
    assert "_auth_user_id" not in client.session


def test_the_way_is_shut_outside_the_local_settings(client, planner):
    assert client.post(way_in(planner)).status_code == 404
    with pytest.raises(CommandError, match="local"):
        call_command("ways_in")


def test_a_forged_link_and_a_person_who_left_find_nothing(client, planner, embedded):
    link = way_in(planner)
    assert client.get(link[:-1] + "A/").status_code == 404
    planner.is_active = False
    planner.save()
    assert client.post(link).status_code == 404


def test_the_command_prints_the_planner_and_the_plumber_and_repeats_the_same_link(
    planner, plumbers, embedded
):
    first = print_ways_in()
    assert f"http://127.0.0.1:8123{way_in(planner)}" in first
    token = first.split("/v/")[1].split("/")[0]
    assert crew_for_token(token, CrewLink.Kind.PAGE) == plumbers
    assert print_ways_in() == first
    assert CrewLink.objects.count() == 1


def test_a_revoked_link_is_replaced(planner, plumbers, embedded):
    first = print_ways_in()
    CrewLink.objects.update(revoked_at="2026-04-13T00:00:00Z")
    assert print_ways_in() != first


def test_nobody_yet_is_said(embedded):
    assert "add_builder" in print_ways_in()


@pytest.mark.django_db(transaction=True)
def test_a_real_browser_signs_in_with_the_button(page, live_server, planner, embedded):
    page.goto(f"{live_server.url}{way_in(planner)}")
    assert page.get_by_role("heading", level=1).inner_text() == "Sign in as Pat Quill"
    assert not [cookie for cookie in page.context.cookies() if cookie.get("name") == "sessionid"]
    with page.expect_navigation():
        page.get_by_role("button", name="Sign in").click()
    assert [cookie for cookie in page.context.cookies() if cookie.get("name") == "sessionid"]
    assert "one-click" not in page.url
