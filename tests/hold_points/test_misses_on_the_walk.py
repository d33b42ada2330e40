"""A supervisor reads what a miss costs where it is judged, and puts right first what costs most."""

import html

import pytest
from django.urls import reverse

from coordination.sequence.models import Detail
from tests.visits.test_misses_on_the_page import STORED

pytestmark = pytest.mark.django_db


def keep(site, key, **changed):
    Detail.objects.filter(house=site.house, key=key).update(miss={**STORED, **changed})


def read(client, name, pk, asked=""):
    return html.unescape(client.get(reverse(f"hold_points:{name}", args=[pk]) + asked).content.decode())


def test_the_sheet_of_a_check_says_what_a_miss_costs_in_one_line(site, client):
    client.force_login(site.supervisor)
    keep(site, "d-caps", loss=13.7)
    caps, hot, pipe = site.check("cap-count"), site.check("hot"), site.check("pipe-off")
    assert read(client, "check", caps.pk).count("Each void left open loses 14 W/K") == 1
    assert "W/K" not in read(client, "check", pipe.pk), "nothing is said without a price"
    assert hot.safety
    assert "W/K" not in read(client, "check", hot.pk), "heat is no reason beside what can hurt somebody"


def test_the_walks_list_of_rework_begins_with_what_costs_most_to_leave(site, client):
    client.force_login(site.supervisor)
    keep(site, "d-pipes", loss=0.3, mould=False)
    keep(site, "d-caps", loss=5.0, mould=False)
    pipe, caps = site.check("pipe-off"), site.check("cap-count")
    assert pipe.inspection == caps.inspection
    site.find(pipe, "not met")
    site.find(caps, "not met", value=0)
    page = read(client, "walk", pipe.inspection_id, "?room=0")
    listed = page[page.index("To be put right") :]
    order = ["loses 5 W/K", "loses 0.3 W/K"]
    assert sorted(order, key=listed.index) == order
