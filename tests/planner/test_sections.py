"""To-scale sections in the programme: fetched when a row is opened, with the limits of this house."""

import re

import pytest
from django.test import Client

from coordination.sequence.models import House
from tests.planner.conftest import text_of
from tests.sequence.brick_veneer import Office

pytestmark = pytest.mark.django_db


def test_the_programme_names_the_sections_and_holds_none_of_them(planner: Client, house: House) -> None:
    words = planner.get(f"/houses/{house.pk}/").content.decode()
    assert 'class="to-scale"' not in words
    drawn = house.details.exclude(drawing="").values_list("pk", flat=True)
    offered = {int(one) for one in re.findall(r"/details/(\d+)/section/", words)}
    assert offered == set(drawn)


def test_a_section_comes_with_the_limit_of_this_house_and_says_whose_figure_prevails(
    planner: Client, house: House
) -> None:
    detail = house.details.get(key="d24")
    page = planner.get(f"/houses/{house.pk}/details/{detail.pk}/section/", headers={"HX-Request": "true"})
    words = text_of(page)
    assert page.content.decode().count("<svg") == 1
    assert "<html" not in page.content.decode()
    assert "between 519 and 569 mm" in words
    assert "Limits are defaults." in words
    assert "your certifier prevail" in words


def test_without_script_the_link_leads_to_the_page_of_the_detail(planner: Client, house: House) -> None:
    detail = house.details.exclude(drawing="")[0]
    page = planner.get(f"/houses/{house.pk}/details/{detail.pk}/section/")
    assert page.status_code == 302
    assert page["Location"] == f"/houses/{house.pk}/details/{detail.pk}/"


def test_a_section_is_not_there_for_others_or_for_another_house(
    planner: Client, stranger: Client, contact: Client, house: House, office: Office
) -> None:
    detail = house.details.exclude(drawing="")[0]
    address = f"/houses/{house.pk}/details/{detail.pk}/section/"
    assert stranger.get(address).status_code == 404
    assert contact.get(address).status_code == 403
    other = office.house(key="lot-9", name="Lot 9")
    assert planner.get(f"/houses/{other.pk}/details/{detail.pk}/section/").status_code == 404


def test_a_detail_without_a_drawing_offers_none(planner: Client, house: House) -> None:
    detail = house.details.exclude(drawing="")[0]
    house.details.filter(pk=detail.pk).update(drawing="")
    address = f"/houses/{house.pk}/details/{detail.pk}/section/"
    assert address not in planner.get(f"/houses/{house.pk}/").content.decode()
    assert planner.get(address, headers={"HX-Request": "true"}).status_code == 404
