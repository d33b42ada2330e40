"""Prices of misses for houses that keep none: those set out before misses were priced."""

import pytest

from coordination.sequence.misses_told import weight_of
from coordination.sequence.models import SequenceVersion
from coordination.sequence.pricing import misses_of, weigh_details
from coordination.sequence.publishing import publish_sequence

pytestmark = pytest.mark.django_db


@pytest.fixture
def old_house(office):
    """A house whose details keep no miss, as before the column was there."""
    house = office.house()
    kept = {one.key: one.miss for one in house.details.all()}
    house.details.update(miss={})
    return house, kept


def priced(house):
    rows = [(house.pk, one.key, one.miss) for one in house.details.all()]
    return {key: miss for (_house, key), miss in misses_of(rows).items()}


def test_an_old_house_is_priced_as_a_new_one(old_house):
    house, kept = old_house
    assert priced(house) == kept
    assert kept["d13"]["mould"] is True
    assert not house.details.exclude(miss={}).exists(), "reckoned when asked, never written"


def test_a_house_of_a_version_without_prices_is_priced_by_a_later_one(old_house):
    house, kept = old_house
    own = SequenceVersion.objects.get(pk=house.sequence_version_id)
    text = own.text
    bare = "\n".join(line for line in text.splitlines() if not line.startswith("miss = "))
    assert "miss = " not in bare
    SequenceVersion.objects.filter(pk=own.pk).update(text=bare, sha256="0" * 64)
    assert set(map(len, priced(house).values())) == {0}, "nobody prices it: nothing is claimed"
    publish_sequence(own.builder, text)
    assert priced(house) == kept


@pytest.mark.parametrize("empty", ["miss = {}", "miss = {}  # not reckoned"])
def test_an_empty_price_is_none_and_a_later_version_is_asked(old_house, empty):
    house, kept = old_house
    own = SequenceVersion.objects.get(pk=house.sequence_version_id)
    bare = "\n".join(empty if line.startswith("miss = ") else line for line in own.text.splitlines())
    SequenceVersion.objects.filter(pk=own.pk).update(text=bare, sha256="0" * 64)
    publish_sequence(own.builder, own.text)
    assert priced(house) == kept


def test_what_a_house_keeps_is_taken_as_it_is(office, django_assert_num_queries):
    house = office.house()
    house.details.filter(key="d13").update(miss={"loss": 1.5, "mould": False})
    details = list(house.details.all())
    with django_assert_num_queries(0):
        weights = weigh_details(details)
    by_key = {one.key: weights[one.pk] for one in details}
    assert by_key["d13"] == weight_of({"loss": 1.5, "mould": False})
    assert by_key["d22"] == weight_of(house.details.get(key="d22").miss)


def test_a_few_details_of_a_priced_house_are_not_taken_for_an_old_house(office):
    house = office.house()
    house.details.filter(key__in=["d13", "d16"]).update(miss={})
    bare = [one for one in house.details.all() if not one.miss]
    assert len(bare) == 2
    assert set(weigh_details(bare).values()) == {0.0}


def test_many_houses_cost_a_fixed_number_of_queries(office, django_assert_max_num_queries):
    houses = [office.house(key=f"lot-{n}", name=f"Lot {n}") for n in (1, 2, 3)]
    details = [one for house in houses for one in house.details.all()]
    for one in details:
        one.miss = {}
    for house in houses:
        house.details.update(miss={})
    with django_assert_max_num_queries(2):
        weights = weigh_details(details)
    assert max(weights.values()) > 1000
