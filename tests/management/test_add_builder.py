"""The first command of an installation: a builder, its region and week, and a planner who sets a password."""

import io
import re

import pytest
from django.core.management import CommandError, call_command

from coordination.people.models import Builder, Person, Region, Role, WorkingCalendar

pytestmark = pytest.mark.django_db


def add(*arguments):
    out = io.StringIO()
    call_command("add_builder", *arguments, stdout=out)
    return out.getvalue()


def test_a_builder_begins_with_all_that_the_first_house_needs_and_its_planner_sets_a_password(client):
    said = add("Wren & Reed Homes", "--planner", "Ada Quoll", "--mail", "Ada@Wren.example", "--state", "vic")
    builder = Builder.objects.get()
    assert (builder.slug, builder.state, builder.time_zone) == (
        "wren-reed-homes",
        "VIC",
        "Australia/Melbourne",
    )
    assert Region.objects.get(builder=builder).holidays_key == "AU-VIC"
    assert WorkingCalendar.objects.get(builder=builder).week == [2, 2, 2, 2, 2, 0, 0]
    [way] = re.findall(r"http://\S+?(/accounts/password/\S+)", said)
    assert "one-click" not in said, "an installation has no such way in"
    inside = client.get(way, follow=True).redirect_chain[-1][0]
    secret = "four bare studs in a row"
    client.post(inside, {"new_password1": secret, "new_password2": secret})
    landed = client.post("/accounts/sign-in/", {"username": "ada@wren.example", "password": secret})
    assert landed.headers["Location"] == "/"
    for page in ("/", "/accounts/people/", "/crews/new/", "/sequences/", "/houses/new/"):
        assert client.get(page).status_code == 200
    assert "The first day" in client.get("/").content.decode()


def test_in_an_office_of_one_the_planner_also_walks_and_who_is_known_keeps_her_sign_in():
    Person.objects.create_superuser("ada@wren.example", "a long secret of hers", name="Ada Quoll")
    said = add("Wren", "--mail", "ada@wren.example", "--also", "supervisor")
    assert "/accounts/sign-in/" in said
    assert set(Role.objects.values_list("kind", flat=True)) == {"planner", "supervisor"}
    assert Person.objects.count() == 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["Wren", "--mail", "a@wren.example"], "name of the first planner"),
        (["Wren", "--planner", "Ada", "--mail", "nowhere"], "no e-mail address"),
        (["!", "--planner", "Ada", "--mail", "a@wren.example"], "name with letters"),
        (["Known", "--planner", "Ada", "--mail", "a@wren.example"], "is a builder 'known' already"),
        (["Wren", "--planner", "Ada", "--mail", "a@wren.example", "--state", "XX"], "one of ACT, NSW"),
        (["Wren", "--planner", "Ada", "--mail", "a@wren.example", "--climate-zone", "9"], "'9' is unknown"),
        (["Wren", "--planner", "Ada", "--mail", "a@wren.example", "--time-zone", "Mars"], "no time zone"),
    ],
)
def test_what_cannot_be_is_refused_by_name_and_nothing_is_saved(arguments, words):
    Builder.objects.create(name="Known", slug="known")
    with pytest.raises(CommandError, match=words):
        add(*arguments)
    assert (Builder.objects.count(), Person.objects.count(), Region.objects.count()) == (1, 0, 0)
