"""What a builder asks at signing, looks at by sample, keeps of a photograph: acts of its page of people."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.access import read_key
from coordination.people.models import Builder, Person
from coordination.people.pins import drop_pin
from coordination.people.refusals import BadInput


def set_signing(request: HttpRequest, builder: Builder, by: Person) -> str:
    """What is asked once more of whoever signs."""
    builder.signs_with = request.POST.get("signs_with", "")
    builder.pin_least = _read_number(request, "pin_least")
    _save(builder, "signs_with", "pin_least")
    return _("Asked once more at signing: %(what)s.") % {"what": builder.get_signs_with_display()}


def set_sampling(request: HttpRequest, builder: Builder, by: Person) -> str:
    """After how many clean houses samples grow or shrink."""
    builder.tightened_houses = _read_number(request, "tightened_houses")
    builder.clean_houses = _read_number(request, "clean_houses")
    _save(builder, "tightened_houses", "clean_houses")
    return _("Samples ease after %(ease)d clean houses and are reduced after %(reduce)d.") % {
        "ease": builder.tightened_houses,
        "reduce": builder.clean_houses,
    }


def _read_number(request: HttpRequest, name: str) -> int:
    text = request.POST.get(name, "")
    if not (text.isascii() and text.isdigit() and len(text) < 3):
        raise BadInput(name, _("Give a whole number of at most two digits."))
    return int(text)


def _save(builder: Builder, *names: str) -> None:
    try:
        builder.clean_fields(exclude={one.name for one in Builder._meta.fields} - set(names))
    except ValidationError as error:
        raise BadInput(names[0], " ".join(error.messages)) from error
    builder.save(update_fields=list(names))


def set_positions(request: HttpRequest, builder: Builder, by: Person) -> str:
    """Whether the place where a photograph was taken is kept with it."""
    agreed = request.POST.get("agreed") == "yes"
    builder.positions_agreed_at = clock.now() if agreed else None
    builder.positions_agreed_by = by if agreed else None
    builder.save(update_fields=["positions_agreed_at", "positions_agreed_by"])
    if agreed:
        return _("The place where a photograph was taken is kept with it from now on.")
    return _("The place where a photograph was taken is dropped from now on.")


def take_pin_away(request: HttpRequest, builder: Builder, by: Person) -> str:
    """Take away the PIN of somebody who lost it to another."""
    key = read_key(request.POST.get("person", "")) or 0
    role = builder.roles.filter(person=key).select_related("person").first()
    if role is None:
        raise BadInput("person", _("Nobody of that number has a role here. Load the page again."))
    drop_pin(role.person)
    return _("%(name)s has no PIN any more and sets another.") % {"name": role.person.name}
