"""One detail across all houses: where it stands in each, what it asks, who may see it, how many queries."""

import datetime as dt
import html
import re

from django.db import connection
from django.test.utils import CaptureQueriesContext

from coordination.people.models import Role
from coordination.sequence.bringing_in import bring_in
from coordination.sequence.models import Activity, House
from hold_points.across_houses import FIRST_STATE, Stand, read_across
from hold_points.models import Nonconformity
from hold_points.readiness import State
from tests.hold_points.houses import make_person, make_site
from tests.hold_points.test_desk import make_site_of_same_builder
from tests.hold_points.test_releasing import give_concession
from tests.visits.test_misses_on_the_page import STORED

PAGE = "/walks/details/saltbush/d-pipes/"


def read_text(client, address=PAGE):
    page = client.get(address).content.decode()
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def stand_of(site, key="d-pipes"):
    across = read_across(site.builder, key)
    assert across is not None
    [row] = across.rows
    return row.stand


def test_every_state_of_a_check_puts_a_detail_somewhere():
    assert {state for state, _stand in FIRST_STATE} == set(State)


def test_what_stands_follows_what_is_found_and_the_worst_of_its_checks_counts(site, client):
    client.force_login(site.assessor)
    assert stand_of(site) is Stand.OPEN
    assert "Nobody has looked at it yet in any house." in read_text(client)
    site.release_all("H3")
    site.find(site.check("pipe-off"))
    site.find(site.check("pipe-test"), "not seen")
    assert stand_of(site) is Stand.NOT_SEEN
    site.find(site.check("pipe-off"), "not met", note="rests on the chord")
    Nonconformity.objects.update(crew=site.crews["plumber"])
    assert stand_of(site) is Stand.NOT_MET
    page = read_text(client)
    assert "2 of 2 checks looked at" in page
    assert "Bath: with Saltbush Plumber crew, put right until " in page
    site.find(site.check("pipe-off"), "put right", photo=True)
    site.find(site.check("pipe-test"), note="no. 2291")
    assert stand_of(site) is Stand.PUT_RIGHT
    page = read_text(client)
    assert "made by Plumbing rough-in, Saltbush Plumber crew" in page
    assert "buried by Batts, Saltbush Insulation installer crew" in page
    assert page.count("KitSaltbush Marlow,") == 1, "the latest photograph and who took it"


def test_a_concession_is_told_apart_from_met(site):
    site.find(site.check("pipe-test"), note="no. 2291")
    site.find(site.check("pipe-off"), "not met")
    give_concession(site)
    assert stand_of(site) is Stand.CONCEDED


def test_what_nobody_recorded_is_never_met_and_asks_for_no_look(site, client):
    bring_in(site.house, "batts", dt.date(2026, 4, 10), site.planner)
    assert stand_of(site, "d-pockets") is Stand.NOT_RECORDED
    client.force_login(site.assessor)
    page = read_text(client, PAGE.replace("d-pipes", "d-pockets"))
    assert "set aside, not recorded" in page
    assert "The check to look at" not in page
    assert "It is being buried" not in page
    assert stand_of(site) is Stand.OPEN, "the pipes' hold is only half buried"
    assert "It is being buried while somebody still has to see to it." in read_text(client)


def test_what_is_buried_unseen_and_what_a_miss_costs_stand_at_the_house(site, client):
    site.house.details.filter(key="d-pipes").update(miss={**STORED, "loss": 4.0, "mould": False})
    client.force_login(site.planner)
    page = read_text(client)
    assert "Each void left open loses 4 W/K" in page
    assert "It is being buried" not in page
    Activity.objects.filter(house=site.house, key="batts").update(actual_start=1)
    page = read_text(client)
    assert "It is being buried while somebody still has to see to it." in page
    assert "shut since" in page


def test_the_page_is_narrowed_to_one_state_and_says_when_nothing_is_left(site, client):
    other = make_site_of_same_builder(site)
    site.find(site.check("pipe-off"), "not met")
    client.force_login(site.assessor)
    page = read_text(client)
    assert "across all 2 houses of Saltbush" in page
    assert page.index(site.house.name) < page.index(other.name), "what is not met stands first"
    assert "all 2 not met 1 to be looked at 1" in page
    narrowed = read_text(client, f"{PAGE}?state=not-met")
    assert site.house.name in narrowed
    assert other.name not in narrowed
    assert "In no house does it stand so" in read_text(client, f"{PAGE}?state=met")
    assert other.name in read_text(client, f"{PAGE}?state=nonsense"), "no such state: all are shown"


def test_as_few_queries_for_many_houses_as_for_one(site, client):
    client.force_login(site.assessor)
    client.get(PAGE)

    def count():
        with CaptureQueriesContext(connection) as queries:
            assert client.get(PAGE).status_code == 200
        return len(queries)

    before = count()
    make_site_of_same_builder(site)
    assert House.objects.filter(builder=site.builder).count() == 2
    assert count() == before


def test_assessor_and_planner_of_the_builder_see_it_and_find_it_and_nobody_else(site, client):
    site.release_all("H3")
    there = f"/houses/{site.house.pk}/details/{site.house.details.get(key='d-pockets').pk}/"
    link = 'href="/walks/details/saltbush/d-pockets/"'
    for person in (site.assessor, site.planner):
        client.force_login(person)
        assert client.get(PAGE).status_code == 200
        assert client.get("/walks/details/saltbush/no-such/").status_code == 404
        assert link in client.get("/walks/desk/").content.decode()
        assert link in client.get(there).content.decode()
    client.force_login(site.supervisor)
    assert client.get(PAGE).status_code == 403
    assert link not in client.get("/walks/desk/").content.decode()
    assert link not in client.get(there).content.decode()
    client.force_login(make_person("Contact Only", site.builder, Role.Kind.CONTACT))
    assert client.get(PAGE).status_code == 403
    client.force_login(make_site("lot-8", "wattle").assessor)
    assert client.get(PAGE).status_code == 404
