"""People come, change and go by the office's own page: told by mail, refused by name, and its own only."""

import html
import re

import pytest
from django.core import mail
from django.test import Client

from coordination import clock
from coordination.outbox.models import Message
from coordination.people.models import Crew, CrewMember, Person, Role
from coordination.people.refusals import NotAllowed
from coordination.reminders import sending
from coordination.reminders.channels import CHANNELS
from coordination.sequence.models import Change
from hold_points.signing import Signature
from tests.hold_points.houses import PASSWORD, STROKES, make_site
from tests.sequence.builders import make_crew, make_person

PEOPLE = "/accounts/people/"
NEW = {"act": "join", "name": "Ada Quoll", "mail": " Ada@Quoll.example", "phone": "03 5550 0109"}
SECRET = "four bare studs in a row"


@pytest.fixture
def site(db, monday_morning, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    ready = make_site()
    Message.objects.all().delete()
    return ready


@pytest.fixture
def planner(site):
    browser = Client()
    browser.force_login(site.planner)
    return browser


def words_of(answer):
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())


def page_of(person):
    return f"{PEOPLE}{person.pk}/"


def link_in(letter):
    [path] = re.findall(r"/accounts/password/\S+", letter.body)
    return path


def test_a_new_supervisor_follows_the_link_of_her_letter_to_her_walks(site, planner, client):
    answer = planner.post(PEOPLE, {**NEW, "kind": "supervisor", "builder": site.builder.pk}, follow=True)
    assert "Ada Quoll is supervisor now" in words_of(answer)
    ada = Person.objects.get(email="ada@quoll.example")
    role = ada.roles.get()
    assert (role.kind, role.builder, role.granted_by) == ("supervisor", site.builder, site.planner)
    assert (ada.phone, ada.has_usable_password()) == ("03 5550 0109", False)
    assert sending.send_single_messages() == 1
    [letter] = mail.outbox
    assert letter.to == ["ada@quoll.example"]
    assert letter.subject == f"{site.builder.name}: you are supervisor"
    way = link_in(letter)
    assert not Message.objects.filter(body__contains="/password/").exists(), "the secret is kept nowhere"
    for _turn in range(3):
        form = client.get(way, follow=True)  # whatever follows links uses nothing up
    assert "Set your password" in words_of(form)
    inside = form.redirect_chain[-1][0]
    weak = client.post(inside, {"new_password1": "1234", "new_password2": "1234"})
    assert (weak.status_code, "too short" in words_of(weak)) == (422, True)
    done = client.post(inside, {"new_password1": SECRET, "new_password2": SECRET})
    assert done.headers["Location"] == "/accounts/sign-in/"
    entered = {"username": "ada@quoll.example", "password": SECRET}
    for asked in ("", "/"):
        landed = client.post("/accounts/sign-in/", {**entered, "next": asked})
        assert landed.headers["Location"] == "/walks/", "walks are all her work"
        client.post("/accounts/sign-out/")
    assert client.post("/accounts/sign-in/", {**entered, "next": "/week/"}).headers["Location"] == "/week/"
    used = Client().get(way, follow=True)
    assert (used.status_code, "opens nothing any more" in words_of(used)) == (404, True)


def test_a_link_opens_nothing_after_its_hour(site, planner, client, settings, monday_morning):
    planner.post(PEOPLE, {**NEW, "kind": "assessor", "builder": site.builder.pk})
    sending.send_single_messages()
    way = link_in(mail.outbox[0])
    monday_morning.shift(settings.PASSWORD_RESET_TIMEOUT - 1)
    assert client.get(way, follow=True).status_code == 200
    monday_morning.shift(2)
    assert client.get(way, follow=True).status_code == 404


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"name": " "}, "Name"),
        ({"mail": "ada at quoll"}, "valid email address"),
        ({"kind": "owner"}, "Select a valid choice"),
        ({"kind": "contact"}, "Select a valid choice"),
        ({"mail": "KIT"}, "is the address of"),
        ({"mail": "PAT", "name": "PAT", "kind": "supervisor"}, "Nobody gives herself a role that signs"),
        ({"mail": "PAT", "name": "PAT"}, "is planner already"),
    ],
)
def test_who_cannot_be_taken_on_is_refused_by_name_and_nothing_is_kept(site, planner, changes, words):
    people = {"KIT": site.supervisor, "PAT": site.planner}
    entered = {**NEW, "kind": "planner", "builder": site.builder.pk, **changes}
    if entered["name"] in people:
        entered["name"] = people[entered["name"]].name.upper()
    if entered["mail"] in people:
        entered["mail"] = people[entered["mail"]].email
    before = (Person.objects.count(), Role.objects.count())
    answer = planner.post(PEOPLE, entered)
    assert answer.status_code == 422
    assert words in words_of(answer)
    assert (Person.objects.count(), Role.objects.count()) == before
    assert not Message.objects.exists()
    if entered["kind"] == "supervisor":
        assert '<option value="supervisor" selected>' in answer.content.decode(), "the choice stands again"


def test_another_builders_person_is_taken_on_by_address_and_name_only_and_changed_by_nobody_here(
    site, planner
):
    other = make_site("lot-8", "wattle")
    foreign = other.supervisor
    entered = {**NEW, "mail": foreign.email, "kind": "supervisor", "builder": site.builder.pk}
    guessed = planner.post(PEOPLE, entered)
    assert guessed.status_code == 422
    assert foreign.name not in words_of(guessed)
    assert planner.get(page_of(foreign)).status_code == 404
    assert planner.post(PEOPLE, {**entered, "name": foreign.name.upper()}).status_code == 302
    foreign.refresh_from_db()
    assert foreign.phone == "", "what the other builder keeps stays"
    assert "also works for others here" in words_of(planner.get(page_of(foreign)))
    theft = {"act": "change", "name": foreign.name, "mail": "thief@example.test"}
    assert planner.post(page_of(foreign), theft).status_code == 422
    ending = {
        "act": "end",
        "builder": other.builder.pk,
        "role": foreign.roles.get(builder=other.builder).pk,
    }
    assert planner.post(page_of(foreign), ending).status_code == 404
    ending["builder"] = site.builder.pk
    assert planner.post(page_of(foreign), ending).status_code == 422
    foreign.refresh_from_db()
    assert foreign.email != "thief@example.test"
    assert foreign.roles.filter(ended_at__isnull=True).count() == 2


def test_who_is_shared_through_a_crew_or_runs_the_server_is_not_changed_either(site, planner):
    other = make_site("lot-8", "wattle")
    crew = make_crew(other.builder, "plumber", "Their pipes")
    CrewMember.objects.create(crew=crew, person=site.supervisor)
    change = {"act": "change", "name": "New", "mail": site.supervisor.email}
    assert planner.post(page_of(site.supervisor), change).status_code == 422
    Person.objects.filter(pk=site.assessor.pk).update(is_staff=True)
    change["mail"] = site.assessor.email
    assert planner.post(page_of(site.assessor), change).status_code == 422


def test_only_a_planner_of_the_builder_sees_and_changes_its_people(site, client):
    address = page_of(site.planner)
    assert "/sign-in/" in client.get(address).headers["Location"]
    for who, status in ((site.supervisor, 403), (make_site("lot-8", "wattle").planner, 404)):
        client.force_login(who)
        assert client.get(address).status_code == status
        assert (
            client.post(address, {"act": "change", "name": "X", "mail": "x@y.example"}).status_code == status
        )
    assert client.post(PEOPLE, {**NEW, "kind": "planner", "builder": site.builder.pk}).status_code == 404


def test_the_page_of_people_asks_no_more_questions_for_more_people(
    site, planner, django_assert_num_queries, django_assert_max_num_queries
):
    with django_assert_max_num_queries(12) as few:
        planner.get(PEOPLE)
    for name in ("Ola", "Bea", "Imo"):
        role = make_person(site.builder, Role.Kind.SUPERVISOR, name).roles.get()
        given = {"builder": site.builder, "kind": role.kind, "deputy_for": role, "last_day": "2026-04-30"}
        Role.objects.create(person=site.planner, granted_by=site.assessor, first_day=None, **given)
        Role.objects.create(person=site.assessor, ended_by=site.planner, ended_at=clock.now(), **given)
    with django_assert_num_queries(len(few)):
        assert "Roles that are over" in words_of(planner.get(PEOPLE))


def test_an_address_mistyped_is_mended_and_the_letter_goes_to_the_right_one(site, planner):
    planner.post(PEOPLE, {**NEW, "mail": "aad@quoll.example", "kind": "planner", "builder": site.builder.pk})
    ada = Person.objects.get(email="aad@quoll.example")
    change = {"act": "change", "name": "Ada Quoll", "mail": "ada@quoll.example", "phone": "03 5550 0110"}
    taken = planner.post(page_of(ada), {**change, "mail": site.supervisor.email})
    assert (taken.status_code, "is in use already" in words_of(taken)) == (422, True)
    assert planner.post(page_of(ada), change).status_code == 302
    ada.refresh_from_db()
    assert (ada.email, ada.phone) == ("ada@quoll.example", "03 5550 0110")
    sending.send_single_messages()
    assert [one.to for one in mail.outbox] == [["ada@quoll.example"]] * 2
    assert "set your password" in mail.outbox[1].subject


def test_the_address_of_who_signs_is_changed_by_herself_and_the_old_one_is_told(site, planner, client):
    """Whoever has the address sets the password, and would sign in her name."""
    client.force_login(site.supervisor)  # she has been here
    old = site.supervisor.email
    change = {"act": "change", "name": "Kit Marlow-Reed", "mail": "planner-too@example.test"}
    refused = planner.post(page_of(site.supervisor), change)
    assert (refused.status_code, "only she changes it" in words_of(refused)) == (422, True)
    assert planner.post(page_of(site.supervisor), {**change, "mail": old}).status_code == 302
    own = {"name": "Kit Marlow-Reed", "mail": "kit.reed@example.test"}
    wrong = client.post("/accounts/self/", {**own, "password": "wrong"})
    assert (wrong.status_code, "not your password" in words_of(wrong)) == (422, True)
    assert client.post("/accounts/self/", {**own, "password": PASSWORD}).status_code == 302
    site.supervisor.refresh_from_db()
    assert (site.supervisor.name, site.supervisor.email) == ("Kit Marlow-Reed", "kit.reed@example.test")
    assert sending.send_single_messages() == 1
    [letter] = mail.outbox
    assert letter.to == [old]
    assert "You sign in as kit.reed@example.test from now on" in letter.body


def test_a_supervisor_leaves_after_her_houses_were_handed_over(site, planner):
    role = site.supervisor.roles.get()
    deputy = Role.objects.create(
        person=site.assessor, builder=site.builder, kind="supervisor", deputy_for=role, last_day="2026-04-30"
    )
    taker = make_person(site.builder, Role.Kind.SUPERVISOR, "Bea")
    own = {"builder": site.builder.pk}
    refused = planner.post(page_of(site.supervisor), {**own, "act": "end", "role": role.pk})
    assert refused.status_code == 422
    assert f"supervises {site.house.name}. Hand them over first" in words_of(refused)
    give = {**own, "act": "hand-over", "house": site.house.pk, "taker": taker.pk}
    nobody = planner.post(page_of(site.supervisor), {**give, "taker": site.planner.pk})
    assert (nobody.status_code, "Choose the supervisor" in words_of(nobody)) == (422, True)
    assert planner.post(page_of(site.supervisor), give).status_code == 302
    site.house.refresh_from_db()
    assert site.house.supervisor == taker
    line = Change.objects.get(house=site.house, what="supervisor")
    assert (line.by, line.words) == (
        site.planner,
        f"Supervisor: {taker.name} instead of {site.supervisor.name}",
    )
    assert Message.objects.get(person=taker).subject.endswith("houses handed over to you")
    again = planner.post(page_of(site.supervisor), give)
    assert (again.status_code, "still in this hand" in words_of(again)) == (422, True)
    assert planner.post(page_of(site.supervisor), {**own, "act": "end", "role": role.pk}).status_code == 302
    role.refresh_from_db()
    deputy.refresh_from_db()
    assert role.ended_by == deputy.ended_by == site.planner
    browser = Client()
    browser.force_login(site.supervisor)
    assert browser.get("/walks/").status_code == 403
    assert "No role any more" in words_of(planner.get(page_of(site.supervisor)))
    assert (
        planner.post(page_of(site.supervisor), {**own, "act": "give", "kind": "supervisor"}).status_code
        == 302
    )


def test_houses_of_another_builder_are_handed_over_by_nobody_here(site, planner):
    other = make_site("lot-8", "wattle")
    taker = make_person(site.builder, Role.Kind.SUPERVISOR, "Bea")
    Role.objects.create(person=site.supervisor, builder=other.builder, kind="supervisor")
    other.house.supervisor = site.supervisor
    other.house.save(update_fields=["supervisor"])
    give = {"builder": site.builder.pk, "act": "hand-over", "house": other.house.pk, "taker": taker.pk}
    assert other.house.name not in words_of(planner.get(page_of(site.supervisor)))
    assert planner.post(page_of(site.supervisor), give).status_code == 422
    other.house.refresh_from_db()
    assert other.house.supervisor == site.supervisor


def test_the_last_planner_stays_until_there_is_another(site, planner):
    own = {"builder": site.builder.pk, "act": "end", "role": site.planner.roles.get().pk}
    refused = planner.post(page_of(site.planner), own)
    assert (refused.status_code, "is the last planner" in words_of(refused)) == (422, True)
    gone = make_person(site.builder, Role.Kind.PLANNER, "Ola")
    Person.objects.filter(pk=gone.pk).update(is_active=False)
    assert planner.post(page_of(site.planner), own).status_code == 422, "who is shut out plans nothing"
    Person.objects.filter(pk=gone.pk).update(is_active=True)
    assert planner.post(page_of(site.planner), own).status_code == 302
    assert planner.get(PEOPLE).status_code == 403, "at once"


def test_a_role_that_ended_signs_nothing_any_more(site, planner):
    site.pass_checks("H3")
    site.house.supervisor = None
    site.house.save(update_fields=["supervisor"])
    role = site.supervisor.roles.get()
    ending = {"builder": site.builder.pk, "act": "end", "role": role.pk}
    assert planner.post(page_of(site.supervisor), ending).status_code == 302
    with pytest.raises(NotAllowed):
        site.sign("H3", signature=Signature(site.supervisor.name, STROKES, password=PASSWORD))


def test_asking_for_a_link_tells_nobody_who_has_an_address(site, client, monday_morning, monkeypatch):
    answers = []
    for address in (site.supervisor.email.upper(), "nobody@example.test"):
        answer = client.post("/accounts/forgotten/", {"mail": address}, follow=True)
        answers.append(words_of(answer).replace(address.lower(), "X"))
    assert answers[0] == answers[1]
    assert "If somebody signs in here as X" in answers[0]
    assert client.post("/accounts/forgotten/", {"mail": "no address"}).status_code == 422
    client.post("/accounts/forgotten/", {"mail": site.supervisor.email})
    assert Message.objects.count() == 1, "one letter a quarter of an hour"
    monday_morning.shift(15 * 60)
    client.post("/accounts/forgotten/", {"mail": site.supervisor.email})
    assert sending.send_single_messages() == 2
    assert {tuple(one.to) for one in mail.outbox} == {(site.supervisor.email,)}
    way = link_in(mail.outbox[1])
    inside = client.get(way, follow=True).redirect_chain[-1][0]
    client.post(inside, {"new_password1": SECRET, "new_password2": SECRET})
    entered = {"username": site.supervisor.email, "password": SECRET}
    assert client.post("/accounts/sign-in/", entered).status_code == 302
    assert client.get(link_in(mail.outbox[0]), follow=True).status_code == 404, "a password ends all links"


def test_asking_too_often_is_refused_and_closes_nobodys_sign_in(site, client):
    for _turn in range(5):
        assert client.post("/accounts/forgotten/", {"mail": site.supervisor.email}).status_code == 302
    refused = client.post("/accounts/forgotten/", {"mail": site.supervisor.email})
    assert (refused.status_code, "asked for too often" in words_of(refused)) == (422, True)
    entered = {"username": site.supervisor.email, "password": PASSWORD}
    assert client.post("/accounts/sign-in/", entered).status_code == 302


def test_who_has_no_role_any_more_or_is_shut_out_gets_no_link(site, client):
    site.supervisor.roles.update(last_day="2026-04-12")
    Person.objects.filter(pk=site.assessor.pk).update(is_active=False)
    Crew.objects.update(contact=site.supervisor)
    for person in (site.supervisor, site.assessor):
        assert client.post("/accounts/forgotten/", {"mail": person.email}).status_code == 302
    assert not Message.objects.exists()


def test_a_letter_that_did_not_go_out_is_listed_and_sent_again_with_a_link_that_opens(
    site, planner, client, monkeypatch, monday_morning
):
    class Away:
        def send(self, envelope):
            raise ConnectionRefusedError("no mail server")

    planner.post(PEOPLE, {**NEW, "kind": "planner", "builder": site.builder.pk})
    with monkeypatch.context() as away:
        away.setitem(CHANNELS, "mail", Away())
        assert sending.send_single_messages() == 0
    assert "you are planner" in words_of(planner.get("/messages/"))
    monday_morning.shift(3 * 60 * 60)
    assert sending.send_single_messages() == 1
    assert client.get(link_in(mail.outbox[0]), follow=True).status_code == 200
