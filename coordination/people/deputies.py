"""Somebody stands in for a supervisor or assessor, from one day to another, and no longer than is needed."""

from __future__ import annotations

import datetime as dt

from django.http import HttpRequest
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.access import read_key
from coordination.people.joining import SIGNING_KINDS, current_roles, end_role
from coordination.people.models import Builder, Person, Role
from coordination.people.refusals import BadInput


def add_deputy(request: HttpRequest, builder: Builder, by: Person) -> str:
    """Somebody of the builder stands in for a supervisor or assessor from one day to another."""
    roles = current_roles(builder).select_related("person")
    # Nobody stands in for who stands in: that would outlive the days for which she was asked.
    stands_for = roles.filter(
        pk=read_key(request.POST.get("role", "")) or 0, kind__in=SIGNING_KINDS, deputy_for__isnull=True
    ).first()
    who = roles.filter(person=read_key(request.POST.get("person", "")) or 0).first()
    if stands_for is None or who is None:
        raise BadInput("person", _("Choose who stands in, and for whom."))
    if who.person_id == stands_for.person_id:
        raise BadInput("person", _("Nobody stands in for herself. Choose another person."))
    _require_not_own_choice(builder, who.person, stands_for, by)
    first, last = _read_day(request, "first_day"), _read_day(request, "last_day")
    if last < first:
        raise BadInput("last_day", _("The last day lies before the first. Swap them."))
    if stands_for.last_day is not None and last > stands_for.last_day:
        raise BadInput(
            "last_day",
            _("The role of %(whom)s ends %(day)s. Nobody stands in for it longer.")
            % {
                "whom": stands_for.person.name,
                "day": clock.say_day(clock.as_half_day(stands_for.last_day)),
            },
        )
    same = {"person": who.person, "builder": builder, "kind": stands_for.kind, "first_day": first}
    if Role.objects.filter(**same, ended_at__isnull=True).exists():
        raise BadInput(
            "first_day", _("%(name)s has this role from that day already.") % {"name": who.person.name}
        )
    Role.objects.create(**same, last_day=last, deputy_for=stands_for, granted_by=by, granted_at=clock.now())
    return _("%(name)s stands in for %(whom)s, %(first)s to %(last)s.") % {
        "name": who.person.name,
        "whom": stands_for.person.name,
        "first": clock.say_day(clock.as_half_day(first)),
        "last": clock.say_day(clock.as_half_day(last)),
    }


def _require_not_own_choice(builder: Builder, who: Person, stands_for: Role, by: Person) -> None:
    """Whoever plans does not make himself the one who signs; a supervisor who also plans signs already."""
    if who != by:
        return
    own = current_roles(builder).filter(person=by, kind=stands_for.kind, deputy_for__isnull=True)
    if not own.exists():
        words = _(
            "You would make yourself the one who signs for %(whom)s. Choose somebody else, or ask another "
            "planner to name you."
        )
        raise BadInput("person", words % {"whom": stands_for.person.name})


def end_deputy(request: HttpRequest, builder: Builder, by: Person) -> str:
    """The one who was away is back early: standing in ends at once."""
    key = read_key(request.POST.get("role", "")) or 0
    role = current_roles(builder).filter(pk=key, deputy_for__isnull=False).first()
    if role is None:
        raise BadInput("role", _("Nobody stands in there any more. Load the page again."))
    [ended] = end_role(role, by)
    return _("%(name)s stands in no longer.") % {"name": ended.person.name}


def _read_day(request: HttpRequest, name: str) -> dt.date:
    try:
        return dt.date.fromisoformat(request.POST.get(name, ""))
    except ValueError as error:
        raise BadInput(name, _("Give the first and the last day of standing in.")) from error
