"""A builder's people with passwords, its crews, and browsers in which they sign in on the screen."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Page

from coordination.people.landing import landing_of
from coordination.people.links import make_link
from coordination.people.models import (
    Builder,
    Company,
    Crew,
    CrewLink,
    Engagement,
    Person,
    Region,
    Role,
    Trade,
    WorkingCalendar,
)
from coordination.sequence.models import SequenceVersion
from coordination.sequence.publishing import publish_sequence, read_version

PASSWORD = "plain pine studs"
DESK = {"width": 1366, "height": 768}
TABLET = {"width": 1180, "height": 820}
PHONE = {"width": 390, "height": 844}


@dataclass
class Works:
    """A builder with a planner, a supervisor and a crew for every trade of its sequence."""

    builder: Builder
    version: SequenceVersion
    planner: Person
    supervisor: Person
    crews: dict[str, Crew] = field(default_factory=dict)

    def link(self, trade: str) -> str:
        """The path of a crew's page."""
        return f"/v/{make_link(self.crews[trade], CrewLink.Kind.PAGE)}/"


def make_works(text: str) -> Works:
    """A builder that has published this sequence, with one crew for each of its trades."""
    builder = Builder.objects.create(name="Saltbush Homes", slug="saltbush-homes", phone="03 5550 0100")
    Region.objects.create(builder=builder, key="south", name="South")
    calendar = WorkingCalendar.objects.create(builder=builder, key="weekdays", name="Monday to Friday")
    version = publish_sequence(builder, text)
    works = Works(
        builder,
        version,
        planner=_make_person("Robin Hale", builder, Role.Kind.PLANNER),
        supervisor=_make_person("Kit Marlow", builder, Role.Kind.SUPERVISOR),
    )
    for trade in Trade.objects.filter(key__in=[one.key for one in read_version(version).trades]):
        company = Company.objects.create(name=f"{trade.name} company")
        Engagement.objects.create(builder=builder, company=company)
        works.crews[trade.key] = Crew.objects.create(
            company=company,
            trade=trade,
            name=f"{trade.name} crew",
            calendar=calendar,
            contact=_make_person(f"Contact-{trade.key}"),
        )
    return works


def _make_person(name: str, builder: Builder | None = None, kind: str = "") -> Person:
    email = f"{name.lower().replace(' ', '.')}@example.org"
    person = Person.objects.create_user(email, PASSWORD, name=name)
    if builder is not None:
        Role.objects.create(person=person, builder=builder, kind=kind)
    return person


@dataclass
class Screens:
    """One browser window for each person; whatever it complains about is kept."""

    browser: Browser
    home: str
    settings: dict[str, Any]
    complaints: list[str] = field(default_factory=list)
    contexts: list[BrowserContext] = field(default_factory=list)

    def open(self, size: dict[str, int], *, touch: bool = False) -> Page:
        """A fresh window that knows nobody."""
        context = self.browser.new_context(
            **{**self.settings, "viewport": size, "has_touch": touch, "base_url": self.home}
        )
        self.contexts.append(context)
        page = context.new_page()
        page.on("console", lambda line: self._keep(line.text) if line.type == "error" else None)
        page.on("pageerror", lambda error: self._keep(str(error)))
        return page

    def sign_in(self, person: Person, size: dict[str, int], *, touch: bool = False) -> Page:
        """A window in which the person has signed in with e-mail and password."""
        page = self.open(size, touch=touch)
        page.goto("/accounts/sign-in/")
        page.get_by_label("E-mail").fill(person.email)
        page.get_by_label("Password").fill(PASSWORD)
        with page.expect_navigation(url=f"{self.home}{landing_of(person)}"):
            page.get_by_role("button", name="Sign in").click()
        return page

    def close(self) -> None:
        """Close every window."""
        for context in self.contexts:
            context.close()

    def _keep(self, words: str) -> None:
        # A refusal answers 409 or 422, which Chromium writes to its console as an error.
        if "the server responded with a status of 4" not in words:
            self.complaints.append(words)
