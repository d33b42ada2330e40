"""Wherever a crew reads a limit it reads where that applies, and whose figure prevails."""

import pytest
from django.test import Client

from hold_points.models import Check
from tests.hold_points.houses import Site
from tests.planner.conftest import text_of
from tests.visits.conftest import page_of

pytestmark = pytest.mark.django_db

WHERE = "Flatland, roofs of 15 degrees and more"


def test_limits_of_the_walk_and_of_rework_say_where_they_apply(site: Site, phone: Client) -> None:
    Check.objects.filter(inspection__house=site.house, key="airway").update(applies=WHERE)
    link = page_of(site.crews["installer"])
    words = text_of(phone.get(link))
    assert f"≥ 25 mm (applies where: {WHERE})" in words
    assert "Each number is a default; the local figure prevails." in words
    site.find(site.check("airway", "bath"), "not met", value=12.0, photo=True)
    words = text_of(phone.get(link))
    assert f"Wanted: ≥ 25 mm. (applies where: {WHERE}) The local figure prevails." in words


def test_the_walk_says_it_where_the_number_is_entered(site: Site, client: Client) -> None:
    Check.objects.filter(inspection__house=site.house, key="airway").update(
        applies=WHERE, source="a handbook"
    )
    client.force_login(site.supervisor)
    words = text_of(client.get(f"/walks/checks/{site.check('airway', 'bath').pk}/"))
    assert f"Applies where: {WHERE}." in words
    assert "the local figure prevails" in words
