"""A house with a booked plumber, the plumber's link, and a browser that knows nobody."""

from typing import Any

import pytest
from django.test import Client

from coordination.people.links import make_link
from coordination.people.models import Crew, CrewLink
from coordination.sequence.models import Booking
from tests.hold_points.houses import Site, make_site


@pytest.fixture
def site(db: None, monday_morning: Any, settings: Any, tmp_path: Any) -> Site:
    """A small house of one builder; every crew is asked, nothing is walked yet."""
    settings.MEDIA_ROOT = tmp_path
    return make_site()


@pytest.fixture
def phone() -> Client:
    """A browser without a session."""
    return Client()


def page_of(crew: Crew) -> str:
    """The path of a new link to the crew's page."""
    return f"/v/{make_link(crew, CrewLink.Kind.PAGE)}/"


@pytest.fixture
def link(site: Site) -> str:
    """The plumber's page."""
    return page_of(site.crews["plumber"])


def path_of(link: str, booking: Booking, verb: str) -> str:
    """Where a button of the page sends."""
    return f"{link}visit/{booking.pk}/{verb}/"
