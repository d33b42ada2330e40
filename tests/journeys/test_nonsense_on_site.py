"""Nonsense sent to the supervisor's pages is refused in words: no form field stops the server."""

import itertools
from typing import Any

import pytest
from django.test import Client

from hold_points.identifiers import new_id
from tests.hold_points.houses import PASSWORD, Site, make_site

pytestmark = pytest.mark.django_db

NONSENSE = ("Moved\0 a pipe", "9" * 30, "-1", "٣", "<b>" * 400)
ANSWERS = {200, 302, 403, 404, 409, 422}


@pytest.fixture
def site(db: None, monday_morning: Any, settings: Any, tmp_path: Any) -> Site:
    settings.MEDIA_ROOT = tmp_path
    return make_site()


@pytest.fixture
def tablet(site: Site) -> Client:
    client = Client()
    client.force_login(site.supervisor)
    return client


@pytest.mark.parametrize("field", ["note", "value", "id", "act", "own_hand"])
def test_an_outcome_answers_nonsense_in_words(site: Site, tablet: Client, field: str) -> None:
    check = site.check("airway", "bath")
    for nonsense in NONSENSE:
        entries = {"id": str(new_id()), "act": "not seen", "note": "dark", "value": "", field: nonsense}
        assert tablet.post(f"/walks/checks/{check.pk}/", entries).status_code in ANSWERS


@pytest.mark.parametrize("field", ["id", "name", "part", "signature", "typed", "typed_again", "password"])
def test_a_release_answers_nonsense_in_words(site: Site, tablet: Client, field: str) -> None:
    site.pass_checks("H3")
    signed = {"name": "Kit Marlow", "signature": "[[[1, 2], [3, 4]]]", "password": PASSWORD}
    for nonsense in NONSENSE:
        entries = {"id": str(new_id()), **signed, field: nonsense}
        assert tablet.post(f"/walks/{site.point('H3').pk}/release/", entries).status_code in ANSWERS


@pytest.mark.parametrize("field", ["places", "reason", "sure"])
def test_a_re_opening_answers_nonsense_in_words(site: Site, tablet: Client, field: str) -> None:
    site.release_all("H3")
    for nonsense in NONSENSE:
        entries = {"places": [site.place("bed").pk], "reason": "opened", "sure": "yes", field: nonsense}
        assert tablet.post(f"/walks/{site.point('H3').pk}/reopen/", entries).status_code in ANSWERS


def test_addresses_with_nonsense_are_answered(site: Site, tablet: Client) -> None:
    walk = f"/walks/{site.point('H4').pk}/"
    for address, nonsense in itertools.product(
        (walk, f"{walk}release/", f"{walk}photographs/", f"{walk}held/"), NONSENSE
    ):
        for name in ("room", "part", "value"):
            assert tablet.get(address, {name: nonsense}).status_code in ANSWERS
