"""A house that stands on the clock of Monday morning."""

from collections.abc import Iterator

import pytest

from coordination.sequence.models import House
from hold_points.recounting import recount
from tests.hold_points.houses import Site, make_site


@pytest.fixture
def site(db, monday_morning, settings, tmp_path) -> Site:
    """A small house, every crew asked, nothing walked yet."""
    settings.MEDIA_ROOT = tmp_path
    return make_site()


@pytest.fixture
def nothing_missing(db) -> Iterator[None]:
    """Whatever the test did through the acts, the nightly count finds nothing wrong afterwards."""
    yield
    assert [line for house in House.objects.all() for line in recount(house)] == []


@pytest.fixture
def as_supervisor(site, client):
    client.force_login(site.supervisor)
    return client
