"""People come to a builder and leave it: who is found by address, who gets a role, whose role ends.

A person belongs to no builder, so an address may be known here without being this builder's business: its
owner is taken on only by whoever knows address and name, and is changed by nobody who shares her with others.
"""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.access import holders_of, not_over
from coordination.people.models import Builder, Crew, Engagement, Person, Role
from coordination.people.office_port import office_port
from coordination.people.refusals import BadInput, name_first

OFFICE_KINDS = (Role.Kind.PLANNER, Role.Kind.SUPERVISOR, Role.Kind.ASSESSOR)
"""Roles that the office gives. A crew needs none: it has its page."""
SIGNING_KINDS = (Role.Kind.SUPERVISOR, Role.Kind.ASSESSOR)
"""Roles that judge and sign; nobody gives one to herself."""
MOST_NAMED = 5


def current_roles(builder: Builder) -> QuerySet[Role]:
    """Roles of a builder that hold today or from a day to come."""
    return builder.roles.filter(not_over(clock.today(builder.time_zone)))


def is_same_name(one: str, other: str) -> bool:
    """Whether two names differ in nothing but capitals and spaces."""
    return " ".join(one.split()).casefold() == " ".join(other.split()).casefold()


def read_address(mail: str) -> str:
    """An e-mail address as it is kept.

    Raises:
        BadInput: it is none.
    """
    mail = mail.strip().lower()
    try:
        validate_email(mail)
    except ValidationError as error:
        raise BadInput("mail", _("'%(mail)s' is no e-mail address. Correct it.") % {"mail": mail}) from error
    return mail


def find_or_make_person(builder: Builder, name: str, mail: str, phone: str) -> Person:
    """The person of an address, else a new one, who has no password yet.

    Raises:
        BadInput: the address belongs to somebody of another name, who is named only where she is of this
            builder; or to somebody who was shut out.
    """
    name, mail = " ".join(name.split()), read_address(mail)
    if not name:
        raise BadInput("name", _("Give the name of whoever has the address %(mail)s.") % {"mail": mail})
    known = Person.objects.filter(email__iexact=mail).first()
    if known is None:
        return Person.objects.create_user(mail, name=name, phone=phone.strip())
    if not is_same_name(known.name, name) or not known.is_active:
        if is_known_to(builder, known) and known.is_active:
            words = _("%(mail)s is the address of %(name)s. Give that name, or another address.")
            raise BadInput("mail", words % {"mail": mail, "name": known.name})
        words = _(
            "%(mail)s cannot be taken together with this name. Correct either, give another address, or ask "
            "whoever runs this installation."
        )
        raise BadInput("mail", words % {"mail": mail})
    return known


def is_known_to(builder: Builder, person: Person) -> bool:
    """Whether the person has, or had, a role for the builder or a place in a crew that works for it."""
    if builder.roles.filter(person=person).exists():
        return True
    crews = Crew.objects.filter(company__engagements__builder=builder)
    return crews.filter(Q(contact=person) | Q(members__person=person)).exists()


def works_for_others(person: Person, builders: QuerySet[Builder]) -> bool:
    """Whether the person is also somebody else's: by a role, or by a crew whose company works for others."""
    roles = Role.objects.filter(not_over(clock.today()))
    if roles.filter(person=person).exclude(builder__in=builders).exists():
        return True
    crews = Crew.objects.filter(Q(contact=person) | Q(members__person=person))
    return Engagement.objects.filter(company__crews__in=crews).exclude(builder__in=builders).exists()


def may_change(person: Person, by: Person, builders: QuerySet[Builder]) -> bool:
    """Whether a planner of these builders changes what is kept of a person: her own people, and herself."""
    if person == by:
        return True
    return not (person.is_staff or person.is_superuser or works_for_others(person, builders))


def keeps_own_address(person: Person) -> bool:
    """Whether only the person changes the address that she signs in with.

    Whoever has the address can set the password. Of somebody who signs and has been here before, a planner
    could otherwise make himself the one who signs.
    """
    signs = Role.objects.filter(person=person, kind__in=SIGNING_KINDS, ended_at__isnull=True)
    return person.last_login is not None and signs.exists()


@transaction.atomic
def change_person(builder: Builder, person: Person, by: Person, name: str, mail: str, phone: str) -> None:
    """Change name, address and telephone of a person; the old address is told of a new one.

    Raises:
        BadInput: no name, no address, one of somebody else, or one that only its owner changes.
    """
    name, mail = " ".join(name.split()), read_address(mail)
    if not name:
        raise BadInput("name", _("Give a name."))
    old = person.email
    if mail != old.lower():
        if Person.objects.filter(email__iexact=mail).exclude(pk=person.pk).exists():
            raise BadInput("mail", _("%(mail)s is in use already. Give another address.") % {"mail": mail})
        if person != by and keeps_own_address(person):
            raise BadInput(
                "mail",
                _("%(name)s signs in and signs with this address: only she changes it, on her own page.")
                % {"name": person.name},
            )
        person.email = mail
    person.name, person.phone = name, phone.strip()
    person.save(update_fields=["name", "email", "phone"])
    if person.email != old:
        if person.last_login is not None:
            office_port().tell_new_address(builder, person, old, by)
        elif not person.has_usable_password():
            office_port().send_way_in(builder, person)


@transaction.atomic
def give_role(builder: Builder, person: Person, kind: str, by: Person) -> Role:
    """Give a person a role for a builder from now on; she is told by mail.

    Raises:
        BadInput: no role of the office, one that she has, or one that signs and that she would give herself.
    """
    Builder.objects.select_for_update(no_key=True).get(pk=builder.pk)
    if kind not in OFFICE_KINDS:
        raise BadInput("kind", _("Choose one of the roles."))
    if person == by and kind in SIGNING_KINDS:
        words = _("Nobody gives herself a role that signs. Ask another planner, or whoever runs the server.")
        raise BadInput("kind", words)
    role = Role(builder=builder, person=person, kind=kind, granted_by=by, granted_at=clock.now())
    facts = {"name": person.name, "role": role.get_kind_display()}
    if current_roles(builder).filter(person=person, kind=kind, deputy_for__isnull=True).exists():
        raise BadInput("kind", _("%(name)s is %(role)s already. Choose another role.") % facts)
    role.save()
    office_port().tell_role(role, by)
    return role


@transaction.atomic
def end_role(role: Role, by: Person) -> list[Role]:
    """End a role at once, and those who stand in for it; returns all that ended. It stays on the list.

    Raises:
        BadInput: it has ended, it is the builder's last planner's, or houses are still in its holder's hand.
    """
    builder = Builder.objects.select_for_update(no_key=True).get(pk=role.builder_id)
    found = current_roles(builder).filter(pk=role.pk).select_related("person").first()
    if found is None:
        raise BadInput("role", _("This role has ended already. Load the page again."))
    if found.deputy_for_id is None:
        _require_not_needed(builder, found)
    ended = [found, *current_roles(builder).filter(deputy_for=found).select_related("person")]
    for one in ended:
        one.ended_at, one.ended_by = clock.now(), by
        one.save(update_fields=["ended_at", "ended_by"])
    return ended


def _require_not_needed(builder: Builder, role: Role) -> None:
    same = current_roles(builder).filter(person=role.person, kind=role.kind, deputy_for__isnull=True)
    if same.exclude(pk=role.pk).exists():
        return
    name = role.person.name
    if role.kind == Role.Kind.PLANNER:
        others = holders_of(builder, Role.Kind.PLANNER).filter(roles__in=_lasting_planners(builder))
        if not others.exclude(pk=role.person_id).exists():
            words = _("%(name)s is the last planner of %(builder)s. Give somebody else the role first.")
            raise BadInput("role", words % {"name": name, "builder": builder.name})
    if role.kind == Role.Kind.SUPERVISOR:
        houses = list(office_port().houses_of(builder, role.person).values())
        if houses:
            words = _("%(name)s supervises %(houses)s. Hand them over first, on the page of %(name)s.")
            raise BadInput("role", words % {"name": name, "houses": name_first(houses, MOST_NAMED)})


def _lasting_planners(builder: Builder) -> QuerySet[Role]:
    return current_roles(builder).filter(kind=Role.Kind.PLANNER, last_day__isnull=True)
