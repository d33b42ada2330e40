"""A house changed at the desk: the difference is seen first, then made; planner and assessor only."""

from typing import Any

import pytest
from django.test import Client

from coordination.people.models import Role
from coordination.sequence.models import House, SequenceVersion, Visit
from coordination.sequence.publishing import publish_sequence
from coordination.sequence.standard import read_sequence
from hold_points.models import Check
from tests.planner.conftest import browser_of, release_before_linings, text_of
from tests.sequence.brick_veneer import ENTRY, Office
from tests.sequence.builders import make_person

pytestmark = pytest.mark.django_db


def fields_of(house: House, version: SequenceVersion, **features: Any) -> dict[str, Any]:
    """What a browser would send: each feature as the house has it, save those given."""
    entry = read_sequence(version.text)
    values = {one.key: house.features.get(one.key, one.default) for one in entry.features} | features
    sent = {f"feature_{key}": value for key, value in values.items() if value is not False}
    return {"version": version.pk, "options": house.options, **sent}


def next_version(office: Office) -> SequenceVersion:
    """Brickwork takes 20 half-days more."""
    text = ENTRY.read_text(encoding="utf-8")
    at = text.index('id = "brick"\n')
    there = text.index("half_days = ", at)
    end = text.index("\n", there)
    half_days = int(text[there:end].split("=")[1])
    return publish_sequence(office.builder, f"{text[:there]}half_days = {half_days + 20}{text[end:]}")


def test_the_difference_is_shown_and_nothing_is_changed(planner: Client, house: House) -> None:
    url = f"/houses/{house.pk}/change/"
    assert "See the difference" in text_of(planner.get(url))
    plans = house.plans.count()
    words = text_of(planner.post(url, fields_of(house, house.sequence_version, airway=40)))
    for part in ("Roof pitch", "Clear air above the batt at the eave 25 40", "at least 40 mm", "asked anew"):
        assert part in words, part
    house.refresh_from_db()
    assert (house.features["airway"], house.plans.count()) == (25, plans)


def test_a_feature_is_changed_and_the_released_hold_reopens(
    planner: Client, office: Office, house: House
) -> None:
    release_before_linings(house, office.supervisor)
    sent = fields_of(house, house.sequence_version, airway=40) | {"apply": "1"}
    words = text_of(planner.post(f"/houses/{house.pk}/change/", sent, follow=True))
    assert "is changed." in words
    assert "re-opened" in words
    house.refresh_from_db()
    assert house.features["airway"] == 40
    assert Check.objects.filter(inspection__house=house, version=2, withdrawn_at=None).exists()


def test_a_house_moves_to_the_newer_version_and_its_pages_still_open(
    planner: Client, office: Office, house: House
) -> None:
    version = next_version(office)
    words = text_of(planner.get(f"/houses/{house.pk}/change/", {"version": version.pk}))
    assert "version 2" in words
    sent = fields_of(house, version)
    seen = text_of(planner.post(f"/houses/{house.pk}/change/", sent))
    assert "What would be different, at version 2" in seen
    assert "half-days" in seen
    planner.post(f"/houses/{house.pk}/change/", sent | {"apply": "1"})
    house.refresh_from_db()
    assert house.sequence_version == version
    for page in ("", "visits/", "details/", "moves/", "ordered/", "progress/", "slip/"):
        assert planner.get(f"/houses/{house.pk}/{page}").status_code == 200


def test_a_detail_that_the_house_no_longer_has_is_gone_from_its_pages(planner: Client, house: House) -> None:
    assert house.details.filter(key="d15").exists()
    sent = fields_of(house, house.sequence_version, heater_platform=False, pipes_in_external_walls=False)
    planner.post(f"/houses/{house.pk}/change/", sent | {"apply": "1"})
    house.refresh_from_db()
    assert house.features["heater_platform"] is False
    assert planner.get(f"/houses/{house.pk}/details/").status_code == 200
    assert planner.get(f"/houses/{house.pk}/").status_code == 200
    assert not Visit.objects.filter(house=house, activities__isnull=True).exists()


def test_a_house_under_unsarked_tiles_is_asked_for_no_roof_opening(planner: Client, house: House) -> None:
    sent = fields_of(house, house.sequence_version, roof_cover="tiles", sarking=False)
    assert "d04" in text_of(planner.post(f"/houses/{house.pk}/change/", sent))
    planner.post(f"/houses/{house.pk}/change/", sent | {"apply": "1"})
    standing = Check.objects.filter(inspection__house=house, withdrawn_at=None)
    assert standing.filter(key__startswith="d03").exists()
    assert not standing.filter(key__startswith="d04").exists()
    assert not standing.filter(key__startswith="d05").exists()
    for page in ("", "details/", "visits/"):
        words = text_of(planner.get(f"/houses/{house.pk}/{page}"))
        assert "Cut the sarking" not in words


def test_what_the_sequence_refuses_is_said_and_nothing_is_changed(planner: Client, house: House) -> None:
    answer = planner.post(
        f"/houses/{house.pk}/change/", fields_of(house, house.sequence_version, storeys=2) | {"apply": "1"}
    )
    assert answer.status_code == 422
    assert "Nothing was changed." in text_of(answer)
    again = planner.post(
        f"/houses/{house.pk}/change/", fields_of(house, house.sequence_version) | {"apply": "1"}
    )
    assert again.status_code == 409
    assert "like this already" in text_of(again)
    wrong = planner.post(
        f"/houses/{house.pk}/change/", fields_of(house, house.sequence_version, pitch="steep")
    )
    assert "Nothing was saved." in text_of(wrong)


def test_planner_and_assessor_change_a_house_and_nobody_else(
    office: Office, house: House, supervisor: Client, stranger: Client, contact: Client
) -> None:
    url = f"/houses/{house.pk}/change/"
    assessor = browser_of(make_person(office.builder, Role.Kind.ASSESSOR, "Ada"))
    assert assessor.get(url).status_code == 200
    assert supervisor.get(url).status_code == 403
    assert contact.get(url).status_code == 403
    assert stranger.get(url).status_code == 404
    assert Client().get(url).status_code == 302


def test_a_house_starts_with_the_builders_state_zone_and_edition(planner: Client, office: Office) -> None:
    office.builder.state, office.builder.climate_zone, office.builder.code_edition = "VIC", 6, "2019"
    office.builder.save()
    page = planner.get("/houses/new/", {"sequence": office.version.pk})
    form = page.context["form"]
    assert form["feature_climate_zone"].value() == 6
    house = office.house(features={"state": "NSW"})
    assert (house.features["state"], house.features["climate_zone"]) == ("NSW", 6)
    assert house.features["ncc_edition"] == "2019"


def test_an_edition_that_the_sequence_does_not_know_is_left_to_the_sequence(office: Office) -> None:
    office.builder.code_edition = "1905"
    office.builder.save()
    assert office.house().features["ncc_edition"] == "2022"


def test_an_option_is_chosen_later_and_given_up_again(planner: Client, house: House) -> None:
    entry = read_sequence(house.sequence_version.text)
    option = next(one for one in entry.options if one.sets)
    url = f"/houses/{house.pk}/change/"
    for chosen in ([option.key], []):
        house.refresh_from_db()
        sent = fields_of(house, house.sequence_version) | {"options": chosen, "apply": "1"}
        answer = planner.post(url, sent, follow=True)
        house.refresh_from_db()
        assert house.options == chosen, text_of(answer)
    assert {key: house.features[key] for key in option.sets} == {
        one.key: one.default for one in entry.features if one.key in option.sets
    }
