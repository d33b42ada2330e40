"""The words of reminders and of the mails they travel in. The first sixty characters stand alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from coordination import clock
from coordination.outbox.models import Digest, Message
from coordination.people.links import make_link
from coordination.people.models import Builder, Crew, CrewLink
from coordination.people.passwords import way_to_set
from coordination.reminders.due import Due, VisitFacts, Window
from coordination.reminders.pictures import MailPicture, choose_pictures
from coordination.reminders.standing_notes import notes_for
from coordination.reminders.wanted import REMINDERS

LONGEST = 300
"""Characters of one message's text; what is longer stands behind the link."""


def write_reminder(builder: Builder, due: Due, visits: Sequence[VisitFacts]) -> tuple[str, str]:
    """Subject and text of a reminder."""
    if due.kind == "look-ahead":
        return _write_look_ahead(builder, visits)
    visit = visits[0]
    where = f"{builder.name}, {visit.house}"
    when = clock.say_half_day(visit.told_start)
    if due.kind == "window" and due.window is not None:
        return _write_window(where, visit, due.window)
    lines = [
        _("%(visit)s: %(when)s, %(length)s, %(state)s.")
        % {
            "visit": visit.visit,
            "when": when,
            "length": clock.say_length(_worked(visit)),
            "state": _(visit.state),
        }
    ]
    first_window = min(visit.windows, key=lambda window: (window.due, window.buried), default=None)
    if first_window is not None and first_window.walk:
        lines.append(
            _("Walk '%(walk)s' %(when)s; then buried %(buried)s by: %(by)s.")
            % {
                "walk": first_window.walk,
                "when": clock.say_half_day(first_window.due),
                "buried": clock.say_day(first_window.buried),
                "by": first_window.buried_by,
            }
        )
    return f"{where}: {visit.visit}, {when}", " ".join(lines)[:LONGEST]


def _worked(visit: VisitFacts) -> int:
    """Half-days of the told dates on which the site works."""
    return sum(
        visit.days.works(clock.as_date(half_day)[0])
        for half_day in range(visit.told_start, visit.told_finish)
    )


def _write_window(where: str, visit: VisitFacts, window: Window) -> tuple[str, str]:
    still_open = [other.detail for other in visit.windows if other.due == window.due and not other.done]
    subject = _("%(where)s: walk %(when)s") % {"where": where, "when": clock.say_half_day(window.due)}
    text = _("Walk %(when)s. Still open: %(details)s. Buried %(buried)s.") % {
        "when": clock.say_half_day(window.due),
        "details": ", ".join(still_open),
        "buried": clock.say_day(window.buried),
    }
    return subject, text[:LONGEST]


def _write_look_ahead(builder: Builder, visits: Sequence[VisitFacts]) -> tuple[str, str]:
    subject = ngettext(
        "%(builder)s: %(count)s visit in the coming two weeks",
        "%(builder)s: %(count)s visits in the coming two weeks",
        len(visits),
    ) % {"builder": builder.name, "count": len(visits)}
    lines = [
        _("%(when)s: %(house)s, %(visit)s (%(state)s)")
        % {
            "when": clock.say_half_day(visit.told_start),
            "house": visit.house,
            "visit": visit.visit,
            "state": _(visit.state),
        }
        for visit in visits
    ]
    return subject, "\n".join(lines)


@dataclass(frozen=True)
class Letter:
    """A mail as it is written: subject, text, HTML, the drawings that the HTML shows, lines for its head."""

    subject: str
    text: str
    html: str
    pictures: tuple[MailPicture, ...] = ()
    headers: Mapping[str, str] = field(default_factory=dict)


def write_single(message: Message) -> Letter:
    """The mail that carries one message."""
    return _write_mail("mail/message", message.subject, [message], message.crew, message.builder)


def write_gathered(messages: Sequence[Message]) -> Letter:
    """One mail with several things for a person of the office, those about one thing below one heading.

    Each leads to its own page.
    """
    first: dict[str, int] = {}
    for message in sorted(messages, key=lambda message: message.pk):
        first.setdefault(message.subject, message.pk)
    ordered = sorted(messages, key=lambda message: (first[message.subject], message.pk))
    subject = ordered[0].subject
    if len(first) > 1:
        subject = _("%(builder)s, %(count)s things: %(first)s, and more") % {
            "builder": messages[0].builder.name,
            "count": len(first),
            "first": subject,
        }
    context = {
        "messages": [(message, _page_of_office(message)) for message in ordered],
        "builder": messages[0].builder,
        "subject": subject,
    }
    return _render("mail/gathered", context)


def write_digest(digest: Digest, messages: Sequence[Message]) -> Letter:
    """A crew's mail of the day."""
    if len(messages) == 1:
        subject = messages[0].subject
    else:
        subject = _("%(builder)s: %(count)s things for %(day)s and after") % {
            "builder": digest.builder.name,
            "count": len(messages),
            "day": clock.say_day(clock.as_half_day(digest.day)),
        }
    return _write_mail("mail/digest", subject, messages, digest.crew, digest.builder)


def _write_mail(
    template: str, subject: str, messages: Sequence[Message], crew: Crew | None, builder: Builder
) -> Letter:
    order = {kind: number for number, kind in enumerate(Message.Kind.values)}
    ordered = sorted(messages, key=lambda message: (not message.urgent, order[message.kind], message.pk))
    pictures = tuple(choose_pictures(ordered, settings.COORDINATION_MAIL_DOMAIN)) if crew else ()
    notes = notes_for(ordered) if crew else {}
    # Only hashes of links are kept, so each mail carries a link of its own.
    token = make_link(crew, CrewLink.Kind.PAGE) if crew else ""
    context = {
        "messages": [(message, notes.get(message.pk, [])) for message in ordered],
        "pictures": pictures,
        "builder": builder,
        "crew": crew,
        "page": _address("visits:page", token) if crew else _page_of_office(messages[0]),
        "how_told": _address("visits:told", token) if crew else "",
        "subject": subject,
    }
    reminds = crew is not None and any(message.kind in REMINDERS for message in messages)
    return _render(template, context, _ways_to_stop(token) if reminds else {})


def _render(template: str, context: dict[str, Any], headers: Mapping[str, str] | None = None) -> Letter:
    return Letter(
        " ".join(str(context["subject"]).split()),
        render_to_string(f"{template}.txt", context),
        render_to_string(f"{template}.html", context),
        context.get("pictures", ()),
        headers or {},
    )


def _ways_to_stop(token: str) -> dict[str, str]:
    """The head's lines by which a mail program offers to stop reminders (RFC 2369, RFC 8058).

    One click needs an address of https (RFC 8058, section 3.1); without it the reader is led to the page.
    """
    address = _address("visits:stop_reminders", token)
    lines = {"List-Unsubscribe": f"<{address}>"}
    if address.startswith("https://"):
        lines["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return lines


def _address(name: str, token: str) -> str:
    """A page of a crew, by its name and the secret of a link."""
    return f"{settings.COORDINATION_SITE_URL}{reverse(name, args=[token])}"


PAGES = {
    "inspection": "hold_points:walk",
    "check": "hold_points:check",
    "house": "planner:house",
    "crew": "planner:crew",
}
"""Where the office reads on, by what a message is about."""

ABOUT_WAY_IN = "way-in:"
"""Beginning of what a letter is about that leads its reader to set a password, before the person's key."""


def _page_of_office(message: Message) -> str:
    """Where a person of the office reads on: what the message is about, else its house, else the start."""
    if message.about.startswith(ABOUT_WAY_IN) and message.person is not None:
        # The secret is made now and kept nowhere; a second try sends another.
        return f"{settings.COORDINATION_SITE_URL}{way_to_set(message.person)}"
    kind, _colon, number = message.about.partition(":")
    if kind not in PAGES or not number.isdecimal():
        kind, number = "house", str(message.facts.get("house", ""))
    path = reverse(PAGES[kind], args=[int(number)]) if number else ""
    return f"{settings.COORDINATION_SITE_URL}{path}"
