"""The main job in a browser: set out, refused, walked and signed, firm, re-opened, pencilled again."""

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from coordination import clock
from coordination.outbox.models import Message
from coordination.reminders.tasks import put_and_send
from coordination.sequence import holds, progress
from coordination.sequence.models import Activity, Booking, Hold, House, PlannedDate
from coordination.sequence.replanning import current_plan
from hold_points import rehearsal
from hold_points.identifiers import new_id
from hold_points.models import Check, Inspection, Outcome, Release
from hold_points.releasing import release
from hold_points.signing import Signature
from tests.journeys.people import DESK, PASSWORD, PHONE, TABLET, Screens, Works, make_works
from tests.journeys.walking_on_screen import reopen_room_on_screen, sign_on_screen, walk_room_by_room

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]

HERE = Path(__file__).resolve().parent
TWO_HOLDS = HERE / "two_holds.toml"
BRICK_VENEER = HERE.parents[1] / "fixtures" / "sequences" / "brick_veneer_90.toml"
WHY = "A batt was pulled for a cable"


def set_out_on_screen(desk: Page, works: Works, name: str) -> House:
    """Fill in the page as a planner would: name, first day, supervisor and a crew for each trade."""
    desk.goto("/houses/new/")
    desk.get_by_label("Name", exact=True).first.fill(name)
    desk.get_by_label("Starts not before").fill("2026-04-13")
    desk.locator("#id_supervisor").select_option(str(works.supervisor.pk))
    for trade, crew in works.crews.items():
        desk.locator(f"#id_crew_{trade}").select_option(str(crew.pk))
    desk.get_by_role("button", name="Set out the house").click()
    expect(desk.locator(".message--success")).to_contain_text(f"{name} is set out.")
    return House.objects.get(name=name)


def linings_of(house: House) -> Booking:
    return Booking.objects.get(house=house, visit__activities__is_stake=True, state__in=Booking.LIVE)


def pencil_linings(desk: Page, house: House) -> None:
    desk.goto(f"/houses/{house.pk}/visits/")
    desk.get_by_role("button", name=f"Pencil {linings_of(house).visit.name} as planned").click()
    expect(desk.locator(".message--success")).to_contain_text("is pencilled")


def press_make_firm(desk: Page, house: House) -> None:
    desk.goto(f"/houses/{house.pk}/visits/{linings_of(house).visit_id}/")
    desk.get_by_role("button", name="Make firm").click()


def expect_refused(desk: Page, house: House, *words: str) -> None:
    """The page says that it is refused, by which hold points, and what is missing there; nothing changed."""
    press_make_firm(desk, house)
    refusal = desk.locator(".why[role=alert]")
    expect(refusal).to_contain_text("cannot be firm")
    for one in words:
        expect(refusal).to_contain_text(one)
    expect(refusal).to_contain_text("Nothing was changed.")
    assert linings_of(house).state == Booking.State.PENCILLED


def expect_firm(desk: Page, house: House) -> None:
    press_make_firm(desk, house)
    expect(desk.locator(".message--success")).to_contain_text("is firm")
    assert linings_of(house).state == Booking.State.FIRM


def expect_pencilled_again(desk: Page, screens: Screens, works: Works, house: House, point: str) -> None:
    """After the re-opening: the planner sees it pencilled and why, the plasterer has exactly one message."""
    booking = linings_of(house)
    assert (booking.state, booking.fell_back_at is not None) == (Booking.State.PENCILLED, True)
    desk.goto(f"/houses/{house.pk}/visits/{booking.visit_id}/")
    expect(desk.locator(".title-row .state")).to_contain_text("pencilled")
    desk.goto(f"/houses/{house.pk}/visits/")
    expect(desk.locator(".why").first).to_contain_text("cannot be made firm")
    expect(desk.locator(".why").first).to_contain_text(point)
    messages = Message.objects.filter(crew=booking.crew, sent_at=None, superseded_at=None)
    [message] = messages.exclude(kind__in=[Message.Kind.VISIT, Message.Kind.EVE, Message.Kind.LOOK_AHEAD])
    assert (message.kind, message.urgent, message.needs_answer) == (Message.Kind.CHANGE, True, True)
    assert "no longer firm" in message.body
    assert WHY in message.body
    phone = screens.open(PHONE, touch=True)
    phone.goto(works.link("plasterer"))
    question = phone.locator("section", has=phone.get_by_role("button", name="I have read this"))
    expect(question.filter(has_text="no longer firm")).to_have_count(1)
    expect(phone.locator(f"#visit-{booking.pk}")).to_contain_text("Not to be started yet.")
    question.filter(has_text="no longer firm").get_by_role("button").click()
    expect(phone.locator(".message--success")).to_contain_text("the builder sees that you have read it")
    message.refresh_from_db()
    assert message.acknowledged_at is not None


def tell_everything_so_far() -> None:
    """Send what waits, so that what comes next is a message of its own."""
    put_and_send()
    waiting = Message.objects.filter(crew__isnull=False, sent_at=None, superseded_at=None, digest=None)
    waiting.filter(urgent=False).update(claimed_at=clock.now(), sent_at=clock.now())


def work_finished(house: House, *keys: str) -> None:
    dates = PlannedDate.objects.filter(plan=current_plan(house), activity__key__in=keys)
    progress.record_progress(
        house,
        [
            progress.Report(date.activity.key, started=date.start, last=date.last)
            for date in dates.select_related("activity")
        ],
    )


def test_two_hold_points_are_walked_on_the_tablet(screens: Screens, days: Any, artifacts: Path) -> None:
    works = make_works(TWO_HOLDS.read_text(encoding="utf-8"))
    desk = screens.sign_in(works.planner, DESK)
    house = set_out_on_screen(desk, works, "Lot 4, Saltbush Rise")
    pencil_linings(desk, house)
    expect_refused(desk, house, "Services", "Insulation", "Still missing:", "0 of 3 checked")
    desk.screenshot(path=artifacts / "journey-refused.png", full_page=True)

    days.move_to(dt.datetime(2026, 4, 14, 0, 30, tzinfo=dt.UTC))  # Tuesday, 10:30
    work_finished(house, "pipes")
    phone = screens.open(PHONE, touch=True)
    phone.goto(works.link("plumber"))
    phone.get_by_role("button", name="Ready for the walk").click()
    expect(phone.locator(".message--success")).to_contain_text("Called ready for the walk: Services.")
    # A session lasts a working day: both sign in anew each morning.
    desk = screens.sign_in(works.planner, DESK)
    tablet = screens.sign_in(works.supervisor, TABLET, touch=True)
    tablet.goto("/walks/")
    expect(tablet.locator("main")).to_contain_text("Called ready: in this order")
    assert walk_room_by_room(tablet, "Services", {}) == 2
    sign_on_screen(tablet)
    expect_refused(desk, house, "Insulation")

    days.move_to(dt.datetime(2026, 4, 15, 4, 0, tzinfo=dt.UTC))  # Wednesday, 14:00
    work_finished(house, "batts")
    desk = screens.sign_in(works.planner, DESK)
    tablet = screens.sign_in(works.supervisor, TABLET, touch=True)
    assert walk_room_by_room(tablet, "Insulation", {"Clear airway": "31,5"}) == 3
    tablet.screenshot(path=artifacts / "journey-walked.png", full_page=True)
    sign_on_screen(tablet)
    assert Release.objects.count() == 2
    assert Outcome.objects.filter(value=31.5).count() == 1
    expect_firm(desk, house)
    tell_everything_so_far()

    hold = Hold.objects.get(house=house, point__key="H5")
    held = f"/walks/{Inspection.objects.get(point=hold.point).pk}/held/"
    reopen_room_on_screen(tablet, held, "Bathroom", WHY)
    expect_pencilled_again(desk, screens, works, house, "Insulation")
    hold.refresh_from_db()
    assert hold.is_open
    expect_refused(desk, house, "Insulation: Batts: 1 of 3 checked")
    kinds = list(house.record.order_by("n").values_list("kind", flat=True))
    assert kinds.count("release") == 2
    assert kinds.count("re-opening") == 1


def test_the_shipped_brick_veneer_is_refused_until_every_hold_is_released(
    screens: Screens, days: Any
) -> None:
    works = make_works(BRICK_VENEER.read_text(encoding="utf-8"))
    desk = screens.sign_in(works.planner, DESK)
    house = set_out_on_screen(desk, works, "Lot 5, Saltbush Rise")
    expect(desk.locator("main")).to_contain_text("between 519 and 569 mm")
    pencil_linings(desk, house)
    before = holds_before_linings(house)
    assert len(before) > 2
    expect_refused(desk, house, *(hold.label for hold in before))

    for hold in before:
        walk = PlannedDate.objects.get(plan=current_plan(house), activity=hold.point)
        days.move_to(clock.starts_at(walk.start, works.builder.time_zone) + dt.timedelta(hours=1))
        work_until(house, walk.start)
        inspection = Inspection.objects.select_related("point").get(point=hold.point)
        if hold.point.point_kind == Activity.PointKind.HOLD_FROM_PHOTOGRAPHS:
            rehearsal.send_photographs(house, hold.point.key)
        rehearsal.walk(inspection, works.supervisor, at=clock.now())
        sign(inspection, works)

    desk = screens.sign_in(works.planner, DESK)
    expect_firm(desk, house)
    tell_everything_so_far()
    tablet = screens.sign_in(works.supervisor, TABLET, touch=True)
    last = before[-1]
    room = room_judged_at(last)
    held = f"/walks/{Inspection.objects.get(point=last.point).pk}/held/"
    reopen_room_on_screen(tablet, held, room, WHY)
    expect_pencilled_again(desk, screens, works, house, last.label)


def sign(inspection: Inspection, works: Works) -> None:
    signature = Signature(works.supervisor.name, rehearsal.STROKES, password=PASSWORD)
    release(inspection, by=works.supervisor, signature=signature, id=new_id())


def holds_before_linings(house: House) -> list[Hold]:
    """In the order in which they are walked."""
    found = holds.open_holds_before(linings_of(house).visit).select_related("point")
    dates = PlannedDate.objects.filter(plan=current_plan(house))
    starts = {date.activity_id: date.start for date in dates}
    return sorted(found, key=lambda hold: starts[hold.point_id])


def room_judged_at(hold: Hold) -> str:
    judged = Check.objects.filter(inspection__point=hold.point, place__isnull=False, withdrawn_at=None)
    return str(judged.order_by("place__order").values_list("place__name", flat=True)[0])


def work_until(house: House, until: int) -> None:
    """Everything that the plan has finished by then is reported, and points without a hold were passed."""
    plan = current_plan(house)
    reports, points = [], []
    rows = PlannedDate.objects.filter(plan=plan, activity__actual_finish=None).select_related("activity")
    for date in rows.order_by("start"):
        if date.activity.holds or date.last >= until or date.start >= until:
            continue
        if date.activity.is_point:
            points.append((date.activity, date.start))
        else:
            reports.append(progress.Report(date.activity.key, started=date.start, last=date.last))
    if reports:
        progress.record_progress(house, reports, up_to=until, gone_past=False)
    for point, half_day in points:
        progress.point_passed(point, half_day)
