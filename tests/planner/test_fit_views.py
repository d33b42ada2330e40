"""Fit to the crews on the planner's screens: start, watch, look, apply, take back; who may."""

import datetime as dt
import re
from typing import Any

import pytest
from django.test import Client

from coordination import clock
from coordination.planner import fit_told
from coordination.sequence import bookings, fit_runs
from coordination.sequence.fit_basis import running_houses
from coordination.sequence.models import Booking, Fit, FittedHouse, FittedStart, House
from tests.planner.conftest import STARTS, browser_of, text_of
from tests.sequence.brick_veneer import Office


@pytest.fixture
def pair(office: Office) -> list[House]:
    """Two houses a day apart, with one plasterer and one electrician for both."""
    crews = {
        "plasterer": office.crew("plasterer", "Banksia Linings"),
        "electrician": office.crew("electrician", "Redgum Electrical"),
    }
    return [
        office.house(starts_on=STARTS, crews=crews),
        office.house(starts_on=STARTS + dt.timedelta(days=1), crews=crews),
    ]


@pytest.fixture
def ready(planner: Client, pair: list[House]) -> Fit:
    """A fit of both houses that is to be looked at."""
    fit = begin(planner, pair)
    Fit.objects.filter(pk=fit.pk).update(seconds=0)
    assert fit_runs.take_up(fit.pk)
    fit.refresh_from_db()
    assert fit.state == Fit.State.READY, fit.words
    return fit


def begin(planner: Client, houses: list[House]) -> Fit:
    data = {"builder": houses[0].builder.slug, "houses": [one.pk for one in houses], "seconds": 10}
    answer = planner.post("/fit/", data)
    fit = Fit.objects.latest("pk")
    assert (answer.status_code, answer["Location"]) == (302, f"/fit/{fit.pk}/")
    return fit


def test_the_page_offers_all_running_houses(planner: Client, pair: list[House]) -> None:
    page = planner.get("/fit/")
    for one in pair:
        assert f'value="{one.pk}"' in page.content.decode()
    assert page.content.decode().count("checked") == 2
    assert "Looking changes nothing" in text_of(page)
    assert "/fit/" in planner.get("/crews/").content.decode()
    assert "/fit/" in planner.get("/").content.decode()


def test_a_started_fit_says_how_far_it_is(planner: Client, pair: list[House]) -> None:
    fit = begin(planner, pair)
    page = planner.get(f"/fit/{fit.pk}/").content.decode()
    assert f'hx-get="/fit/{fit.pk}/progress/"' in page
    Fit.objects.filter(pk=fit.pk).update(state=Fit.State.COMPUTING, done=40, progress="looking")
    part = planner.get(f"/fit/{fit.pk}/progress/")
    assert 'value="40"' in part.content.decode()
    assert "looking" in text_of(part)
    Fit.objects.filter(pk=fit.pk).update(state=Fit.State.READY)
    assert planner.get(f"/fit/{fit.pk}/progress/")["HX-Refresh"] == "true"


def test_a_second_start_is_refused_in_words(planner: Client, pair: list[House]) -> None:
    begin(planner, pair)
    answer = planner.post("/fit/", {"builder": pair[0].builder.slug, "houses": [pair[0].pk], "seconds": 10})
    assert answer.status_code == 409
    assert "being computed already" in text_of(answer)
    assert "See how far it is" in text_of(answer)


@pytest.mark.parametrize("data", [{"houses": []}, {"seconds": 7}, {"houses": [10**6]}, {"houses": ["x"]}])
def test_nonsense_starts_nothing(planner: Client, pair: list[House], data: dict[str, Any]) -> None:
    sound = {"builder": pair[0].builder.slug, "houses": [pair[0].pk], "seconds": 10}
    answer = planner.post("/fit/", sound | data)
    assert answer.status_code == 200
    assert "Nothing was saved" in text_of(answer)
    assert not Fit.objects.exists()


def test_it_is_stopped(planner: Client, pair: list[House]) -> None:
    fit = begin(planner, pair)
    assert planner.post(f"/fit/{fit.pk}/stop/").status_code == 302
    fit.refresh_from_db()
    assert fit.state == Fit.State.STOPPED
    assert "It was stopped" in text_of(planner.get(f"/fit/{fit.pk}/"))
    assert planner.post(f"/fit/{fit.pk}/stop/").status_code == 409


def test_a_dead_worker_is_named_and_given_up(planner: Client, pair: list[House], monday_morning: Any) -> None:
    fit = begin(planner, pair)
    Fit.objects.filter(pk=fit.pk).update(state=Fit.State.COMPUTING)
    assert planner.post(f"/fit/{fit.pk}/clear/").status_code == 409
    monday_morning.move_to(clock.now() + dt.timedelta(minutes=3))
    page = planner.get(f"/fit/{fit.pk}/")
    assert "last heard of Mon 13 Apr, 7:00" in text_of(page)
    assert "hx-trigger" not in page.content.decode()
    planner.post(f"/fit/{fit.pk}/clear/")
    assert "was given up" in text_of(planner.get(f"/fit/{fit.pk}/"))


def test_the_preview_shows_moves_ends_and_costs(planner: Client, ready: Fit, pair: list[House]) -> None:
    words = text_of(planner.get(f"/fit/{ready.pk}/"))
    for part in ("When each house ends", "Which crew costs how much", "Without limits of crews", "Why then"):
        assert part in words
    assert re.search(
        r"waits for (Redgum Electrical|Banksia Linings), who are at Lot \d, Saltbush Rise until", words
    )
    for one in pair:
        assert one.name in words
    assert not FittedStart.objects.exists()


def test_applied_then_taken_back(planner: Client, ready: Fit, pair: list[House]) -> None:
    before = [one.plans.latest("number").finish for one in pair]
    answer = planner.post(f"/fit/{ready.pk}/apply/", follow=True)
    assert "moved." in text_of(answer)
    assert FittedStart.objects.exists()
    assert [one.plans.latest("number").finish for one in pair] != before
    held = FittedStart.objects.select_related("activity").filter(cause="busy")[0].activity
    house = planner.get(f"/houses/{held.house_id}/")
    assert "who are at" in text_of(house)
    assert "It waits for its crew" in text_of(planner.get(f"/houses/{held.house_id}/visits/{held.visit_id}/"))
    assert planner.post(f"/fit/{ready.pk}/apply/").status_code == 409
    planner.post(f"/fit/{ready.pk}/undo/")
    assert [one.plans.latest("number").finish for one in pair] == before
    assert not FittedStart.objects.exists()
    assert planner.post(f"/fit/{ready.pk}/undo/").status_code == 409


def test_a_change_since_is_named_with_the_remedy(planner: Client, ready: Fit, pair: list[House]) -> None:
    booking = Booking.objects.filter(house=pair[1], state=Booking.State.ASKED)[0]
    bookings.pencil(booking)
    answer = planner.post(f"/fit/{ready.pk}/apply/")
    assert answer.status_code == 409
    words = text_of(answer)
    assert f"Changed since these dates were computed: {pair[1].name}. Fit again." in words
    assert "pencilled" in words
    assert 'href="/fit/"' in answer.content.decode()
    ready.refresh_from_db()
    assert ready.state == Fit.State.READY


def test_after_a_change_only_what_can_succeed_is_offered(
    planner: Client, ready: Fit, pair: list[House]
) -> None:
    FittedHouse.objects.filter(fit=ready, house=pair[1]).update(weight=FittedHouse.Weight.FIRST)
    assert "Move these visits" in text_of(planner.get(f"/fit/{ready.pk}/"))
    bookings.pencil(Booking.objects.filter(house=pair[1], state=Booking.State.ASKED)[0])
    page = planner.get(f"/fit/{ready.pk}/")
    assert "cannot be applied any more" in text_of(page)
    assert "Move these visits" not in text_of(page)
    assert f'href="/fit/?again={ready.pk}"' in page.content.decode()
    again = planner.get(f"/fit/?again={ready.pk}").context["offices"][0]["form"]
    assert again["houses"].value() == [one.pk for one in running_houses(ready.builder)]
    assert again[f"weight-{pair[1].pk}"].value() == "first"
    assert again.weighed


def test_fitting_again_begins_with_the_same_houses(planner: Client, pair: list[House]) -> None:
    fit = begin(planner, pair[:1])
    form = planner.get(f"/fit/?again={fit.pk}").context["offices"][0]["form"]
    assert form["houses"].value() == [pair[0].pk]
    assert planner.get("/fit/?again=0").status_code == 200
    assert planner.get("/fit/?again=999999").status_code == 404


def test_the_address_of_an_act_leads_to_the_fit(planner: Client, ready: Fit) -> None:
    answer = planner.get(f"/fit/{ready.pk}/apply/")
    assert (answer.status_code, answer["Location"]) == (302, f"/fit/{ready.pk}/")
    ready.refresh_from_db()
    assert ready.state == Fit.State.READY


def test_one_house_is_to_go_first(planner: Client, pair: list[House]) -> None:
    data = {"builder": pair[0].builder.slug, "houses": [one.pk for one in pair], "seconds": 10}
    weighed = data | {f"weight-{pair[0].pk}": "first", f"weight-{pair[1].pk}": "waits"}
    assert planner.post("/fit/", weighed).status_code == 302
    found = dict(Fit.objects.latest("pk").houses.values_list("house", "weight"))
    assert found == {pair[0].pk: "first", pair[1].pk: "waits"}


def test_of_many_houses_each_is_told_when_it_is_opened(
    planner: Client, stranger: Client, ready: Fit, pair: list[House], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fit_told, "FEW", 0)
    page = planner.get(f"/fit/{ready.pk}/")
    moving = next(row.house for row in ready.houses.all() if row.result["visits"])
    here = f"/fit/{ready.pk}/houses/{moving.pk}/"
    assert f'hx-get="{here}"' in page.content.decode()
    assert "who are at" not in text_of(page)
    alone, part = planner.get(here), planner.get(here, headers={"HX-Request": "true"})
    assert "Back to the fit" in text_of(alone)
    assert "Back to the fit" not in text_of(part)
    for one in (alone, part):
        assert "who are at" in text_of(one)
    assert stranger.get(here).status_code == 404
    assert planner.get(f"/fit/{ready.pk}/houses/999999/").status_code == 404


def test_unreported_houses_are_named_with_the_way_to_report(
    office: Office, pair: list[House], monday_morning: Any
) -> None:
    monday_morning.move_to(clock.now() + dt.timedelta(days=21))  # work was to begin on 20 and 21 April
    planner = browser_of(office.planner)
    fit = begin(planner, pair)
    Fit.objects.filter(pk=fit.pk).update(seconds=0)
    assert fit_runs.take_up(fit.pk)
    page = planner.get(f"/fit/{fit.pk}/")
    for one in pair:
        assert f"{one.name}: nothing reported since" in text_of(page)
        assert f'href="/houses/{one.pk}/progress/"' in page.content.decode()


def test_what_stands_in_the_way_of_taking_back_is_shown(
    planner: Client, ready: Fit, pair: list[House]
) -> None:
    planner.post(f"/fit/{ready.pk}/apply/")
    held = FittedStart.objects.filter(cause="busy")[0].activity
    assert held.visit_id is not None
    bookings.pencil(Booking.objects.get(visit=held.visit_id, state=Booking.State.ASKED))
    words = text_of(planner.get(f"/fit/{ready.pk}/"))
    assert "It cannot be taken back as a whole any more" in words
    assert "Take it back" not in words
    assert planner.post(f"/fit/{ready.pk}/undo/").status_code == 409


def test_left_as_it_is(planner: Client, ready: Fit) -> None:
    planner.post(f"/fit/{ready.pk}/leave/")
    ready.refresh_from_db()
    assert ready.state == Fit.State.LEFT
    assert "Move these visits" not in text_of(planner.get(f"/fit/{ready.pk}/"))
    assert planner.post(f"/fit/{ready.pk}/apply/").status_code == 409


def test_one_visit_is_let_go(planner: Client, ready: Fit) -> None:
    planner.post(f"/fit/{ready.pk}/apply/")
    held = FittedStart.objects.filter(cause="busy")[0].activity
    here = f"/houses/{held.house_id}/visits/{held.visit_id}/"
    assert planner.post(f"{here}let-go/").status_code == 302
    assert not FittedStart.objects.filter(activity__visit=held.visit_id).exists()
    answer = planner.post(f"{here}let-go/")
    assert answer.status_code == 409
    assert "waits for no crew" in text_of(answer)


def test_others_see_and_do_nothing(supervisor: Client, contact: Client, stranger: Client, ready: Fit) -> None:
    acts = ("stop", "clear", "leave", "apply", "undo")
    for client, status in ((supervisor, 403), (contact, 403), (stranger, 404), (Client(), 302)):
        assert client.get(f"/fit/{ready.pk}/").status_code == status
        assert client.get(f"/fit/{ready.pk}/progress/").status_code == status
        for act in acts:
            assert client.post(f"/fit/{ready.pk}/{act}/").status_code == status
    ready.refresh_from_db()
    assert ready.state == Fit.State.READY
    held = stranger.post("/fit/", {"builder": ready.builder.slug, "seconds": 10})
    assert held.status_code == 404
