"""The office keeps its crews: added with company and contact, changed, retired, their members listed."""

import datetime as dt
import re
from typing import Any

import pytest
from django.core import mail
from django.test import Client

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.companies import find_alike
from coordination.people.models import Builder, Company, Crew, CrewLink, CrewMember, Engagement, Person, Role
from coordination.people.refusals import BadInput
from coordination.reminders import sending
from coordination.sequence import bookings
from coordination.sequence.models import House
from tests.planner.conftest import booking_of, linings_visit, text_of
from tests.sequence.brick_veneer import Office, plan_of
from tests.sequence.builders import make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def entry(office: Office, house: House) -> dict[str, Any]:
    """What the office types for a new crew."""
    Message.objects.all().delete()
    return {
        "builder": office.builder.slug,
        "company": "Thornbill Linings Pty Ltd",
        "company_phone": "03 5550 0130",
        "trade": linings_visit(house).trade_id,
        "name": "",
        "contact_name": "Noor Teasel",
        "contact_mail": "Noor@Thornbill.example",
        "contact_phone": "03 5550 0131",
        "calendar": office.calendar.pk,
        "capacity": "2",
    }


def crew_of(house: House) -> Crew:
    """The plasterer that was asked for the linings."""
    return booking_of(house, linings_visit(house).key).crew


def test_a_new_crew_gets_the_link_of_its_page_at_once_and_can_be_booked(
    planner: Client, client: Client, office: Office, house: House, entry: dict[str, Any]
) -> None:
    answer = planner.post("/crews/new/", entry, follow=True)
    assert "the link of its page goes to noor@thornbill.example" in text_of(answer)
    crew = Crew.objects.get(name="Thornbill Linings Pty Ltd")
    assert (crew.company.phone, crew.capacity, crew.calendar) == ("03 5550 0130", 2, office.calendar)
    assert crew.contact is not None
    assert (crew.contact.name, crew.contact.phone) == ("Noor Teasel", "03 5550 0131")
    assert Engagement.objects.filter(builder=office.builder, company=crew.company).count() == 1
    assert sending.send_single_messages() == 1
    [letter] = mail.outbox
    assert letter.to == ["noor@thornbill.example"]
    found = re.search(r"/v/[\w-]{32}/", str(letter.body))
    assert found is not None
    page = client.get(found[0])
    assert (page.status_code, crew.name in text_of(page)) == (200, True)
    bookings.change_crew(linings_visit(house), crew, office.planner, "nearer")
    assert crew_of(house) == crew


def test_pressed_twice_it_is_one_company_one_crew_and_one_letter(
    planner: Client, office: Office, entry: dict[str, Any]
) -> None:
    before = Company.objects.count()
    planner.post("/crews/new/", entry)
    again = planner.post("/crews/new/", entry)
    assert (again.status_code, "has a crew" in text_of(again)) == (422, True)
    assert (Company.objects.count(), Message.objects.count()) == (before + 1, 1)
    other = planner.post("/crews/new/", {**entry, "company": "thornbill linings pty ltd ", "name": "Second"})
    assert other.status_code == 302
    assert Crew.objects.filter(company__name="Thornbill Linings Pty Ltd").count() == 2


def test_a_company_spelt_otherwise_is_offered_and_not_made_twice(
    planner: Client, office: Office, house: House, entry: dict[str, Any]
) -> None:
    known = crew_of(house).company  # Banksia Linings Pty Ltd
    spelt = {**entry, "company": "Banksia  Linnings P/L"}
    asked = planner.post("/crews/new/", {**spelt, "company": "BANKSIA LINING"})
    assert asked.status_code == 422
    assert f"It is {known.name}" in text_of(asked)
    assert not Person.objects.filter(email="noor@thornbill.example").exists(), "nothing is half saved"
    taken = planner.post(
        "/crews/new/", {**spelt, "company": "BANKSIA LINING", "same": known.pk, "name": "Two"}
    )
    assert taken.status_code == 302
    assert Crew.objects.get(name="Two").company == known
    another = {**spelt, "company": "BANKSIA LINING", "same": "another", "name": "Three"}
    assert planner.post("/crews/new/", another).status_code == 302
    assert Crew.objects.get(name="Three").company.name == "BANKSIA LINING"
    assert find_alike(office.builder, "Wattle Slabs") == []


def test_another_builders_companies_and_people_are_not_offered_and_stay_theirs(
    planner: Client, stranger: Client, office: Office, entry: dict[str, Any]
) -> None:
    other = Builder.objects.get(name="Other Homes")
    theirs = {**entry, "builder": other.slug, "calendar": other.calendars.get().pk}
    assert stranger.post("/crews/new/", theirs).status_code == 302
    crew = Crew.objects.get(company__engagements__builder=other)
    same_name = planner.post(
        "/crews/new/", {**entry, "contact_mail": "", "contact_name": "", "contact_phone": ""}
    )
    assert same_name.status_code == 302
    own = Crew.objects.get(company__engagements__builder=office.builder, name=crew.name)
    assert own.company != crew.company, "it neither joins them nor learns that they are here"
    guessed = planner.post("/crews/new/", {**entry, "name": "x", "contact_name": "Somebody Else"})
    assert guessed.status_code == 422
    assert "Noor Teasel" not in text_of(guessed)
    shown = planner.get(f"/crews/{own.pk}/").content.decode() + planner.get("/crews/new/").content.decode()
    assert "Noor Teasel" not in shown
    assert planner.post("/crews/new/", {**entry, "builder": other.slug}).status_code == 404
    foreign_calendar = {**entry, "name": "y", "calendar": other.calendars.get().pk}
    assert planner.post("/crews/new/", foreign_calendar).status_code == 422
    joined = planner.post("/crews/new/", {**entry, "name": "y"})
    assert joined.status_code == 302, "whoever knows name and address may ask her to work"
    crew.refresh_from_db()
    y = Crew.objects.get(name="y")
    assert y.contact == crew.contact
    theft = {**entry, "company": y.company.name, "name": "y", "contact_mail": "thief@example.test"}
    refused = planner.post(f"/crews/{y.pk}/change/", theft)
    assert (refused.status_code, "also works for others" in text_of(refused)) == (422, True)


def test_other_roles_other_builders_and_visitors_keep_no_crews(
    supervisor: Client, stranger: Client, client: Client, house: House, entry: dict[str, Any]
) -> None:
    crew = crew_of(house)
    member = CrewMember.objects.create(
        crew=crew, person=Person.objects.create_user("m@example.test", name="M")
    )
    acts = ("change/", "retire/", "again/", "members/", f"members/{member.pk}/leave/", "link/send/")
    for act in acts:
        address = f"/crews/{crew.pk}/{act}"
        assert "/sign-in/" in client.post(address).headers["Location"]
        assert supervisor.post(address).status_code == 403
        assert stranger.post(address).status_code == 404
    assert supervisor.get("/crews/new/").status_code == 403
    assert supervisor.post("/crews/new/", entry).status_code == 403
    assert stranger.get(f"/crews/{crew.pk}/change/").status_code == 404
    crew.refresh_from_db()
    member.refresh_from_db()
    assert (crew.retired_on, member.left_on) == (None, None)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"company": " "}, "Company"),
        ({"trade": "0"}, "Trade"),
        ({"capacity": "0"}, "greater than or equal to 1"),
        ({"contact_mail": "nowhere"}, "valid email address"),
        ({"contact_mail": ""}, "Give the address too"),
        ({"contact_name": ""}, "Say whose address this is"),
        ({"contact_name": "", "contact_mail": ""}, "Say whose number this is"),
        ({"contact_name": "Another", "contact_mail": "PLANNER"}, "is the address of"),
    ],
)
def test_what_cannot_be_a_crew_is_refused_by_name_and_nothing_is_kept(
    planner: Client, office: Office, entry: dict[str, Any], changes: dict[str, str], words: str
) -> None:
    if changes.get("contact_mail") == "PLANNER":
        changes = changes | {"contact_mail": office.planner.email}
    before = (Company.objects.count(), Crew.objects.count(), Person.objects.count())
    answer = planner.post("/crews/new/", {**entry, **changes})
    assert (answer.status_code, words in text_of(answer)) == (422, True), text_of(answer)
    assert (Company.objects.count(), Crew.objects.count(), Person.objects.count()) == before


def test_a_crew_is_changed_and_whoever_left_its_tools_stays_on_the_list(
    planner: Client, office: Office, house: House, entry: dict[str, Any]
) -> None:
    crew = crew_of(house)
    crew.contact = Person.objects.create_user("old@example.test", name="Old Hand")
    crew.save()
    old = crew.contact
    kept = {**entry, "company": crew.company.name, "name": crew.name}
    mended = {**kept, "contact_name": "old hand", "contact_mail": "old.hand@example.test"}
    assert planner.post(f"/crews/{crew.pk}/change/", mended).status_code == 302
    old.refresh_from_db()
    crew.refresh_from_db()
    assert (crew.contact, old.email, old.phone) == (old, "old.hand@example.test", "03 5550 0131")
    assert planner.post(f"/crews/{crew.pk}/change/", kept).status_code == 302
    crew.refresh_from_db()
    assert crew.contact is not None
    assert crew.contact.name == "Noor Teasel"
    assert CrewMember.objects.get(crew=crew, person=old).left_on == clock.today()
    assert Message.objects.filter(crew=crew, about=f"crew:{crew.pk}").count() == 2, (
        "each new address is sent it"
    )
    assert "left Mon 13 Apr" in text_of(planner.get(f"/crews/{crew.pk}/"))
    other = office.crew("plasterer", "Correa Linings")
    taken = planner.post(f"/crews/{crew.pk}/change/", {**kept, "company": other.company.name})
    assert (taken.status_code, "is another company" in text_of(taken)) == (422, True)
    wrong = planner.post(f"/crews/{crew.pk}/change/", {**kept, "trade": house.visits.first().trade_id})  # type: ignore[union-attr]
    assert (wrong.status_code, "Add a crew of the other trade" in text_of(wrong)) == (422, True)


def test_with_another_calendar_the_crews_houses_are_planned_anew(
    planner: Client, office: Office, house: House, entry: dict[str, Any]
) -> None:
    crew = crew_of(house)
    before = plan_of(house)
    weekdays = {**entry, "company": crew.company.name, "name": crew.name, "calendar": crew.calendar_id}
    planner.post(f"/crews/{crew.pk}/change/", weekdays)
    assert plan_of(house) == before
    half = office.builder.calendars.create(key="mornings", name="Mornings only", week=[1, 1, 1, 1, 1, 0, 0])
    planner.post(f"/crews/{crew.pk}/change/", {**weekdays, "calendar": half.pk})
    assert "works by the calendar Mornings only" in plan_of(house).cause


def test_a_crew_with_live_visits_is_not_retired_and_is_told_which(
    planner: Client, client: Client, office: Office, house: House, entry: dict[str, Any]
) -> None:
    crew, other = crew_of(house), office.crew("plasterer", "Correa Linings")
    page = re.search(r"/v/[\w-]{32}/", planner.post(f"/crews/{crew.pk}/link/").content.decode())
    assert page is not None
    refused = planner.post(f"/crews/{crew.pk}/retire/")
    assert refused.status_code == 409
    assert f"still has visits: {house.name}, Plasterboard: fix and set (asked)" in text_of(refused)
    assert "give them to another crew; retire it then" in text_of(refused)
    visit = linings_visit(house)
    bookings.change_crew(visit, other, office.planner, "retires")
    assert planner.post(f"/crews/{crew.pk}/retire/").status_code == 302
    crew.refresh_from_db()
    assert crew.retired_on == clock.today()
    assert client.get(page[0]).status_code == 404
    assert not CrewLink.objects.filter(crew=crew, revoked_at__isnull=True).exists()
    assert "Retired crews Banksia Linings" in text_of(planner.get("/crews/"))
    for where in ("/houses/new/", f"/houses/{house.pk}/visits/{visit.pk}/"):
        assert "Banksia Linings</option>" not in planner.get(where).content.decode()
    chosen = {"crew": crew.pk, "why": "back"}
    planner.post(f"/houses/{house.pk}/visits/{visit.pk}/crew/", chosen)
    with pytest.raises(BadInput, match="This crew is retired"):
        bookings.change_crew(visit, crew, office.planner, "back")
    assert crew_of(house) == other
    named = planner.post("/crews/new/", {**entry, "company": crew.company.name, "name": crew.name})
    assert "is retired. Take that one on again" in text_of(named)
    assert planner.post(f"/crews/{crew.pk}/again/").status_code == 302
    assert "Banksia Linings</option>" in planner.get("/houses/new/").content.decode()


def test_a_members_own_crews_work_is_not_hers_to_judge_also_after_she_left(
    planner: Client, office: Office, house: House
) -> None:
    crew = crew_of(house)
    two = make_person(office.builder, Role.Kind.SUPERVISOR, "Two-hats")
    added = planner.post(f"/crews/{crew.pk}/members/", {"person": two.pk}, follow=True)
    assert "Two-hats is in Banksia Linings" in text_of(added)
    twice = planner.post(f"/crews/{crew.pk}/members/", {"person": two.pk})
    assert (twice.status_code, "in this crew already" in text_of(twice)) == (422, True)
    member = CrewMember.objects.get(crew=crew, person=two)
    leaves = f"/crews/{crew.pk}/members/{member.pk}/leave/"
    assert planner.post(leaves).status_code == 302
    assert "has left already" in text_of(planner.post(leaves))
    member.refresh_from_db()
    assert member.left_on == clock.today()
    planner.post(f"/crews/{crew.pk}/members/", {"person": two.pk})
    assert CrewMember.objects.get(pk=member.pk).left_on is None
    planner.post(f"/crews/{crew.pk}/members/", {"name": "Ivo New", "mail": "ivo@example.test"})
    assert CrewMember.objects.get(person__email="ivo@example.test").crew == crew
    nobody = planner.post(f"/crews/{crew.pk}/members/", {})
    assert (nobody.status_code, "Choose who works in the crew" in text_of(nobody)) == (422, True)


def test_a_crew_that_others_engage_too_gets_its_link_itself_and_is_changed_by_nobody_alone(
    planner: Client, stranger: Client, office: Office, house: House, entry: dict[str, Any]
) -> None:
    """Its page shows the visits of all builders."""
    crew = crew_of(house)
    crew.contact = Person.objects.create_user("pip@example.test", name="Pip")
    crew.save()
    theirs = make_person(office.builder, Role.Kind.SUPERVISOR, "Office-of-one")
    CrewMember.objects.create(crew=crew, person=theirs)
    Engagement.objects.create(builder=Builder.objects.get(name="Other Homes"), company=crew.company)
    made = stranger.post(f"/crews/{crew.pk}/link/")
    assert (made.status_code, "/v/" in made.content.decode()) == (302, False)
    assert not CrewLink.objects.filter(crew=crew).exists()
    assert sending.send_single_messages() == 1
    assert mail.outbox[0].to == ["pip@example.test"]
    page = stranger.get(f"/crews/{crew.pk}/")
    assert "also works for others here" in text_of(page)
    assert "Office-of-one" not in page.content.decode()
    for act in ("retire/", "again/"):
        assert stranger.post(f"/crews/{crew.pk}/{act}").status_code == 409
    kept = {**entry, "company": crew.company.name, "name": "Mine", "calendar": crew.calendar_id}
    assert stranger.post(f"/crews/{crew.pk}/change/", kept).status_code == 409
    crew.refresh_from_db()
    assert (crew.name, crew.retired_on) == ("Banksia Linings", None)


def test_a_link_is_sent_again_and_without_an_address_the_remedy_is_said(
    planner: Client, house: House, monday_morning: Any
) -> None:
    crew = crew_of(house)
    Message.objects.all().delete()
    refused = planner.post(f"/crews/{crew.pk}/link/send/")
    assert (refused.status_code, "Enter the person first" in text_of(refused)) == (409, True)
    crew.contact = Person.objects.create_user("pip@example.test", name="Pip")
    crew.save()
    for _turn in range(2):
        planner.post(f"/crews/{crew.pk}/link/send/")
    assert Message.objects.count() == 1
    monday_morning.shift(dt.timedelta(minutes=1))
    planner.post(f"/crews/{crew.pk}/link/send/")
    assert Message.objects.count() == 2
