"""A text that a calculation reads is judged when a house is given it, needed there today or not."""

from __future__ import annotations

import pytest

from coordination.people.refusals import BadInput
from coordination.sequence.changing import change_house
from coordination.sequence.models import House
from coordination.sequence.set_out import resolved_of, set_out
from coordination.sequence.standard import FeatureErrors, read_sequence, refuse_misread
from tests.sequence.test_standard_shipped import FOLDER

# The form in which the batts in stock are written is this project's own: thickness:R.


@pytest.mark.parametrize("name", ["brick_veneer_90", "two_storey_brick_veneer_90"])
@pytest.mark.parametrize("stock", ["90:-2", "foo", "", "0:2.5", "90:nan"])
def test_nonsense_in_the_stock_is_refused_by_name(name: str, stock: str) -> None:
    with pytest.raises(FeatureErrors) as refused:
        refuse_misread(read_sequence(FOLDER / f"{name}.toml"), {"batt_stock": stock, "pitch": 25})
    assert list(refused.value.errors) == ["batt_stock"]
    refuse_misread(read_sequence(FOLDER / f"{name}.toml"), {"batt_stock": "75:2.0,90:2.5"})


def test_house_without_a_framed_floor_takes_no_nonsense_for_one_to_come(office) -> None:
    with pytest.raises(BadInput, match=r"batt_stock.*foo"):
        set_out(office.order(features={"framed_floor_area": 0, "batt_stock": "foo"}))
    assert not House.objects.exists()
    house = set_out(office.order(features={"framed_floor_area": 0}))
    with pytest.raises(BadInput, match=r"batt_stock.*R"):
        change_house(house, features={"batt_stock": "90:-2"}, by=office.planner)
    # A house that was given one before it was judged can still be read.
    House.objects.filter(pk=house.pk).update(features={**house.features, "batt_stock": "foo"})
    assert resolved_of(House.objects.get(pk=house.pk)).features["batt_stock"] == "foo"
