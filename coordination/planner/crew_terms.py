"""Terms agreed with a crew: its word time, and time reserved with it."""

from __future__ import annotations

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Builder, Crew, Person
from coordination.sequence.locking import lock_houses
from coordination.sequence.models import Booking, House, ReservedTime
from coordination.sequence.replanning import replan


@transaction.atomic
def change_word_time(
    crew: Crew, half_days: int | None, by: Person, builders: QuerySet[Builder]
) -> list[House]:
    """Change a crew's word time and plan the houses anew at which it is still to begin.

    Only houses of these builders; another builder's follow with their own next plan, for nobody writes in
    another's rows. Told dates move by the usual thresholds.

    Args:
        half_days: working half-days between release and start; None: as each sequence says.
    """
    houses = _lock_houses_to_come(crew, builders)
    Crew.objects.filter(pk=crew.pk).update(word_time=half_days)
    words = (
        _("%(crew)s: word time as the sequence says") % {"crew": crew.name}
        if half_days is None
        else _("%(crew)s: word time %(length)s") % {"crew": crew.name, "length": clock.say_length(half_days)}
    )
    for house in houses:
        replan(house, cause=words, by=by)
    return houses


def plan_houses_of(crew: Crew, words: str, by: Person, builders: QuerySet[Builder]) -> list[House]:
    """Plan the houses of these builders anew at which the crew is still to begin, inside a change of it.

    Args:
        words: the cause as the houses' plans say it.
    """
    houses = _lock_houses_to_come(crew, builders)
    for house in houses:
        replan(house, cause=words, by=by)
    return houses


def _lock_houses_to_come(crew: Crew, builders: QuerySet[Builder]) -> list[House]:
    before = Booking.State.ASKED, Booking.State.PENCILLED, Booking.State.FIRM
    ids = (
        Booking.objects.filter(crew=crew, state__in=before, house__builder__in=builders)
        .filter(house__finished_at__isnull=True)
        .values_list("house", flat=True)
    )
    return lock_houses(ids)


def agree_reserved_time(builder: Builder, crew: Crew, first: int, end: int, units: int) -> ReservedTime:
    """Keep time that a crew has agreed to: units × half-days, no house named.

    Args:
        first, end: half-days, the end exclusive.
    """
    return ReservedTime.objects.create(
        builder=builder, crew=crew, first=first, end=end, units=units, agreed_at=clock.now()
    )
