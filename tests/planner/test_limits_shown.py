"""Every screen of the office that shows a limit says where it applies and whose figure prevails."""

import pytest
from django.test import Client

from coordination.planner.judging_told import say_sampling
from coordination.planner.limits_told import read_limits
from coordination.sequence.misses_told import tell_miss
from coordination.sequence.models import House
from coordination.sequence.standard import Sampling
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


def test_a_check_is_shown_with_its_evidence_its_sample_and_how_sure_its_limit_is(
    planner: Client, house: House
) -> None:
    checks = read_limits(house)
    drawn = next(one for one in checks if one.drawn and one.detail and one.evidence and one.sure)
    every = next(one for one in checks if not one.drawn and one.detail and not one.evidence)
    for check in (drawn, every):
        detail = house.details.get(key=check.detail)
        words = text_of(planner.get(f"/houses/{house.pk}/details/{detail.pk}/"))
        assert f"looked at: {check.sampling}" in words
        assert (f"needs {check.evidence}" if check.evidence else "needs no evidence") in words
    page = text_of(planner.get(f"/sequences/{house.sequence_version_id}/"))
    assert f"needs {drawn.evidence}; looked at: {drawn.sampling}" in page
    assert f"{drawn.source}, {drawn.sure}" in page


@pytest.mark.parametrize(
    ("sampling", "words"),
    [
        (Sampling(), "every one"),
        (Sampling("sample", share=0.5, of="rooms"), "50 % of the rooms, drawn at random"),
        (
            Sampling("sample", number=3, least=10, of="bays"),
            "3 of the bays of each room or side, drawn at random on entering, at least 10 in the house",
        ),
        (
            Sampling("sample", number=1, every=6, along="eaves_length", of="places"),
            "1 of the places of each room or side, drawn at random on entering, "
            "at least one for each 6 of 'eaves_length'",
        ),
    ],
)
def test_a_sample_is_said_as_the_sequence_asks_for_it(sampling: Sampling, words: str) -> None:
    assert say_sampling(sampling) == words


def test_the_page_of_a_detail_says_what_a_miss_costs_and_nothing_without_a_price(
    planner: Client, house: House
) -> None:
    priced = house.details.exclude(miss={}).first()
    assert priced is not None
    told = tell_miss(priced.miss)
    assert told is not None
    page = f"/houses/{house.pk}/details/{priced.pk}/"
    assert told.words in text_of(planner.get(page))
    house.details.filter(pk=priced.pk).update(miss={})
    assert "What it costs to leave it" not in text_of(planner.get(page))
