"""Secret addresses of crews: only their hash is kept, revoked ones open nothing."""

import datetime as dt
import hashlib

import pytest

from coordination import clock
from coordination.people.links import crew_for_token, make_link, revoke_links
from coordination.people.models import CrewLink
from tests.sequence.builders import make_builder, make_crew

pytestmark = pytest.mark.django_db
PAGE, FEED = CrewLink.Kind.PAGE, CrewLink.Kind.FEED


@pytest.fixture
def crew():
    return make_crew(make_builder(), "plumber", "Blue Pipes")


def test_a_link_opens_the_page_of_its_crew_only(crew):
    token = make_link(crew, PAGE)
    assert crew_for_token(token, PAGE) == crew
    assert crew_for_token(token, FEED) is None
    assert crew_for_token(token + "x", PAGE) is None
    assert crew_for_token("", PAGE) is None


def test_the_token_itself_is_nowhere_in_the_database(crew):
    token = make_link(crew, PAGE)
    row = CrewLink.objects.get()
    assert row.token_hash == hashlib.sha256(token.encode()).hexdigest()
    assert token not in str(CrewLink.objects.values().get())
    assert len(token) >= 32


def test_revoked_links_of_one_kind_open_nothing_and_the_other_kind_stays(crew):
    page, feed = make_link(crew, PAGE), make_link(crew, FEED)
    assert revoke_links(crew, PAGE) == 1
    assert revoke_links(crew, PAGE) == 0
    assert crew_for_token(page, PAGE) is None
    assert crew_for_token(feed, FEED) == crew


def test_use_is_noted_at_most_once_an_hour(crew, monday_morning):
    token = make_link(crew, PAGE)
    first = clock.now()
    for minutes, noted in ((0, 0), (60, 0), (61, 61)):
        monday_morning.move_to(first + dt.timedelta(minutes=minutes), tick=False)
        crew_for_token(token, PAGE)
        assert CrewLink.objects.get().last_used_at == first + dt.timedelta(minutes=noted)
