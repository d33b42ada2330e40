"""A PIN at signing: set by its owner, asked as the builder says, counted when wrong."""

import datetime as dt
import json

import pytest
from django.urls import reverse

from coordination import clock
from coordination.people.models import Role
from coordination.people.pins import is_pin_of, set_pin
from coordination.people.refusals import BadInput
from coordination.people.tries import MOST_FROM_ONE_ADDRESS
from hold_points.models import RecordEntry, Release
from hold_points.signing import Signature
from tests.hold_points.houses import PASSWORD, STROKES, make_site
from tests.sequence.builders import make_person

PIN = "482915"
PAGE = "/accounts/pin/"
PEOPLE = "/accounts/people/"


@pytest.fixture
def site(db, monday_morning, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    ready = make_site()
    ready.pass_checks("H3")
    return ready


def sign(site, secret):
    return site.sign("H3", signature=Signature(site.supervisor.name, STROKES, password=secret))


def set_rule(site, rule):
    site.builder.signs_with = rule
    site.builder.save()


def way_of(site):
    text = RecordEntry.objects.get(house=site.house, kind="release").text
    return json.loads(text)["facts"]["authenticated_by"]


def test_a_person_sets_a_pin_with_her_password_and_it_is_kept_hashed(site, client):
    client.force_login(site.supervisor)
    assert client.post(PAGE, {"password": "wrong", "pin": PIN, "again": PIN}).status_code == 422
    site.supervisor.refresh_from_db()
    assert site.supervisor.pin == ""
    answer = client.post(PAGE, {"password": PASSWORD, "pin": PIN, "again": PIN, "next": "/walks/"})
    assert answer.headers["Location"] == "/walks/"
    site.supervisor.refresh_from_db()
    assert PIN not in site.supervisor.pin
    assert is_pin_of(site.supervisor, PIN)
    away = client.post(PAGE, {"password": PASSWORD, "act": "drop", "next": "https://elsewhere.example/"})
    assert away.headers["Location"] == PAGE, "no other site is ever led to"
    site.supervisor.refresh_from_db()
    assert not is_pin_of(site.supervisor, "")


@pytest.mark.parametrize("pin", ["48291", "4829a5", "111111", "123456", "987654", "4" * 13, "٤٨٢٩١٥", ""])
def test_a_pin_that_anyone_would_try_is_refused(site, pin):
    with pytest.raises(BadInput):
        set_pin(site.supervisor, pin, pin)


def test_the_builder_sets_how_many_digits_there_are_at_least(site):
    site.builder.pin_least = 8
    site.builder.save()
    with pytest.raises(BadInput, match="8 to 12 digits"):
        set_pin(site.supervisor, PIN, PIN)
    set_pin(site.supervisor, "48291577", "48291577")


@pytest.mark.parametrize(
    ("rule", "secret", "way"),
    [
        ("either", PIN, "session and PIN"),
        ("either", PASSWORD, "session and password"),
        ("pin", PIN, "session and PIN"),
        ("pin", PASSWORD, ""),
        ("password", PASSWORD, "session and password"),
        ("password", PIN, ""),
    ],
)
def test_what_the_builder_takes_signs_and_the_record_says_which_it_was(site, rule, secret, way):
    set_rule(site, rule)
    set_pin(site.supervisor, PIN, PIN)
    if way:
        sign(site, secret)
        assert way_of(site) == way
    else:
        with pytest.raises(BadInput, match="Nothing was signed"):
            sign(site, secret)
        assert not Release.objects.exists()


def test_five_wrong_pins_close_the_signature_for_a_while(site, monday_morning):
    set_rule(site, "pin")
    set_pin(site.supervisor, PIN, PIN)
    for _turn in range(MOST_FROM_ONE_ADDRESS):
        with pytest.raises(BadInput, match="not your PIN"):
            sign(site, "000111")
    with pytest.raises(BadInput, match="Too many"):
        sign(site, PIN)
    monday_morning.shift(16 * 60)
    sign(site, PIN)


def test_who_lacks_the_pin_that_is_asked_is_led_to_it(site, client):
    set_rule(site, "pin")
    with pytest.raises(BadInput, match="Set yours first"):
        sign(site, PASSWORD)
    client.force_login(site.supervisor)
    address = reverse("hold_points:release", args=[site.point("H3").pk])
    assert f"{PAGE}?next={address}" in client.get(address).content.decode()


def test_a_trial_asks_nothing_until_a_pin_is_set(site, settings, client):
    settings.COORDINATION_ONE_CLICK_SIGN_IN = True
    site.supervisor.set_unusable_password()
    site.supervisor.save()
    client.force_login(site.supervisor)
    address = reverse("hold_points:release", args=[site.point("H3").pk])
    assert "nothing more is asked" in client.get(address).content.decode()
    assert "people have no password" in client.get(PAGE).content.decode()
    client.post(PAGE, {"pin": PIN, "again": PIN})
    assert "Your PIN</label>" in client.get(address).content.decode()
    site.supervisor.refresh_from_db()
    with pytest.raises(BadInput, match="not your PIN"):
        sign(site, "")
    sign(site, PIN)
    assert way_of(site) == "session and PIN"


def test_the_office_sets_the_rule_takes_a_pin_away_and_agrees_to_positions(site, client):
    set_pin(site.supervisor, PIN, PIN)
    client.force_login(site.planner)
    own = {"builder": site.builder.pk}
    assert PEOPLE in client.get("/crews/").content.decode()
    assert "Take the PIN of Kit" in client.get(PEOPLE).content.decode()
    client.post(PEOPLE, {**own, "act": "drop-pin", "person": site.supervisor.pk})
    client.post(PEOPLE, {**own, "act": "signing", "signs_with": "pin", "pin_least": "7"})
    client.post(PEOPLE, {**own, "act": "positions", "agreed": "yes"})
    client.post(PEOPLE, {**own, "act": "sampling", "tightened_houses": "2", "clean_houses": "8"})
    site.supervisor.refresh_from_db()
    site.builder.refresh_from_db()
    assert (site.supervisor.pin, site.builder.signs_with, site.builder.pin_least) == ("", "pin", 7)
    assert (site.builder.tightened_houses, site.builder.clean_houses) == (2, 8)
    assert (site.builder.keeps_positions, site.builder.positions_agreed_by) == (True, site.planner)
    assert "agreed Mon 13 Apr" in client.get(PEOPLE).content.decode()
    client.post(PEOPLE, {**own, "act": "positions", "agreed": "no"})
    site.builder.refresh_from_db()
    assert not site.builder.keeps_positions


@pytest.mark.parametrize(
    "values",
    [
        {"act": "signing", "signs_with": "thumb", "pin_least": "6"},
        {"act": "signing", "signs_with": "pin", "pin_least": "3"},
        {"act": "signing", "signs_with": "pin", "pin_least": "many"},
        {"act": "sampling", "tightened_houses": "0", "clean_houses": "5"},
        {"act": "sampling", "tightened_houses": "3", "clean_houses": "lots"},
        {"act": "burn"},
        {"act": "drop-pin", "person": "999999"},
        {"act": "deputy", "person": "1", "role": "x"},
    ],
)
def test_what_makes_no_sense_on_the_page_of_people_is_refused(site, client, values):
    client.force_login(site.planner)
    assert client.post(PEOPLE, {"builder": site.builder.pk, **values}).status_code == 422
    site.builder.refresh_from_db()
    assert (site.builder.signs_with, site.builder.pin_least) == ("either", 6)


def test_only_a_planner_of_the_builder_opens_the_page_of_people(site, client):
    client.force_login(site.supervisor)
    assert client.get(PEOPLE).status_code == 403
    other = make_site("lot-8", "wattle")
    client.force_login(other.planner)
    values = {"builder": site.builder.pk, "act": "positions", "agreed": "yes"}
    assert client.post(PEOPLE, values).status_code == 404


def test_a_deputy_signs_while_she_stands_in_and_not_before_or_after(site, client, monday_morning):
    stands_in = make_person(site.builder, Role.Kind.PLANNER, "Ula")
    supervisor_role = Role.objects.get(person=site.supervisor, kind="supervisor")
    client.force_login(site.planner)
    values = {"builder": site.builder.pk, "act": "deputy", "person": stands_in.pk, "role": supervisor_role.pk}
    days = {"first_day": "2026-04-14", "last_day": "2026-04-14"}
    assert client.post(PEOPLE, {**values, **days, "last_day": "2026-04-13"}).status_code == 422
    assert client.post(PEOPLE, {**values, **days}).status_code == 302
    assert client.post(PEOPLE, {**values, **days}).status_code == 422, "once"
    role = Role.objects.get(deputy_for=supervisor_role)
    assert (role.person, role.kind, role.first_day) == (stands_in, "supervisor", dt.date(2026, 4, 14))
    assert (role.granted_by, role.granted_at) == (site.planner, clock.now())
    address = reverse("hold_points:release", args=[site.point("H3").pk])
    answers = []
    for day in (13, 14, 15):
        monday_morning.move_to(dt.datetime(2026, 4, day, 9, tzinfo=dt.timezone(dt.timedelta(hours=10))))
        client.force_login(stands_in)
        answers.append(client.get(address).status_code)
    assert answers == [403, 200, 403]


def test_nobody_stands_in_for_longer_than_the_role_lasts_nor_for_who_stands_in(site, client):
    role = Role.objects.get(person=site.supervisor, kind="supervisor")
    role.last_day = dt.date(2026, 4, 20)
    role.save()
    stands_in = make_person(site.builder, Role.Kind.PLANNER, "Ula")
    client.force_login(site.planner)
    values = {
        "builder": site.builder.pk,
        "act": "deputy",
        "person": stands_in.pk,
        "first_day": "2026-04-14",
    }
    longer = client.post(PEOPLE, {**values, "role": role.pk, "last_day": "2026-04-21"})
    assert longer.status_code == 422
    for chosen in (stands_in.pk, role.pk):
        assert f'<option value="{chosen}" selected>' in longer.content.decode(), "the choice stands again"
    assert f"The role of {site.supervisor.name} ends Mon 20 Apr" in longer.content.decode()
    assert client.post(PEOPLE, {**values, "role": role.pk, "last_day": "2026-04-20"}).status_code == 302
    deputy = Role.objects.get(deputy_for=role)
    again = {**values, "person": site.assessor.pk, "role": deputy.pk, "last_day": "2026-04-30"}
    assert client.post(PEOPLE, again).status_code == 422
    assert Role.objects.filter(deputy_for__isnull=False).count() == 1


def test_a_planner_does_not_make_himself_the_one_who_signs_unless_he_signs_already(site, client):
    role = Role.objects.get(person=site.supervisor, kind="supervisor")
    client.force_login(site.planner)
    days = {"first_day": "2026-04-14", "last_day": "2026-04-14"}
    own = {"builder": site.builder.pk, "act": "deputy", "person": site.planner.pk, "role": role.pk, **days}
    answer = client.post(PEOPLE, own)
    assert answer.status_code == 422
    assert "make yourself the one who signs" in answer.content.decode()
    assert not Role.objects.filter(deputy_for=role).exists()
    Role.objects.create(person=site.planner, builder=site.builder, kind="supervisor")
    assert client.post(PEOPLE, own).status_code == 302


def test_standing_in_ends_at_once_when_the_supervisor_is_back_early(site, client):
    stands_in = make_person(site.builder, Role.Kind.PLANNER, "Ula")
    role = Role.objects.get(person=site.supervisor, kind="supervisor")
    deputy = Role.objects.create(
        person=stands_in,
        builder=site.builder,
        kind="supervisor",
        deputy_for=role,
        first_day=dt.date(2026, 4, 13),
        last_day=dt.date(2026, 4, 30),
    )
    address = reverse("hold_points:release", args=[site.point("H3").pk])
    client.force_login(stands_in)
    assert client.get(address).status_code == 200
    end = {"builder": site.builder.pk, "act": "end-deputy"}
    client.force_login(site.planner)
    assert client.post(PEOPLE, {**end, "role": role.pk}).status_code == 422, "no deputy's role"
    assert client.post(PEOPLE, {**end, "role": deputy.pk}).status_code == 302
    assert client.post(PEOPLE, {**end, "role": deputy.pk}).status_code == 422, "once"
    deputy.refresh_from_db()
    assert (deputy.ended_by, deputy.last_day) == (site.planner, dt.date(2026, 4, 30))
    page = " ".join(client.get(PEOPLE).content.decode().split())
    assert f"ended by {site.planner.name}" in page
    again = {"act": "deputy", "person": stands_in.pk, "role": role.pk, "first_day": "2026-04-13"}
    assert client.post(PEOPLE, {**end, **again, "last_day": "2026-04-14"}).status_code == 302
    Role.objects.filter(deputy_for=role, ended_at__isnull=True).delete()
    client.force_login(stands_in)
    assert client.get(address).status_code == 403
