"""A crew reads what a miss would cost; of things to put right by the same half-day, the worst is first."""

import pytest
from django.test import Client

from coordination.sequence.inspection import port
from coordination.sequence.models import Detail
from hold_points.models import Nonconformity
from tests.hold_points.houses import Site
from tests.planner.conftest import text_of

pytestmark = pytest.mark.django_db

STORED = {
    "kind": "open_void",
    "what": "void left open to the roof space",
    "loss": 13.7,
    "share": 1.0,
    "temperature": 9.0,
    "mould": True,
    "assumptions": ["worst case: air of the roof space fills the void freely"],
    "inputs": [["area of the void, seen from above", "m²", 0.5]],
}


def keep(site: Site, key: str, **changed: object) -> None:
    Detail.objects.filter(house=site.house, key=key).update(miss={**STORED, **changed})


def test_the_page_says_what_a_miss_costs_and_how_that_is_reckoned(
    site: Site, phone: Client, link: str
) -> None:
    assert "W/K" not in text_of(phone.get(link))
    keep(site, "d-caps")
    words = text_of(phone.get(link))
    assert (
        "Each void left open loses 14 W/K: 100 % of the R there; the surface cools to 9 °C: mould can grow "
        "there." in words
    )
    assert "area of the void, seen from above: 0.5 m²" in words
    assert "worst case: air of the roof space fills the void freely" in words


@pytest.mark.parametrize(
    ("pipes", "caps", "first"),
    [
        ({"loss": 0.2, "mould": False}, {"loss": 5.0, "mould": False}, "Hot fittings are clear."),
        ({"loss": 5.0, "mould": False}, {"loss": 0.2, "mould": False}, "No pipe rests on a chord."),
        ({"loss": 5.0, "mould": False}, {"loss": 0.2, "mould": True}, "Hot fittings are clear."),
    ],
)
def test_of_equal_dates_what_matters_more_is_put_right_first(
    site: Site, pipes: dict[str, object], caps: dict[str, object], first: str
) -> None:
    keep(site, "d-pipes", **pipes)
    keep(site, "d-caps", **caps)
    site.find(site.check("pipe-off"), "not met", note="rests on it", photo=True)
    site.find(site.check("hot"), "not met", note="batt on a light", photo=True)
    Nonconformity.objects.update(put_right_until=30_000)
    visit = site.visit("plumb").pk
    rework = [one for one in port().work([visit])[visit] if one.kind == "rework"]
    assert len(rework) == 2
    assert rework[0].words.startswith(first)


def test_the_sooner_date_goes_before_the_larger_loss(site: Site) -> None:
    keep(site, "d-caps")
    site.find(site.check("pipe-off"), "not met", note="rests on it", photo=True)
    site.find(site.check("hot"), "not met", note="batt on a light", photo=True)
    Nonconformity.objects.update(put_right_until=30_000)
    Nonconformity.objects.filter(check_failed__key="pipe-off").update(put_right_until=29_999)
    visit = site.visit("plumb").pk
    rework = [one for one in port().work([visit])[visit] if one.kind == "rework"]
    assert [one.put_right_until for one in rework] == [29_999, 30_000]
