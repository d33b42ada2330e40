"""A crew's own choice: reminders by e-mail, or none. What changes, stops or is to be put right is always
told.

The choice is the crew's for all builders that it works for (`Crew.tells`). Without reminders its visits stand
on its page and in its calendar.
"""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.access import holders_of
from coordination.people.models import Builder, Crew, Role

REMINDERS = (Message.Kind.LOOK_AHEAD, Message.Kind.VISIT, Message.Kind.EVE, Message.Kind.WINDOW)
"""Kinds that a crew can do without. No other kind is ever left out: each says that something is different."""


def are_wanted(crew: Crew) -> bool:
    """Whether the crew gets reminders by e-mail."""
    return crew.tells == Crew.Tells.MAIL


def choose_reminders(crew: Crew, wanted: bool) -> bool:
    """Note a crew's choice and tell the planners of its builders; False when it had chosen so before.

    Reminders that were written and not yet sent are left out when they would be sent.
    """
    tells = Crew.Tells.MAIL if wanted else Crew.Tells.CALENDAR
    with transaction.atomic():
        if not Crew.objects.filter(pk=crew.pk).exclude(tells=tells).update(tells=tells):
            return False
        crew.tells = tells
        for builder in builders_of_crew(crew):
            _tell_planners(builder, crew, wanted)
    return True


def builders_of_crew(crew: Crew) -> list[Builder]:
    """The builders that the crew's company works for."""
    return list(Builder.objects.filter(engagements__company=crew.company_id).order_by("name", "pk"))


def _tell_planners(builder: Builder, crew: Crew, wanted: bool) -> None:
    if wanted:
        news = _("%(crew)s wants reminders by e-mail again.") % {"crew": crew.name}
    else:
        news = _(
            "%(crew)s wants no reminders by e-mail. Changes, stops and work to be put right still reach it."
        ) % {"crew": crew.name}
    for planner in holders_of(builder, Role.Kind.PLANNER):
        put(
            builder=builder,
            to=planner,
            kind=Message.Kind.NOTICE,
            about=f"crew:{crew.pk}",
            version=clock.now().isoformat(),
            subject=_("Reminders: %(crew)s") % {"crew": crew.name},
            body=news,
        )
