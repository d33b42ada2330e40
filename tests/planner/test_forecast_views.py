"""Forecasts on the planner's screens, promises kept, and whether a plan is sound."""

import datetime as dt
import re

import pytest
import time_machine
from django.test import Client

from coordination import clock
from coordination.sequence import bookings, forecasting
from coordination.sequence.models import ForecastTerms, GivenPromise, House, HouseForecast, Relationship
from coordination.sequence.replanning import replan
from tests.planner.conftest import booking_of, linings_visit, text_of
from tests.sequence.brick_veneer import Office
from tests.sequence.builders import say_changed, say_rewriting

PROMISE = r"promise from (Mon|Tue|Wed|Thu|Fri) \d+ \w+, (morning|afternoon) at 80 %"


@pytest.fixture
def forecast(house: House) -> HouseForecast:
    """The house is forecast."""
    row = forecasting.make_forecast(house.pk)
    assert row is not None
    assert row.words == ""
    return row


def test_a_house_says_from_when_its_linings_can_be_promised_and_why_so_late(
    planner: Client, house: House, forecast: HouseForecast
) -> None:
    words = text_of(planner.get(f"/houses/{house.pk}/"))
    assert re.search(PROMISE, words, re.IGNORECASE)
    assert "Why so late: crews that come late:" in words
    assert "work that takes longer:" in words
    assert "at 80 %" in words
    assert "Likely, never guaranteed" in words
    for hold in house.holds.filter(before__visit=linings_visit(house)):
        assert hold.point.name in words


def test_the_board_says_it_too(planner: Client, house: House, forecast: HouseForecast) -> None:
    words = text_of(planner.get("/"))
    assert re.search(PROMISE, words)
    assert "before the last change" not in words
    replan(house, cause="looked again")
    assert re.search(PROMISE + ", before the last change", text_of(planner.get("/")))
    assert "Computed before the last change" in text_of(planner.get(f"/houses/{house.pk}/"))


def test_without_a_forecast_the_page_offers_one(planner: Client, supervisor: Client, house: House) -> None:
    page = text_of(planner.get(f"/houses/{house.pk}/"))
    assert "Compute now" in page
    assert "not forecast yet" in page
    assert "Compute now" not in text_of(supervisor.get(f"/houses/{house.pk}/"))


def test_a_forecast_that_was_asked_for_is_waited_for(planner: Client, house: House) -> None:
    here = f"/houses/{house.pk}/forecast/"
    answer = planner.post(here)
    assert (answer.status_code, answer["Location"]) == (302, f"/houses/{house.pk}/#forecast")
    page = planner.get(f"/houses/{house.pk}/").content.decode()
    assert f'hx-get="{here}"' in page
    assert "being computed" in text_of(planner.get(here))
    forecasting.make_forecast(house.pk)
    assert planner.get(here)["HX-Refresh"] == "true"
    assert f'hx-get="{here}"' not in planner.get(f"/houses/{house.pk}/").content.decode()


def test_who_may_ask(supervisor: Client, contact: Client, stranger: Client, house: House) -> None:
    for client, status in ((supervisor, 403), (contact, 403), (stranger, 404), (Client(), 302)):
        assert client.post(f"/houses/{house.pk}/forecast/").status_code == status
    assert not HouseForecast.objects.exists()
    assert stranger.get(f"/houses/{house.pk}/sound/").status_code == 404
    assert supervisor.get("/promises/").status_code == 403


# ---------------------------------------------------------------- promises


def test_promises_are_shown_by_crew_and_by_how_sure_they_were(
    planner: Client, house: House, forecast: HouseForecast
) -> None:
    assert "Nothing to score yet" in text_of(planner.get("/promises/"))
    booking = bookings.pencil(booking_of(house, linings_visit(house).key))
    assert "1 promise is open" in text_of(planner.get("/promises/"))
    GivenPromise.objects.all().delete()
    for number in range(12):
        GivenPromise.objects.create(
            booking=booking,
            house=house,
            crew=booking.crew,
            promised=1000 + number,
            confidence=0.8,
            revision=1,
            given_at=clock.now(),
            ready=1000 + number + (5 if number < 6 else 0),
            started=1000 + number + 5,
            kept=number >= 6,
            scored_at=clock.now(),
        )
    words = text_of(planner.get("/promises/"))
    # Wilson's 95 % interval of 6 of 12 is 25.4 to 74.6 % (Wilson 1927; from SciPy's binomtest).
    assert "Banksia Linings 80 % 6 of 12 50 % 25 % to 75 % promised too early: give later days" in words


def test_terms_are_kept_and_the_houses_forecast_anew(
    planner: Client, office: Office, house: House, forecast: HouseForecast
) -> None:
    data = {
        "builder": office.builder.slug, "confidence": 90, "late_chance": 20, "late_least": 1,
        "late_most": 4, "fails_chance": 10, "fails_half_days": 2,
    }  # fmt: skip
    assert planner.post("/promises/terms/", data).status_code == 302
    assert ForecastTerms.objects.get(builder=office.builder).confidence == 90
    forecast.refresh_from_db()
    assert forecasting.is_asked(forecast)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"confidence": 99}, "95"),
        ({"confidence": 20}, "50"),
        ({"late_least": 9}, "less than the least"),
        ({"late_most": 400}, "does not come"),
        ({"fails_chance": "often"}, "number"),
    ],
)
def test_nonsense_terms_are_refused_at_their_field(
    planner: Client, office: Office, wrong: dict[str, object], words: str
) -> None:
    data = {
        "builder": office.builder.slug, "confidence": 90, "late_chance": 20, "late_least": 1,
        "late_most": 4, "fails_chance": 10, "fails_half_days": 2,
    }  # fmt: skip
    answer = planner.post("/promises/terms/", data | wrong)
    assert answer.status_code == 200
    assert words in text_of(answer)
    assert "Nothing was saved" in text_of(answer)
    assert not ForecastTerms.objects.exists()


def test_another_builders_terms_are_not_ours(stranger: Client, office: Office) -> None:
    answer = stranger.post("/promises/terms/", {"builder": office.builder.slug, "confidence": 90})
    assert answer.status_code == 404


# ---------------------------------------------------------------- is it sound?


def test_each_flaw_of_a_plan_names_its_activity_and_a_remedy(planner: Client, house: House) -> None:
    """The link from framing's last piece is cut: what it held then waits for nothing (DCMA check 1)."""
    loose = house.activities.filter(is_point=False, predecessor_links__isnull=False).order_by("order").last()
    assert loose is not None
    say_rewriting(house)
    Relationship.objects.filter(successor=loose).delete()
    say_changed(house)
    page = planner.get(f"/houses/{house.pk}/sound/")
    words = text_of(page)
    assert f"{loose.name} waits for nothing: no slip before it would ever move it." in words
    assert "Say which work has to be done before it can begin." in words
    assert f'href="/houses/{house.pk}/#activity-{loose.key}"' in page.content.decode()
    assert "DCMA-EA PAM 200.1 (2012), section 4" in words
    assert f"/houses/{house.pk}/sound/" in planner.get(f"/houses/{house.pk}/").content.decode()


def test_a_missed_date_is_a_flaw_in_words(planner: Client, house: House) -> None:
    house.required_by = house.starts_on + dt.timedelta(days=30)
    house.save()
    replan(house, cause="wanted early")
    words = text_of(planner.get(f"/houses/{house.pk}/sound/"))
    assert "too late for a date that is wanted behind it." in words
    assert "more than is sound" in words


def test_a_sequence_is_judged_as_a_usual_house(planner: Client, house: House) -> None:
    version = house.sequence_version_id
    words = text_of(planner.get(f"/sequences/{version}/sound/"))
    assert "Slab pour" in words
    assert "All checks" in words
    assert f"/sequences/{version}/sound/" in planner.get(f"/sequences/{version}/").content.decode()


def test_another_builders_sequence_is_not_there(stranger: Client, house: House) -> None:
    assert stranger.get(f"/sequences/{house.sequence_version_id}/sound/").status_code == 404


# ---------------------------------------------------------------- a house that nobody reports on


def test_a_house_that_nobody_reports_on_says_so_and_promises_nothing(
    planner: Client,
    office: Office,
    house: House,
    forecast: HouseForecast,
    monday_morning: time_machine.Traveller,
) -> None:
    since = clock.say_half_day(house.recorded_up_to)
    words = f"Nothing reported since {since}: dates before today are not real"
    here = f"/houses/{house.pk}/"
    assert words not in text_of(planner.get(here))
    monday_morning.move_to("2026-05-21T02:00:00Z")
    planner.force_login(office.planner)
    forecasting.make_forecast(house.pk)
    page = text_of(planner.get(here))
    assert words in page
    assert "Nothing is promised from this house until somebody reports." in page
    assert not re.search(PROMISE, page, re.IGNORECASE)
    for other in ("", f"{here[1:]}visits/", f"{here[1:]}details/", f"{here[1:]}moves/"):
        assert words in text_of(planner.get(f"/{other}")), other
    assert not re.search(PROMISE, text_of(planner.get("/")), re.IGNORECASE)
    planner.post(f"{here}progress/", {"apply": "1"})
    assert words not in text_of(planner.get(here))
    forecasting.make_forecast(house.pk)
    assert re.search(PROMISE, text_of(planner.get(here)), re.IGNORECASE)


def test_a_promise_says_where_its_crew_is_before(
    planner: Client, house: House, forecast: HouseForecast
) -> None:
    hold = forecast.result["holds"][0]
    for waits, elsewhere, words in (
        (True, "Lot 5", "its crew is at Lot 5 before"),
        (True, "", "its crew has other work before"),
    ):
        hold |= {"waits": waits, "elsewhere": elsewhere}
        forecast.save()
        assert words in text_of(planner.get(f"/houses/{house.pk}/"))


def test_a_forecast_of_an_older_version_is_shown_without_what_it_lacks(
    planner: Client, house: House, forecast: HouseForecast
) -> None:
    for one in forecast.result["holds"]:
        for name in ("tenth", "ninth", "critical", "waits", "elsewhere"):
            del one[name]
    del forecast.result["together"]
    forecast.save()
    assert re.search(PROMISE, text_of(planner.get(f"/houses/{house.pk}/")), re.IGNORECASE)
    assert planner.get("/").status_code == 200


def test_houses_that_may_be_late_together_are_told_on_the_page_of_all(
    planner: Client, house: House, forecast: HouseForecast
) -> None:
    page = "/?finished=0"
    assert "In 9 of 10 cases" not in text_of(planner.get(page))
    for late, words in (
        (0, "In 9 of 10 cases no house ends over a week later than planned."),
        (7, "In at least 1 of 10 cases all 7 houses end over a week later than planned."),
        (4, "In 9 of 10 cases at most 4 of 7 houses end over a week later than planned."),
    ):
        forecast.result["together"] = {"houses": 7, "late": late}
        forecast.save()
        assert words in text_of(planner.get(page))
