"""Who leaves a crew stays on its list, and signs nothing that the crew was booked for while he was in it."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError
from django.urls import reverse

from coordination.people.models import CrewMember, Person
from coordination.people.refusals import NotAllowed
from coordination.sequence.models import Booking

MONDAY = dt.date(2026, 4, 13)


@pytest.fixture
def membership(site):
    return CrewMember.objects.get(person=site.tradesman)


def leave(membership, day):
    CrewMember.objects.filter(pk=membership.pk).update(left_on=day)


@pytest.mark.parametrize("day", [MONDAY, MONDAY + dt.timedelta(days=30)])
def test_who_left_after_the_crew_was_booked_does_not_sign_for_it(site, membership, day):
    site.release_all("H3")
    site.pass_checks("H4")
    leave(membership, day)
    with pytest.raises(NotAllowed, match="installed what is judged here"):
        site.sign("H4", by=site.tradesman)


def test_who_left_before_the_crew_was_booked_signs(site, membership):
    site.release_all("H3")
    site.pass_checks("H4")
    leave(membership, MONDAY - dt.timedelta(days=1))
    assert site.sign("H4", by=site.tradesman)


def test_a_booking_that_was_stood_down_still_counts_from_its_day(site, membership):
    site.release_all("H3")
    site.pass_checks("H4")
    leave(membership, MONDAY)
    Booking.objects.filter(crew=membership.crew).update(state="stood down")
    with pytest.raises(NotAllowed):
        site.sign("H4", by=site.tradesman)


def test_a_membership_is_deleted_by_no_way(site, membership):
    with pytest.raises(IntegrityError, match="stays on the list"), transaction.atomic():
        membership.delete()
    with pytest.raises(IntegrityError, match="stays on the list"), transaction.atomic():
        CrewMember.objects.all().delete()
    with pytest.raises(ProtectedError):
        site.tradesman.delete()


def test_a_person_on_the_tools_who_is_replaced_stays_on_the_list(site):
    crew = site.crews["plumber"]
    before = Person.objects.create_user("lee@example.org", name="Lee Ward")
    crew.contact = before
    crew.save()
    crew.contact = None
    crew.save()
    kept = CrewMember.objects.get(crew=crew, person=before)
    assert kept.left_on == MONDAY
    crew.contact = site.tradesman
    crew.save()
    crew.contact = before
    crew.save()
    assert CrewMember.objects.get(crew=crew, person=site.tradesman).left_on is None


def test_leaving_is_not_dated_back(membership):
    membership.left_on = MONDAY - dt.timedelta(days=1)
    with pytest.raises(ValidationError, match="today or a day to come"):
        membership.full_clean()
    membership.left_on = MONDAY
    membership.full_clean()
    leave(membership, MONDAY - dt.timedelta(days=9))
    membership.refresh_from_db()
    membership.full_clean()


def test_the_office_ends_a_membership_and_cannot_delete_it(site, membership, client):
    chief = Person.objects.create_superuser("chief@example.org", "a long password 1", name="Chief")
    client.force_login(chief)
    crew = membership.crew
    page = reverse("admin:people_crew_change", args=[crew.pk])
    shown = client.get(page).content.decode()
    assert 'name="members-0-left_on"' in shown
    assert "members-0-DELETE" not in shown
    sent = {
        "company": crew.company_id,
        "trade": crew.trade_id,
        "name": crew.name,
        "capacity": crew.capacity,
        "calendar": crew.calendar_id,
        "word_time": "",
        "contact": "",
        "tells": crew.tells,
        "members-TOTAL_FORMS": 1,
        "members-INITIAL_FORMS": 1,
        "members-0-id": membership.pk,
        "members-0-crew": crew.pk,
        "members-0-person": site.planner.pk,
        "members-0-left_on": "2026-04-13",
        "members-0-DELETE": "on",
    }
    answer = client.post(page, sent)
    assert answer.status_code == 302, answer.context["errors"]
    membership.refresh_from_db()
    assert (membership.person, membership.left_on) == (site.tradesman, MONDAY)
