"""A house that stands on the clock of Monday morning."""

import pytest

from tests.hold_points.houses import Site, make_site


@pytest.fixture
def site(db, monday_morning, settings, tmp_path) -> Site:
    """A small house, every crew asked, nothing walked yet."""
    settings.MEDIA_ROOT = tmp_path
    return make_site()
