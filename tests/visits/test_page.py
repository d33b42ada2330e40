"""A crew's page: who sees what behind which link, and that looking changes nothing."""

import datetime as dt
import re
from typing import Any

import pytest
from django.apps import apps
from django.contrib.sessions.models import Session
from django.test import Client

from coordination.people.links import revoke_links
from coordination.people.models import CrewLink, Engagement
from coordination.sequence import bookings
from tests.hold_points.houses import Site, make_site
from tests.planner.conftest import text_of
from tests.visits.conftest import page_of, path_of

pytestmark = pytest.mark.django_db

REPORTS = ("ready", "not-ready", "begun", "done", "mistake")
VERBS = ("confirm", "decline", *REPORTS, "photo", "put-right", "disturbed")


def everything() -> dict[str, list[Any]]:
    """Every row of every table of the project, and the sessions."""
    ours = [
        model
        for model in apps.get_models()
        if model._meta.app_label in {"people", "outbox", "sequence", "hold_points", "sessions"}
    ]
    return {model._meta.label: list(model._default_manager.order_by("pk").values()) for model in ours}


def test_a_link_that_is_unknown_or_revoked_opens_nothing(site: Site, phone: Client, link: str) -> None:
    assert phone.get(link).status_code == 200
    assert phone.get("/v/never-made/").status_code == 404
    assert phone.post(path_of("/v/never-made/", site.booking("plumb"), "confirm")).status_code == 404
    revoke_links(site.crews["plumber"], CrewLink.Kind.PAGE)
    assert phone.get(link).status_code == 404
    assert phone.post(path_of(link, site.booking("plumb"), "confirm")).status_code == 404
    assert phone.post(f"{link}calendar/").status_code == 404


def test_the_page_says_where_when_what_and_who_to_ring(site: Site, phone: Client, link: str) -> None:
    site.pencil("plumb")
    words = text_of(phone.get(link))
    # The house starts on Monday; pockets take its morning, their walk its afternoon.
    assert "Tue 14 Apr, morning" in words
    assert site.house.name in words
    assert "pencilled" in words
    assert "Pipes off the chords" in words
    assert "Never cut or notch a truss." in words
    assert "Licensed work. Hot pipes: lagged before the batt." in words
    assert "Where: Bath" in words
    assert "Buried" in words
    assert f"Supervisor: {site.supervisor.name}" in words
    assert "Lagged at the clips too." in words
    assert "Not to be started yet. Hold point not released: Pockets." in words


def test_the_page_is_not_kept_by_caches_and_not_told_to_other_sites(phone: Client, link: str) -> None:
    answer = phone.get(link)
    assert "no-store" in answer["Cache-Control"]
    assert answer["Referrer-Policy"] == "same-origin"


def test_a_crew_sees_its_visits_of_two_builders_and_nobody_elses(site: Site, phone: Client) -> None:
    other = make_site("lot-9", "bluegum")
    plumber = site.crews["plumber"]
    Engagement.objects.create(builder=other.builder, company=plumber.company)
    bookings.change_crew(other.visit("plumb"), plumber, other.planner)
    shown = phone.get(page_of(plumber))
    assert site.house.name in text_of(shown)
    assert other.house.name in text_of(shown)
    own = {site.booking("plumb").pk, other.booking("plumb").pk}
    assert {int(pk) for pk in re.findall(r'id="visit-(\d+)"', shown.content.decode())} == own
    replaced = text_of(phone.get(page_of(other.crews["plumber"])))
    assert "No visits are booked" in replaced
    assert site.house.name not in replaced


@pytest.mark.parametrize("verb", VERBS)
def test_a_booking_of_another_crew_does_not_exist_behind_this_link(
    site: Site, phone: Client, link: str, verb: str
) -> None:
    phone.get(link)  # notes when the link was last used
    before = everything()
    answer = phone.post(path_of(link, site.booking("batts"), verb), {"why": "ill", "reason": "moved"})
    assert answer.status_code == 404
    assert phone.post(path_of(link, site.booking("plumb"), "nonsense")).status_code == 404
    assert everything() == before


def test_two_hundred_prefetches_of_every_address_consume_nothing(
    site: Site, phone: Client, link: str, monday_morning: Any
) -> None:
    """Mail scanners and browsers follow links before anybody has read them."""
    booking = site.pencil("plumb")
    phone.get(link)  # notes when the link was last used, at most once an hour
    before = everything()
    addresses = [link, f"{link}calendar/", f"{link}read/1/"]
    addresses += [path_of(link, booking, verb) for verb in VERBS]
    for number in range(200):
        method = phone.get if number % 2 else phone.head
        address = addresses[number // 2 % len(addresses)]
        answer = method(address, headers={"Sec-Purpose": "prefetch"})
        assert answer.status_code == (200 if address == link else 405)
    assert everything() == before
    monday_morning.shift(dt.timedelta(hours=2))
    phone.get(link)
    after = everything()
    assert {name for name, rows in after.items() if rows != before[name]} == {"people.CrewLink"}


def test_no_session_is_made(site: Site, phone: Client, link: str) -> None:
    phone.get(link)
    answer = phone.post(path_of(link, site.booking("plumb"), "confirm"), follow=True)
    assert "Thank you: confirmed." in text_of(answer)
    assert "sessionid" not in phone.cookies
    assert not Session.objects.exists()


def test_a_form_without_the_pages_token_is_refused(site: Site, link: str) -> None:
    strict = Client(enforce_csrf_checks=True)
    booking = site.booking("plumb")
    assert strict.post(path_of(link, booking, "confirm")).status_code == 403
    assert site.booking("plumb").confirmed_at is None
    shown = strict.get(link)
    token = shown.context["csrf_token"]
    entries = {"csrfmiddlewaretoken": str(token)}
    assert strict.post(path_of(link, booking, "confirm"), entries).status_code == 302
    assert site.booking("plumb").confirmed_at is not None


def test_a_visit_that_is_done_leaves_the_way_to_say_what_was_moved(
    site: Site, phone: Client, link: str
) -> None:
    bookings.report_done(site.booking("plumb"), by=site.planner)
    site.find(site.check("pipe-off", "bath"))
    words = text_of(phone.get(link))
    assert "1 visit is done" in words
    assert "I moved a batt or drilled a plate later" in words
    assert "At work here" not in words
