"""What the people's room asks: its letters, as rows of the outbox, and the houses that somebody has in hand.

No letter holds the secret of a way in: the sending task makes it, so that none stands in the database.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django.utils.translation import gettext as _

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.models import Builder, Person, Role
from coordination.reminders.writing import ABOUT_WAY_IN
from coordination.sequence.diary import write_change
from coordination.sequence.locking import lock_houses
from coordination.sequence.models import House

QUARTER = 15 * 60
"""Seconds in which a person is sent one link, however often somebody asks."""


class OutboxOfficePort:
    """Letters by the outbox. They are urgent: a way in that waits for the morning has run out by then."""

    def tell_role(self, role: Role, by: Person) -> None:
        """Write to a person which role she was given."""
        person, builder = role.person, role.builder
        facts = {
            "builder": builder.name,
            "role": role.get_kind_display(),
            "by": by.name,
            "mail": person.email,
        }
        body = _("%(by)s has given you the role %(role)s for %(builder)s. You sign in as %(mail)s.") % facts
        if not person.has_usable_password():
            body += "\n" + _say_link()
        self._put(
            builder,
            person,
            "" if person.has_usable_password() else ABOUT_WAY_IN,
            f"role:{role.pk}",
            _("%(builder)s: you are %(role)s") % facts,
            body,
        )

    def send_way_in(self, builder: Builder, person: Person) -> None:
        """Write to a person how to set a password; at most one letter a quarter of an hour."""
        quarter = int(clock.now().timestamp()) // QUARTER
        body = _("Somebody asked for a new password for %(mail)s. If it was not you, do nothing.") % {
            "mail": person.email
        }
        subject = _("%(builder)s: set your password") % {"builder": builder.name}
        self._put(builder, person, ABOUT_WAY_IN, f"asked:{quarter}", subject, f"{body}\n{_say_link()}")

    def tell_new_address(self, builder: Builder, person: Person, old: str, by: Person) -> None:
        """Write to the old address that another one signs in from now on."""
        facts = {"old": old, "new": person.email, "by": by.name, "builder": builder.name}
        body = _(
            "You sign in as %(new)s from now on, no longer as %(old)s; %(by)s has changed it. If that is "
            "wrong, ring %(builder)s at once."
        )
        subject = _("%(builder)s: your address was changed") % facts
        self._put(builder, person, "", f"address:{clock.now().isoformat()}", subject, body % facts, old)

    def houses_of(self, builder: Builder, person: Person) -> Mapping[int, str]:
        """Houses in progress that a person supervises for a builder."""
        rows = House.objects.filter(builder=builder, supervisor=person, finished_at__isnull=True)
        return dict(rows.order_by("name", "pk").values_list("pk", "name"))

    def hand_over(
        self, builder: Builder, giver: Person, taker: Person, houses: Iterable[int], by: Person
    ) -> list[str]:
        """Give houses of one supervisor to another, who is told all of them in one letter."""
        own = House.objects.filter(
            builder=builder, supervisor=giver, finished_at__isnull=True, pk__in=list(houses)
        )
        taken = [
            one for one in lock_houses(own.values_list("pk", flat=True)) if one.supervisor_id == giver.pk
        ]
        facts = {"giver": giver.name, "taker": taker.name}
        for house in taken:
            House.objects.filter(pk=house.pk).update(supervisor=taker)
            words = _("Supervisor: %(taker)s instead of %(giver)s") % facts
            write_change(house, "supervisor", "", words, {"was": giver.pk, "is": taker.pk}, by)
        names = sorted(house.name for house in taken)
        if names:
            subject = _("%(builder)s: houses handed over to you") % {"builder": builder.name}
            body = _("From %(giver)s to you: %(houses)s.") % {**facts, "houses": ", ".join(names)}
            put(
                builder=builder,
                to=taker,
                kind=Message.Kind.NOTICE,
                about=f"house:{taken[0].pk}",
                version=f"handed over {clock.now().isoformat()}",
                subject=subject,
                body=body,
            )
        return names

    def _put(
        self,
        builder: Builder,
        person: Person,
        about: str,
        version: str,
        subject: str,
        body: str,
        address: str = "",
    ) -> None:
        put(
            builder=builder,
            to=person,
            kind=Message.Kind.NOTICE,
            about=f"{about or 'person:'}{person.pk}",
            version=version,
            subject=subject,
            body=body,
            facts={"address": address} if address else {},
            urgent=True,
        )


def _say_link() -> str:
    return _(
        "Choose a password behind the link below, within an hour. Later ask for a new link on the sign-in "
        "page, at 'Forgotten password'."
    )
