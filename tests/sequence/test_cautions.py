"""The caution of a visit's trade, as the sequence of its own house words it."""

import tomllib
from pathlib import Path

from pytest_django import DjangoAssertNumQueries

from coordination.sequence.cautions import cautions_of
from coordination.sequence.models import SequenceVersion, Visit
from tests.hold_points.houses import make_site
from tests.sequence.brick_veneer import Office

SHIPPED = Path("fixtures/sequences/brick_veneer_90.toml")


def test_every_trade_of_the_shipped_house_has_its_caution(office: Office) -> None:
    house = office.house()
    written = {row["key"]: row["caution"] for row in tomllib.loads(SHIPPED.read_text("utf-8"))["trade"]}
    visits = list(Visit.objects.filter(house=house).select_related("trade"))
    told = cautions_of(visits)
    assert told == {visit.pk: written[visit.trade.key] for visit in visits}
    assert all(told.values())


def test_two_queries_however_many_visits(db: None, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    sites = [make_site(), make_site("lot-9", "bluegum")]
    ids = list(Visit.objects.filter(house__in=[site.house for site in sites]).values_list("pk", flat=True))
    with django_assert_num_queries(2):
        told = cautions_of(ids)
    assert set(told) == set(ids)
    for site in sites:
        assert told[site.visit("plumb").pk] == "Licensed work. Hot pipes: lagged before the batt."
        assert told[site.visit("batts").pk] == ""


def test_a_version_without_a_readable_text_gives_none_and_says_so(db: None, heard: list[str]) -> None:
    site = make_site()
    visit = site.visit("plumb")
    for text, warned in (("", 0), ("key = 3", 1)):
        SequenceVersion.objects.update(text=text)
        heard.clear()
        assert cautions_of([visit]) == {visit.pk: ""}
        assert len(heard) == warned
