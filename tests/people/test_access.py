"""Who may: another builder's row does not exist, one's own may need another role."""

import datetime as dt

import pytest
from django.contrib.auth.models import AnonymousUser
from django.http import Http404, HttpResponse
from django.test import RequestFactory

from coordination.people import access
from coordination.people.models import Builder, Person, Region, Role
from coordination.people.refusals import NotAllowed

pytestmark = pytest.mark.django_db

PLANNER, SUPERVISOR = Role.Kind.PLANNER, Role.Kind.SUPERVISOR


@pytest.fixture
def firms():
    return [Builder.objects.create(name=name, slug=name.lower()) for name in ("Saltbush", "Flatwater")]


@pytest.fixture
def planner(firms):
    return add_person(firms[0], "Pat", PLANNER)


def add_person(builder, name, kind, **dates):
    person = Person.objects.create_user(f"{name.lower()}@example.test", name=name)
    Role.objects.create(person=person, builder=builder, kind=kind, **dates)
    return person


def add_region(builder):
    return Region.objects.create(builder=builder, key="south", name="South")


def test_an_own_row_is_returned(firms, planner):
    region = add_region(firms[0])
    assert access.get_own(Region.objects.all(), planner, PLANNER, pk=region.pk) == region
    assert access.get_own(Region.objects.all(), planner, pk=region.pk) == region


def test_a_row_of_another_builder_cannot_be_told_from_one_that_never_was(firms, planner):
    foreign = add_region(firms[1])
    for pk in (foreign.pk, 987654):
        with pytest.raises(Http404) as missing:
            access.get_own(Region.objects.all(), planner, PLANNER, pk=pk)
        assert "No Region matches" in str(missing.value)


def test_an_own_row_that_needs_another_role_is_refused_by_name(firms, planner):
    region = add_region(firms[0])
    with pytest.raises(NotAllowed, match="supervisor"):
        access.get_own(Region.objects.all(), planner, SUPERVISOR, pk=region.pk)


def test_a_role_for_one_builder_is_none_for_the_other(firms, planner):
    Role.objects.create(person=planner, builder=firms[1], kind=SUPERVISOR)
    foreign = add_region(firms[1])
    with pytest.raises(NotAllowed):
        access.get_own(Region.objects.all(), planner, PLANNER, pk=foreign.pk)
    assert list(access.own(Region.objects.all(), planner, PLANNER)) == []
    assert list(access.own(Region.objects.all(), planner)) == [foreign]


def test_the_builder_is_found_over_a_path(firms, planner):
    day = add_region(firms[0]).days.create(first_day=dt.date(2026, 2, 9), why="regatta")
    found = access.get_own(type(day).objects.all(), planner, PLANNER, path="region__builder", pk=day.pk)
    assert found == day


@pytest.mark.parametrize(
    ("first", "last", "may"),
    [
        (None, None, True),
        (dt.date(2026, 4, 13), dt.date(2026, 4, 13), True),
        (dt.date(2026, 4, 14), None, False),
        (None, dt.date(2026, 4, 12), False),
    ],
)
def test_a_deputy_may_on_the_days_of_the_role_and_on_no_other(firms, monday_morning, first, last, may):
    deputy = add_person(firms[0], "Sam", SUPERVISOR, first_day=first, last_day=last)
    assert access.has_role(deputy, firms[0], SUPERVISOR) is may
    assert (firms[0] in access.builders_of(deputy)) is may
    assert (deputy in access.holders_of(firms[0], SUPERVISOR)) is may


def test_who_was_shut_out_plans_for_nobody_and_is_told_nothing(firms, planner):
    gone = add_person(firms[0], "Ola", PLANNER)
    assert access.planners_of(firms[0]) == [planner, gone]
    gone.is_active = False
    gone.save()
    assert access.planners_of(firms[0]) == [planner]


def test_a_role_is_returned_or_its_name_said(firms, planner):
    assert access.require_role(planner, firms[0], PLANNER, SUPERVISOR).kind == PLANNER
    with pytest.raises(NotAllowed, match=r"supervisor, assessor"):
        access.require_role(planner, firms[0], SUPERVISOR, Role.Kind.ASSESSOR)


# ------------------------------------------------------------------ views


@access.for_roles(PLANNER)
def page(request, word="seen"):
    return HttpResponse(word)


@access.for_roles()
def refusing_page(request):
    raise NotAllowed("Only the moon may.")


def ask(view, person, **extra):
    request = RequestFactory().get("/houses/7/")
    request.user = person
    return view(request, **extra)


def test_strangers_are_sent_to_sign_in_and_come_back(firms):
    answer = ask(page, AnonymousUser())
    assert answer.status_code == 302
    assert answer["Location"].endswith("?next=/houses/7/")


@pytest.mark.parametrize(
    ("came_from", "back"),
    [
        ("http://testserver/houses/7/visits/?stage=2", "/houses/7/visits/%3Fstage%3D2"),
        ("http://elsewhere.example/houses/7/", "/"),
        ("", "/"),
    ],
)
def test_a_form_sent_after_the_session_leads_back_to_its_page_and_says_nothing_was_saved(
    db, client, came_from, back
):
    answer = client.post("/houses/7/visits/2/firm/", headers={"referer": came_from})
    assert answer.status_code == 302
    assert answer["Location"].endswith(f"?next={back}")
    assert "nothing was saved" in client.get(answer["Location"]).content.decode()


def test_a_person_with_the_role_sees_the_page(planner):
    assert ask(page, planner, word="here").content == b"here"


def test_a_person_without_the_role_gets_the_page_that_says_which(firms):
    supervisor = add_person(firms[0], "Kit", SUPERVISOR)
    answer = ask(page, supervisor)
    assert answer.status_code == 403
    assert b"planner" in answer.content


def test_a_refusal_inside_the_view_is_said_with_its_words(planner):
    answer = ask(refusing_page, planner)
    assert answer.status_code == 403
    assert b"Only the moon may." in answer.content


@pytest.mark.parametrize("text", ["", "-1", "1.0", "x", " 1", "\u00b2", "9" * 19, "9" * 5_000])
def test_what_cannot_be_a_key_is_none(text):
    assert access.read_key(text) is None


def test_a_key_is_read_to_the_longest_that_a_column_holds():
    assert (access.read_key("7"), access.read_key("9" * 18)) == (7, 10**18 - 1)
