"""A builder begins: its region, a five-day week, and the first planner, who does the rest on the pages."""

from __future__ import annotations

import zoneinfo
from collections.abc import Iterable

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.text import slugify
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.joining import OFFICE_KINDS, read_address
from coordination.people.models import Builder, Person, Region, Role, WorkingCalendar
from coordination.people.refusals import BadInput

PLACES = {
    "ACT": ("Australian Capital Territory", "Australia/Sydney"),
    "NSW": ("New South Wales", "Australia/Sydney"),
    "NT": ("Northern Territory", "Australia/Darwin"),
    "QLD": ("Queensland", "Australia/Brisbane"),
    "SA": ("South Australia", "Australia/Adelaide"),
    "TAS": ("Tasmania", "Australia/Hobart"),
    "VIC": ("Victoria", "Australia/Melbourne"),
    "WA": ("Western Australia", "Australia/Perth"),
}
"""State or territory → its name, and the time zone of its capital (IANA)."""


@transaction.atomic
def found_builder(
    name: str,
    *,
    planner: str,
    mail: str,
    kinds: Iterable[str] = (Role.Kind.PLANNER,),
    state: str = "TAS",
    climate_zone: int = 7,
    time_zone: str = "",
    phone: str = "",
) -> tuple[Builder, Person]:
    """Make a builder with its first planner; whoever has the address already is that planner.

    Args:
        kinds: roles of the first person, planner among them; in an office of one, several.
        time_zone: empty: that of the state's capital.

    Raises:
        BadInput: naming what is wrong; nothing is saved.
    """
    name, state = " ".join(name.split()), state.upper()
    slug = slugify(name)[:50]
    if not slug:
        raise BadInput("name", _("Give the builder a name with letters."))
    if Builder.objects.filter(slug=slug).exists():
        words = _("There is a builder '%(slug)s' already. Give another name.")
        raise BadInput("name", words % {"slug": slug})
    if state not in PLACES:
        words = _("'%(state)s' is unknown. Give one of %(known)s.")
        raise BadInput("state", words % {"state": state, "known": ", ".join(PLACES)})
    region, zone = PLACES[state]
    if time_zone and time_zone not in zoneinfo.available_timezones():
        words = _("'%(zone)s' is no time zone. Give one like %(usual)s.")
        raise BadInput("time zone", words % {"zone": time_zone, "usual": zone})
    kinds = sorted({*kinds, Role.Kind.PLANNER})
    unknown = [kind for kind in kinds if kind not in OFFICE_KINDS]
    if unknown:
        words = _("'%(role)s' is no role of the office. Give %(known)s.")
        raise BadInput("role", words % {"role": unknown[0], "known": ", ".join(OFFICE_KINDS)})
    builder = Builder(
        name=name,
        slug=slug,
        state=state,
        climate_zone=climate_zone,
        time_zone=time_zone or zone,
        phone=phone,
    )
    try:
        builder.full_clean()
    except ValidationError as error:
        raise BadInput("builder", " ".join(error.messages)) from error
    builder.save()
    Region.objects.create(builder=builder, key=state.lower(), name=region, subdivision=state)
    WorkingCalendar.objects.create(builder=builder, key="weekdays", name=_("Monday to Friday"))
    person = _find_first(planner, mail)
    for kind in kinds:
        Role.objects.create(builder=builder, person=person, kind=kind, granted_at=clock.now())
    return builder, person


def _find_first(name: str, mail: str) -> Person:
    mail = read_address(mail)
    known = Person.objects.filter(email__iexact=mail).first()
    if known is not None:
        return known
    if not name.strip():
        raise BadInput("planner", _("Give the name of the first planner."))
    return Person.objects.create_user(mail, name=" ".join(name.split()))
