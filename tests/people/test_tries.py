"""Wrong passwords are counted and stop being looked at; time, not the right password, opens again."""

import pytest

from coordination.people.models import Person, WrongTry
from coordination.people.refusals import BadInput
from coordination.people.tries import MOST_FROM_ALL, MOST_FROM_ONE_ADDRESS, note_wrong, too_many
from hold_points.models import Release
from hold_points.signing import Signature
from tests.hold_points.houses import PASSWORD, STROKES, make_site

WHERE = "/accounts/sign-in/"


@pytest.fixture
def kit(db, monday_morning):
    return Person.objects.create_user("kit@example.org", PASSWORD, name="Kit Marlow")


def enter(client, password, address="10.0.0.1", who="kit@example.org"):
    return client.post(WHERE, {"username": who, "password": password}, REMOTE_ADDR=address)


def test_after_five_wrong_ones_even_the_right_password_is_not_looked_at(client, kit, monday_morning):
    for _turn in range(MOST_FROM_ONE_ADDRESS):
        assert "Too many" not in enter(client, "wrong").content.decode()
    assert "Too many wrong passwords" in enter(client, PASSWORD).content.decode()
    assert enter(client, PASSWORD, address="10.0.0.2").status_code == 302, "her own tablet is not locked out"
    client.logout()
    monday_morning.shift(16 * 60)
    assert enter(client, PASSWORD).status_code == 302


def test_the_right_password_starts_the_count_anew(client, kit):
    for _turn in range(MOST_FROM_ONE_ADDRESS - 1):
        enter(client, "wrong")
    assert enter(client, PASSWORD).status_code == 302
    assert not WrongTry.objects.exists()


def test_an_address_that_nobody_has_is_counted_alike(client, kit):
    for _turn in range(MOST_FROM_ONE_ADDRESS):
        enter(client, "wrong", who="nobody@example.org")
    assert "Too many" in enter(client, "wrong", who=" Nobody@Example.org ").content.decode()


def test_many_addresses_together_have_a_limit_as_well(kit):
    for number in range(MOST_FROM_ALL):
        note_wrong(kit.email, f"10.0.1.{number}")
    assert too_many(kit.email, "10.9.9.9")


def test_wrong_passwords_at_signing_are_counted_although_the_act_is_undone(
    db, monday_morning, settings, tmp_path
):
    settings.MEDIA_ROOT = tmp_path
    site = make_site()
    site.pass_checks("H3")
    wrong = Signature(site.supervisor.name, STROKES, password="wrong")
    for _turn in range(MOST_FROM_ONE_ADDRESS):
        with pytest.raises(BadInput, match="not your password"):
            site.sign("H3", signature=wrong)
    with pytest.raises(BadInput, match="Too many"):
        site.sign("H3")
    assert not Release.objects.exists()
    monday_morning.shift(16 * 60)
    site.sign("H3")
    assert Release.objects.count() == 1
