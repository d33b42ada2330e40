"""The address of a button, opened by itself."""

import pytest

from coordination.people.wrong_method import find_page_above
from tests.planner.conftest import house, office, planner

__all__ = ["house", "office", "planner"]


@pytest.mark.django_db
def test_the_address_of_a_button_shows_the_way_to_its_page(planner, house):
    visit = house.visits.order_by("pk")[0]
    above = f"/houses/{house.pk}/visits/{visit.pk}/"
    answer = planner.get(f"{above}pencil/")
    assert answer.status_code == 405
    assert answer.headers["Allow"] == "POST"
    assert f'href="{above}"' in answer.content.decode()
    assert "Nothing was done" in answer.content.decode()
    assert planner.get(above).status_code == 200


def test_an_address_with_no_page_above_leads_to_the_start():
    assert find_page_above("/nowhere/at/all/") == "/"
    assert find_page_above("/") == "/"
