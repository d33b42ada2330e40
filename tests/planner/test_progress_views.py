"""Reporting progress and delays: the effect is shown first, and looking saves nothing."""

import pytest
import time_machine
from django.test import Client

from coordination import clock
from coordination.outbox.models import Message
from coordination.sequence import bookings
from coordination.sequence.models import Activity, Change, Delay, House, Plan
from tests.planner.conftest import STARTS, booking_of, first_activity, linings_visit, text_of
from tests.sequence.brick_veneer import Office, plan_of

pytestmark = pytest.mark.django_db


def saved() -> tuple[int, ...]:
    return tuple(model.objects.count() for model in (Plan, Change, Message, Delay))


@pytest.fixture
def under_way(
    house: House, monday_morning: time_machine.Traveller, planner: Client, office: Office
) -> Activity:
    """Wednesday of the first week on site; the first work is due to be reported."""
    monday_morning.move_to("2026-04-22T02:00:00Z")  # noon in Hobart
    planner.force_login(office.planner)  # last week's sign-in has lapsed
    return first_activity(house)


def report(activity: Activity, **more: str) -> dict[str, str]:
    return {
        f"started_{activity.pk}_0": "2026-04-20",
        f"started_{activity.pk}_1": "am",
        f"last_{activity.pk}_0": "2026-04-22",
        f"last_{activity.pk}_1": "am",
        **more,
    }


def test_form_offers_due_work_and_no_hold_points(planner: Client, house: House, under_way: Activity) -> None:
    words = text_of(planner.get(f"/houses/{house.pk}/progress/"))
    assert under_way.name in words
    everything = text_of(planner.get(f"/houses/{house.pk}/progress/?all=1"))
    assert "Plasterboard fixed" in everything
    form = planner.get(f"/houses/{house.pk}/progress/?all=1").context["form"]
    assert not [row for row in form.activities if row.point_kind in Activity.HOLDING]


def test_effect_of_a_report_is_shown_and_nothing_is_saved(
    planner: Client, house: House, under_way: Activity
) -> None:
    before = saved()
    look = planner.post(f"/houses/{house.pk}/progress/", report(under_way))
    words = text_of(look)
    assert look.status_code == 200
    assert "nothing is saved yet" in words
    assert "Linings begin" in words
    assert "Put on the record" in words
    # Two half-days were planned and five were needed, so the house ends later; both dates stand there.
    effect = look.context["effect"]
    assert effect.finish_before != effect.finish_after
    assert effect.moved
    assert saved() == before
    under_way.refresh_from_db()
    assert under_way.actual_start is None


def test_what_was_looked_at_is_what_is_recorded(planner: Client, house: House, under_way: Activity) -> None:
    look = planner.post(f"/houses/{house.pk}/progress/", report(under_way))
    kept = dict(look.context["kept"])
    assert kept == report(under_way)
    effect = look.context["effect"]
    planner.post(f"/houses/{house.pk}/progress/", {**kept, "apply": "1"})
    under_way.refresh_from_db()
    monday = clock.as_half_day(STARTS)
    assert (under_way.actual_start, under_way.actual_finish) == (monday, monday + 5)
    assert clock.say_half_day(plan_of(house).finish - 1) == effect.finish_after


def test_report_can_be_changed_before_it_is_recorded(
    planner: Client, house: House, under_way: Activity
) -> None:
    page = planner.post(f"/houses/{house.pk}/progress/", {**report(under_way), "edit": "1"})
    assert 'value="2026-04-20"' in page.content.decode()
    under_way.refresh_from_db()
    assert under_way.actual_start is None


def test_several_activities_are_reported_at_once(planner: Client, house: House, under_way: Activity) -> None:
    second = Activity.objects.filter(house=house, is_point=False).exclude(pk=under_way.pk)[0]
    entries = {
        **report(under_way),
        f"started_{second.pk}_0": "2026-04-22",
        f"started_{second.pk}_1": "am",
        f"left_{second.pk}": "3",
        "apply": "1",
    }
    answer = planner.post(f"/houses/{house.pk}/progress/", entries, follow=True)
    second.refresh_from_db()
    assert (second.actual_start, second.remaining) == (clock.as_half_day(STARTS) + 4, 3)
    assert "2 activities reported" in text_of(answer)


def test_future_is_refused_with_the_name_of_the_work(
    planner: Client, house: House, under_way: Activity
) -> None:
    entries = {f"started_{under_way.pk}_0": "2026-04-27", f"started_{under_way.pk}_1": "am"}
    before = saved()
    answer = planner.post(f"/houses/{house.pk}/progress/", entries)
    assert answer.status_code == 422
    assert under_way.name in text_of(answer)
    assert 'value="2026-04-27"' in answer.content.decode()  # what was entered is still there
    assert saved() == before


def test_nothing_new_moves_the_record_up_to_now_and_shows_the_effect_first(
    planner: Client, house: House, under_way: Activity
) -> None:
    assert "Nothing new, move on to today" in text_of(planner.get(f"/houses/{house.pk}/progress/"))
    before, counted = plan_of(house), saved()
    look = planner.post(f"/houses/{house.pk}/progress/", {})
    assert look.status_code == 200
    assert "nothing is saved yet" in text_of(look)
    assert saved() == counted
    answer = planner.post(f"/houses/{house.pk}/progress/", {"apply": "1"}, follow=True)
    assert "How far work is recorded was moved" in text_of(answer)
    after = plan_of(house)
    assert after.recorded_up_to == clock.as_half_day(STARTS) + 5  # Wednesday, afternoon
    assert after.finish > before.finish  # two days and a half on which nothing started


def test_no_day_is_an_error_at_its_row(planner: Client, house: House, under_way: Activity) -> None:
    answer = planner.post(f"/houses/{house.pk}/progress/", {f"last_{under_way.pk}_0": "31 Feb"})
    assert "This is no day. Choose one of the calendar." in text_of(answer)


def test_slip_is_looked_at_without_a_reason_and_recorded_with_one(
    planner: Client, house: House, office: Office
) -> None:
    first = first_activity(house)
    before = saved()
    entry = {"activity": str(first.pk), "half_days": "6", "why": ""}
    look = planner.post(f"/houses/{house.pk}/slip/", entry)
    words = text_of(look)
    assert f"If {first.name} slips" in words
    assert "3 days later" in words
    assert saved() == before
    refused = planner.post(f"/houses/{house.pk}/slip/", {**entry, "apply": "1"})
    assert refused.status_code == 422
    assert "Say why, in a few words." in text_of(refused)
    assert saved() == before
    planner.post(f"/houses/{house.pk}/slip/", {**entry, "why": "no concrete", "apply": "1"})
    delay = Delay.objects.get(activity=first)
    assert (delay.half_days, delay.why, delay.by) == (6, "no concrete", office.planner)
    assert clock.say_half_day(plan_of(house).finish - 1) == look.context["effect"].finish_after


def test_slip_names_the_crews_that_must_be_told(planner: Client, house: House, office: Office) -> None:
    booking = bookings.pencil(booking_of(house, linings_visit(house).key), by=office.planner)
    chain = [link["key"] for link in plan_of(house).stake_chain]
    driver = house.activities.get(key=next(key for key in chain if not key.startswith("H")))
    look = planner.post(f"/houses/{house.pk}/slip/", {"activity": driver.pk, "half_days": "40"})
    told = look.context["effect"].told
    assert [(one.crew, one.frozen) for one in told] == [("Banksia Linings", False)]
    assert told[0].was == clock.say_half_day(booking.told_start)
    assert "Who must be told" in text_of(look)


def test_slip_of_nothing_and_of_another_house_is_refused(
    planner: Client, house: House, office: Office
) -> None:
    first = first_activity(house)
    zero = planner.post(f"/houses/{house.pk}/slip/", {"activity": first.pk, "half_days": "0"})
    assert "Nothing slips by 0 half-days" in text_of(zero)
    elsewhere = office.house().activities.all()[0]
    other = planner.post(f"/houses/{house.pk}/slip/", {"activity": elsewhere.pk, "half_days": "2"})
    assert "Select a valid choice" in text_of(other)


def test_wrong_report_is_taken_back_with_its_reason(
    planner: Client, house: House, under_way: Activity
) -> None:
    planner.post(f"/houses/{house.pk}/progress/", {**report(under_way), "apply": "1"})
    link = f"/houses/{house.pk}/progress/take-back/"
    silent = planner.post(link, {"reported": under_way.pk, "mistake": ""})
    assert "This field is required." in text_of(silent)
    planner.post(link, {"reported": under_way.pk, "mistake": "wrong house"})
    under_way.refresh_from_db()
    assert under_way.actual_start is not None  # the finish goes first, the start stands
    assert under_way.actual_finish is None
    assert "is not finished after all: wrong house" in text_of(planner.get(f"/houses/{house.pk}/moves/"))


def test_time_that_passes_without_work_is_recorded_and_moves_the_plan(
    planner: Client, house: House, under_way: Activity
) -> None:
    entry = {"up_to_0": "2026-04-22", "up_to_1": "am"}
    before = plan_of(house)
    assert planner.post(f"/houses/{house.pk}/progress/", entry).status_code == 200
    planner.post(f"/houses/{house.pk}/progress/", {**entry, "apply": "1"})
    after = plan_of(house)
    assert after.recorded_up_to == clock.as_half_day(STARTS) + 4
    assert after.finish > before.finish  # two days on which nothing started
