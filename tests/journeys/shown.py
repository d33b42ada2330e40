"""The demonstration on a server of its own, once for all screens, and the way to each of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.db.models import Count, Q
from django.test import Client
from playwright.sync_api import Browser, Page

from coordination import clock
from coordination.management import demonstration
from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.links import make_link
from coordination.people.models import Builder, Crew, CrewLink, Person, Role
from coordination.people.passwords import way_to_set
from coordination.reminders.rung import note_rung
from coordination.sequence.models import Booking, Detail, Hold, House, SequenceVersion, Visit
from hold_points import rehearsal
from hold_points.models import Check, Inspection

LONG_NAME = (
    "Lot 1204, The Meadows at Upper Saltbush Rise, stage 3b, corner of Wattlebird Crescent "
    "and Thistle-Cranbrook-Boulevard"
)
LONG_CREW = "Fitzwilliam, Oyelaran-Brandl & Daughters Plastering, second crew"


@dataclass
class Shown:
    """Where the server answers, whom it knows, and the links that were made: all of it committed."""

    home: str
    builder: Builder
    houses: dict[str, House]
    sessions: dict[str, str]
    links: dict[str, str]

    def window(self, browser: Browser, who: str) -> Page:
        """A window in which a person is signed in; for an empty name, nobody."""
        context = browser.new_context(base_url=self.home, locale="en-AU", timezone_id="Australia/Hobart")
        if who:
            name = settings.SESSION_COOKIE_NAME
            context.add_cookies([{"name": name, "value": self.sessions[who], "url": self.home}])
        return context.new_page()

    def inspection(self, house: str, point: str) -> Inspection:
        """The inspection of a point of one of the houses."""
        return Inspection.objects.get(house=self.houses[house], point__key=point)

    def linings(self, house: str) -> Visit:
        """The visit of the linings of one of the houses."""
        return Visit.objects.get(house=self.houses[house], activities__is_stake=True)


def load_shown(home: str) -> Shown:
    """The demonstration with names as long as the columns take, and a builder that has nothing yet."""
    with transaction.atomic():
        houses = demonstration.load(Path(settings.BASE_DIR) / "fixtures")
        builder = houses[0].builder
        # One point is walked to its end, so that there is something to sign.
        walked = Inspection.objects.get(house__key="lot-8", point__key="H5")
        assert walked.house.supervisor is not None
        rehearsal.walk(walked, walked.house.supervisor, at=clock.now())
        House.objects.filter(key="lot-7").update(name=LONG_NAME, address=f"{LONG_NAME}, Glenferrin")
        Crew.objects.filter(trade__key="plasterer").update(name=LONG_CREW)
        people = {
            str(role.kind): role.person for role in builder.roles.select_related("person").order_by("-pk")
        }
        empty = Builder.objects.create(name="Newcomer Homes", slug="newcomer-homes")
        people["newcomer"] = Person.objects.create_user("new@newcomer-homes.example", name="Nia Fresh")
        for kind in (Role.Kind.PLANNER, Role.Kind.SUPERVISOR):
            Role.objects.create(person=people["newcomer"], builder=empty, kind=kind)
        shown = Shown(
            home,
            builder,
            {house.key: House.objects.get(pk=house.pk) for house in houses},
            {who: _sign_in(person) for who, person in people.items()},
            {},
        )
        stopped = Booking.objects.get(visit=shown.linings("lot-5"), state__in=Booking.LIVE)
        _fail_to_tell(builder, stopped.crew)
        _stood_in(people["assessor"], builder, people["planner"])
        crews = {"busy": busiest_crew("plumber"), "stopped": stopped.crew, "new": _new_crew()}
        shown.links = {name: f"/v/{make_link(crew, CrewLink.Kind.PAGE)}/" for name, crew in crews.items()}
    return shown


def busiest_crew(trade: str) -> Crew:
    """The crew of a trade with the most live bookings."""
    live = Count("bookings", filter=Q(bookings__state__in=Booking.LIVE))
    return Crew.objects.filter(trade__key=trade).annotate(live=live).order_by("-live", "pk")[0]


def _fail_to_tell(builder: Builder, crew: Crew) -> None:
    """A crew's stand-down that the mail server would not take."""
    message = put(
        builder=builder,
        to=crew,
        kind=Message.Kind.CHANGE,
        about="shown:1",
        version="1",
        subject=f"{builder.name}, {LONG_NAME[:30]}: Plasterboard fixed stood down",
        body="Plasterboard fixed stood down.",
        urgent=True,
    )
    assert message is not None
    refused = {
        "claimed_at": clock.now(),
        "attempts": 3,
        "last_error": "SMTPRecipientsRefused: no such mailbox",
    }
    Message.objects.filter(pk=message.pk).update(**refused)

    told = put(
        builder=builder,
        to=crew,
        kind=Message.Kind.CHANGE,
        about="shown:2",
        version="1",
        subject=f"{builder.name}, {LONG_NAME[:30]}: Cornice moved",
        body="Cornice moved.",
    )
    assert told is not None
    planner = builder.roles.filter(kind=Role.Kind.PLANNER)[0].person
    assert note_rung([builder], "message", told.pk, planner)


def _stood_in(person: Person, builder: Builder, by: Person) -> None:
    """Somebody who stands in for a supervisor, and somebody whose standing in was ended early."""
    role = builder.roles.filter(kind=Role.Kind.SUPERVISOR).order_by("pk")[0]
    given = {"person": person, "builder": builder, "kind": role.kind, "deputy_for": role, "granted_by": by}
    Role.objects.create(**given, granted_at=clock.now(), ended_at=clock.now(), ended_by=by)
    Role.objects.create(**given, granted_at=clock.now(), first_day=clock.today(), last_day=clock.today())


def _new_crew() -> Crew:
    known = Crew.objects.order_by("pk")[0]
    return Crew.objects.create(
        company=known.company, trade=known.trade, name="Nothing yet", calendar=known.calendar
    )


def _sign_in(person: Person) -> str:
    client = Client()
    client.force_login(person)
    return client.cookies[settings.SESSION_COOKIE_NAME].value


@dataclass(frozen=True)
class Screen:
    """A screen: who looks, how the page is brought to it, and the status with which it answers."""

    name: str
    who: str
    bring: Callable[[Page, Shown], object]
    status: int = 200


def _to(address: Callable[[Shown], str]) -> Callable[[Page, Shown], object]:
    return lambda page, shown: page.goto(address(shown))


def _house(part: str, key: str = "lot-7") -> Callable[[Page, Shown], object]:
    return _to(lambda shown: f"/houses/{shown.houses[key].pk}/{part}")


def _walk(part: str, house: str, point: str) -> Callable[[Page, Shown], object]:
    return _to(lambda shown: f"/walks/{shown.inspection(house, point).pk}/{part}")


def _visit(page: Page, shown: Shown) -> None:
    page.goto(f"/houses/{shown.houses['lot-7'].pk}/visits/{shown.linings('lot-7').pk}/")


def _refused(page: Page, shown: Shown) -> None:
    _visit(page, shown)
    with page.expect_navigation():
        page.get_by_role("button", name="Make firm").click()


def _effect(page: Page, shown: Shown) -> None:
    page.goto(f"/houses/{shown.houses['lot-7'].pk}/slip/")
    page.locator("select[name=activity]").select_option(index=1)
    page.locator("[name=half_days]").fill("12")
    page.locator("[name=why]").fill("Rain, and the crane was booked elsewhere")
    with page.expect_navigation():
        page.locator("main form button[type=submit], main form button:not([type])").first.click()


def _set_out_wrong(page: Page, _shown: Shown) -> None:
    page.goto("/houses/new/")
    page.locator("#id_feature_pitch").fill("1")
    with page.expect_navigation():
        page.get_by_role("button", name="Set out the house").click()


def _sign_in_wrong(page: Page, _shown: Shown) -> None:
    page.goto("/accounts/sign-in/")
    page.get_by_label("E-mail").fill("nobody@example.org")
    page.get_by_label("Password").fill("wrong")
    with page.expect_navigation():
        page.get_by_role("button", name="Sign in").click()


def _check(page: Page, shown: Shown) -> None:
    checks = Check.objects.filter(inspection=shown.inspection("lot-7", "H4"), withdrawn_at=None)
    page.goto(f"/walks/checks/{checks.filter(detail__drawing__gt='').order_by('pk')[0].pk}/")


def _crew_page(name: str) -> Callable[[Page, Shown], object]:
    return _to(lambda shown: shown.links[name])


def _crews_visit(page: Page, shown: Shown) -> None:
    page.goto(shown.links["busy"])
    with page.expect_navigation():
        page.get_by_role("link", name="What is to be done there").first.click()


def _really(page: Page, shown: Shown) -> None:
    page.goto(shown.links["stopped"])
    page.get_by_text("At work or done before its time").first.click()
    with page.expect_navigation():
        page.get_by_role("button", name="Done", exact=True).first.click()


def _calendar(page: Page, shown: Shown) -> None:
    page.goto(shown.links["busy"])
    with page.expect_navigation():
        page.get_by_role("button", name="Make a calendar address").click()


def _detail(page: Page, shown: Shown) -> None:
    """The wrap: its limit is the widest that a detail has, in µg/(N·s)."""
    house = shown.houses["lot-7"]
    page.goto(f"/houses/{house.pk}/details/{Detail.objects.get(house=house, key='d03').pk}/")


def _crew(page: Page, shown: Shown) -> None:
    page.goto(f"/crews/{busiest_crew('plasterer').pk}/")


def _crew_change(page: Page, shown: Shown) -> None:
    page.goto(f"/crews/{busiest_crew('plasterer').pk}/change/")


def _retire_refused(page: Page, shown: Shown) -> None:
    _crew(page, shown)
    with page.expect_navigation():
        page.get_by_role("button", name="Retire it").click()


def _which_company(page: Page, shown: Shown) -> None:
    page.goto("/crews/new/")
    page.get_by_label("Company", exact=True).fill(f"{busiest_crew('plumber').company.name} P/L")
    page.get_by_label("Trade").select_option(index=1)
    with page.expect_navigation():
        page.get_by_role("button", name="Add the crew").click()


def _person(page: Page, shown: Shown) -> None:
    role = shown.builder.roles.filter(kind=Role.Kind.SUPERVISOR).order_by("pk")[0]
    page.goto(f"/accounts/people/{role.person_id}/")


def _person_refused(page: Page, shown: Shown) -> None:
    _person(page, shown)
    with page.expect_navigation():
        page.get_by_role("button", name="No longer supervisor").click()


def _people_refused(page: Page, shown: Shown) -> None:
    page.goto("/accounts/people/")
    page.get_by_label("Name", exact=True).fill("Somebody Else")
    page.get_by_label("E-mail").fill(shown.builder.roles.order_by("pk")[0].person.email)
    page.get_by_label("Role", exact=True).select_option("assessor")
    with page.expect_navigation():
        page.get_by_role("button", name="Add this person").click()


def _set_password(page: Page, _shown: Shown) -> None:
    page.goto(way_to_set(Person.objects.get(email="new@newcomer-homes.example")))


def _sequence(page: Page, shown: Shown) -> None:
    page.goto(f"/sequences/{SequenceVersion.objects.get(builder=shown.builder).pk}/")


def _sequence_soundness(page: Page, shown: Shown) -> None:
    page.goto(f"/sequences/{SequenceVersion.objects.get(builder=shown.builder).pk}/sound/")


def _why_held(page: Page, shown: Shown) -> None:
    hold = Hold.objects.get(house=shown.houses["lot-5"], point__key="H5")
    page.goto(f"/walks/{Inspection.objects.get(point=hold.point).pk}/held/")


SCREENS = (
    Screen("all houses", "planner", _to(lambda _shown: "/")),
    Screen("all houses, none yet", "newcomer", _to(lambda _shown: "/")),
    Screen("messages that did not go out", "planner", _to(lambda _shown: "/messages/")),
    Screen("the week", "planner", _to(lambda _shown: "/week/")),
    Screen("house programme", "planner", _house("")),
    Screen("visits and bookings", "planner", _house("visits/")),
    Screen("visit", "planner", _visit),
    Screen("visit, firm refused", "planner", _refused, 409),
    Screen("details", "planner", _house("details/")),
    Screen("detail", "planner", _detail),
    Screen("as set out", "planner", _house("ordered/")),
    Screen("moves", "planner", _house("moves/")),
    Screen("set out", "planner", _to(lambda _shown: "/houses/new/")),
    Screen("set out, refused", "planner", _set_out_wrong),
    Screen("set out, no sequence yet", "newcomer", _to(lambda _shown: "/houses/new/")),
    Screen("progress", "planner", _house("progress/")),
    Screen("effect", "planner", _effect),
    Screen("crews", "planner", _to(lambda _shown: "/crews/")),
    Screen("crew", "planner", _crew),
    Screen("crew, retiring refused", "planner", _retire_refused, 409),
    Screen("change a crew", "planner", _crew_change),
    Screen("add a crew, which company?", "planner", _which_company, 422),
    Screen("crews, none yet", "newcomer", _to(lambda _shown: "/crews/")),
    Screen("sequences", "planner", _to(lambda _shown: "/sequences/")),
    Screen("where_built", "planner", _to(lambda shown: f"/sequences/where/{shown.builder.slug}/")),
    Screen("sequence", "planner", _sequence),
    Screen("is the sequence sound", "planner", _sequence_soundness),
    Screen("is the plan sound", "planner", _house("sound/")),
    Screen("fit to the crews", "planner", _to(lambda _shown: "/fit/")),
    Screen("promises", "planner", _to(lambda _shown: "/promises/")),
    Screen("bring in, which house", "planner", _to(lambda _shown: "/houses/bring-in/")),
    Screen("bring in", "planner", _house("bring-in/", "tern-17")),
    Screen("change the house", "planner", _house("change/")),
    Screen("people", "planner", _to(lambda _shown: "/accounts/people/")),
    Screen("people, refused", "planner", _people_refused, 422),
    Screen("a person, ending a role refused", "planner", _person_refused, 422),
    Screen("own details", "supervisor", _to(lambda _shown: "/accounts/self/")),
    Screen("own PIN", "supervisor", _to(lambda _shown: "/accounts/pin/")),
    Screen("desk", "assessor", _to(lambda _shown: "/walks/desk/")),
    Screen(
        "a detail across all houses",
        "assessor",
        _to(lambda shown: f"/walks/details/{shown.builder.slug}/d10/"),
    ),
    Screen("walks", "supervisor", _to(lambda _shown: "/walks/")),
    Screen("walks, none yet", "newcomer", _to(lambda _shown: "/walks/")),
    Screen("walk", "supervisor", _walk("?room=0", "lot-7", "H4")),
    Screen("check", "supervisor", _check),
    Screen("kept on this tablet", "supervisor", _to(lambda _shown: "/walks/kept/")),
    Screen("photographs", "supervisor", _walk("photographs/", "tern-11", "H3")),
    Screen("release, not yet", "supervisor", _walk("release/", "lot-7", "H4")),
    Screen("release", "supervisor", _walk("release/", "lot-8", "H5")),
    Screen("re-open", "supervisor", _walk("reopen/", "lot-3", "H5")),
    Screen("why held", "supervisor", _why_held),
    Screen("released", "supervisor", _walk("held/", "lot-3", "H5")),
    Screen("found on site", "supervisor", _walk("found/", "lot-7", "H4")),
    Screen(
        "owner's pack", "planner", _to(lambda shown: f"/walks/houses/{shown.houses['lot-3'].pk}/pack/owner/")
    ),
    Screen("record", "planner", _to(lambda shown: f"/walks/houses/{shown.houses['lot-3'].pk}/record/")),
    Screen("crew's page", "", _crew_page("busy")),
    Screen("crew's page, stopped", "", _crew_page("stopped")),
    Screen("crew's page, no visits", "", _crew_page("new")),
    Screen("crew's visit, far ahead", "", _crews_visit),
    Screen("crew's report, really?", "", _really),
    Screen("calendar address", "", _calendar),
    Screen("how a crew is told", "", _to(lambda shown: f"{shown.links['busy']}told/")),
    Screen("sign in", "", _to(lambda _shown: "/accounts/sign-in/")),
    Screen("sign in, refused", "", _sign_in_wrong),
    Screen("forgotten password", "", _to(lambda _shown: "/accounts/forgotten/")),
    Screen("set a password", "", _set_password),
    Screen("link of a password, used", "", _to(lambda _shown: "/accounts/password/x/y/"), 404),
    Screen("no such page", "planner", _to(lambda _shown: "/houses/999999/"), 404),
)
