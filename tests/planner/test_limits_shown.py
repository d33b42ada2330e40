"""Every screen of the office that shows a limit says where it applies and whose figure prevails."""

import pytest
from django.test import Client

from coordination.planner.limits_told import read_limits
from coordination.sequence.models import House
from tests.planner.conftest import text_of
from tests.planner.test_change_views import fields_of

pytestmark = pytest.mark.django_db

PREVAIL = "The approved plan, the local code, the maker and your certifier prevail."


@pytest.mark.parametrize("page", ["detail", "section", "ordered", "sequence"])
def test_a_limit_is_shown_with_where_it_applies(planner: Client, house: House, page: str) -> None:
    limit = next(one for one in read_limits(house) if one.limit and one.applies and one.detail)
    detail = house.details.get(key=limit.detail)
    address = {
        "detail": f"/houses/{house.pk}/details/{detail.pk}/",
        "section": f"/houses/{house.pk}/details/{detail.pk}/section/",
        "ordered": f"/houses/{house.pk}/ordered/",
        "sequence": f"/sequences/{house.sequence_version_id}/",
    }[page]
    words = text_of(planner.get(address, headers={"HX-Request": "true"}))
    assert f"applies where: {limit.applies}" in words
    assert PREVAIL in words


def test_changed_limits_are_shown_with_whose_figure_prevails(planner: Client, house: House) -> None:
    changed = fields_of(house, house.sequence_version, airway=40)
    words = text_of(planner.post(f"/houses/{house.pk}/change/", changed))
    assert "at least 40 mm" in words
    assert PREVAIL in words


def test_published_limits_on_offer_name_where_they_apply(planner: Client, house: House) -> None:
    planner.post(f"/sequences/{house.sequence_version_id}/edit/")
    draft = house.builder.sequence_drafts.get()
    page = planner.get(f"/sequences/drafts/{draft.pk}/check/1/")
    choices = dict(page.context["form"].fields["limit_published"].choices)
    assert "Australia" in choices["thermal_break.metal"]
    assert "the local figure prevails" in text_of(page)
