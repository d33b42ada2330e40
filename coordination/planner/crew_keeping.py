"""The crews that the office keeps: taken on with their company, changed, retired; members; the link sent.

A crew whose company also works for another builder is changed by neither of them alone: its contact reads
the visits of both.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.utils.translation import gettext as _

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.companies import find_company, is_shared
from coordination.people.joining import find_or_make_person, is_same_name, read_address, works_for_others
from coordination.people.links import revoke_links
from coordination.people.models import (
    Builder,
    Company,
    Crew,
    CrewLink,
    CrewMember,
    Engagement,
    Person,
    Role,
    Trade,
    WorkingCalendar,
)
from coordination.people.refusals import BadInput, WrongState, name_first
from coordination.planner.crew_terms import plan_houses_of
from coordination.sequence.models import Booking

MOST_NAMED = 6


@dataclass(frozen=True)
class CrewEntry:
    """What the office enters of a crew. Without a contact, name and address are empty."""

    name: str
    trade: Trade
    calendar: WorkingCalendar
    capacity: int
    company_phone: str
    contact_name: str = ""
    contact_mail: str = ""
    contact_phone: str = ""


@transaction.atomic
def add_crew(builder: Builder, company: Company | str, entry: CrewEntry) -> Crew:
    """Take a crew on; its contact is sent the link of its page.

    Args:
        company: one that works for the builder, or the name of a new one.

    Raises:
        BadInput: the contact cannot be taken, or the company has a crew of this name; nothing is saved.
    """
    Builder.objects.select_for_update(no_key=True).get(pk=builder.pk)
    if isinstance(company, str):
        name = " ".join(company.split())
        # Pressed twice: the first has made it meanwhile.
        company = find_company(builder, name) or Company.objects.create(name=name, phone=entry.company_phone)
        Engagement.objects.get_or_create(builder=builder, company=company)
    elif entry.company_phone and not company.phone:
        company.phone = entry.company_phone
        company.save(update_fields=["phone"])
    name = " ".join((entry.name or company.name).split())
    _require_free_name(company, name, None)
    crew = Crew.objects.create(
        company=company,
        trade=entry.trade,
        name=name,
        capacity=entry.capacity,
        calendar=entry.calendar,
        contact=_find_contact(builder, entry, None),
    )
    if crew.contact is not None:
        send_page(builder, crew)
    return crew


def _require_free_name(company: Company, name: str, crew: Crew | None) -> None:
    others = Crew.objects.filter(company=company, name__iexact=name)
    same = (others.exclude(pk=crew.pk) if crew else others).first()
    if same is None:
        return
    if same.retired_on is not None:
        words = _("%(company)s had a crew '%(name)s', which is retired. Take that one on again, on its page.")
    else:
        words = _("%(company)s has a crew '%(name)s' already. Give this one another name.")
    raise BadInput("name", words % {"company": company.name, "name": name})


def _find_contact(builder: Builder, entry: CrewEntry, crew: Crew | None) -> Person | None:
    """The person on the tools; the same name with another address is the same person, if only a contact."""
    if not entry.contact_mail and not entry.contact_name:
        return None
    try:
        mail = read_address(entry.contact_mail)
        present = crew.contact if crew else None
        if present is None or not is_same_name(present.name, entry.contact_name):
            return find_or_make_person(builder, entry.contact_name, mail, entry.contact_phone)
        if present.email.lower() != mail:
            if Person.objects.filter(email__iexact=mail).exists():
                return find_or_make_person(builder, entry.contact_name, mail, entry.contact_phone)
            _require_only_a_contact(builder, present)
        if (present.email.lower(), present.phone) != (mail, entry.contact_phone):
            _require_not_shared(builder, present)
            present.email, present.phone = mail, entry.contact_phone
            present.save(update_fields=["email", "phone"])
        return present
    except BadInput as refusal:
        where = {"mail": "contact_mail", "name": "contact_name"}.get(refusal.where, refusal.where)
        raise BadInput(where, refusal.words) from refusal


def _require_only_a_contact(builder: Builder, person: Person) -> None:
    if person.roles.exists() or person.is_staff:
        words = _("%(name)s signs in with %(mail)s. Change that on the page People.")
        raise BadInput("mail", words % {"name": person.name, "mail": person.email})


def _require_not_shared(builder: Builder, person: Person) -> None:
    if works_for_others(person, Builder.objects.filter(pk=builder.pk)):
        words = _("%(name)s also works for others here: whoever runs the server changes address and phone.")
        raise BadInput("mail", words % {"name": person.name})


@transaction.atomic
def change_crew(
    builder: Builder, builders: QuerySet[Builder], crew: Crew, company: str, entry: CrewEntry, by: Person
) -> Crew:
    """Change what the office keeps of a crew; with another calendar its houses are planned anew.

    Raises:
        BadInput: a name that is taken, a contact that cannot be, another trade than its visits have.
        WrongState: the crew works for other builders too.
    """
    Builder.objects.select_for_update(no_key=True).get(pk=builder.pk)
    _require_ours(crew, builders)
    company = " ".join(company.split())
    known = find_company(builder, company)
    if known is not None and known.pk != crew.company_id:
        raise BadInput(
            "company",
            _("%(name)s is another company that works for you. Choose another name.") % {"name": known.name},
        )
    if entry.trade.pk != crew.trade_id and Booking.objects.filter(crew=crew).exists():
        raise BadInput(
            "trade",
            _("%(crew)s has visits of the trade %(trade)s. Add a crew of the other trade.")
            % {"crew": crew.name, "trade": crew.trade.name},
        )
    Company.objects.filter(pk=crew.company_id).update(name=company, phone=entry.company_phone)
    name = " ".join((entry.name or company).split())
    _require_free_name(crew.company, name, crew)
    other_days = entry.calendar.pk != crew.calendar_id
    had = crew.contact.email if crew.contact else ""
    crew.name, crew.trade, crew.calendar, crew.capacity = name, entry.trade, entry.calendar, entry.capacity
    crew.contact = _find_contact(builder, entry, crew)
    crew.save()
    if crew.contact is not None and crew.contact.email != had:
        send_page(builder, crew)
    if other_days:
        words = _("%(crew)s works by the calendar %(calendar)s")
        plan_houses_of(crew, words % {"crew": name, "calendar": entry.calendar.name}, by, builders)
    return crew


def _require_ours(crew: Crew, builders: QuerySet[Builder]) -> None:
    if is_shared(crew, builders):
        raise WrongState(
            _(
                "%(crew)s also works for others here, so no builder changes it alone. Ask whoever runs the "
                "server."
            )
            % {"crew": crew.name}
        )


def send_page(builder: Builder, crew: Crew) -> None:
    """Send the crew the link of its page, at once. The link is made when the letter is written.

    Raises:
        WrongState: nobody is named who could get it.
    """
    if crew.contact is None:
        raise WrongState(
            _("%(crew)s has nobody on the tools with an address. Enter the person first.")
            % {"crew": crew.name}
        )
    facts = {"builder": builder.name, "crew": crew.name}
    body = _(
        "%(builder)s books %(crew)s by this page: where, when, what exactly, and your answer. It needs no "
        "password: whoever has the link answers for the crew."
    )
    put(
        builder=builder,
        to=crew,
        kind=Message.Kind.NOTICE,
        about=f"crew:{crew.pk}",
        # Pressed twice within a minute it is one letter.
        version=f"page {clock.now():%Y-%m-%d %H:%M} {crew.contact.pk}",
        subject=_("%(builder)s: your page for visits, %(crew)s") % facts,
        body=body % facts,
    )


@transaction.atomic
def retire_crew(crew: Crew, builders: QuerySet[Builder]) -> None:
    """Retire a crew: it is offered for no visit and its links open nothing; what it did stays.

    Raises:
        WrongState: it still has visits, which are named, or works for other builders too.
    """
    _require_ours(crew, builders)
    locked = Crew.objects.select_for_update().get(pk=crew.pk)
    rows = (
        Booking.objects.filter(crew=locked, state__in=Booking.LIVE, house__finished_at__isnull=True)
        .exclude(state=Booking.State.DONE)
        .select_related("house", "visit")
        .order_by("house__name", "visit__order")
    )
    visits = [f"{row.house.name}, {row.visit.name} ({row.get_state_display()})" for row in rows]
    if visits:
        words = _(
            "%(crew)s still has visits: %(visits)s. Stand it down there or give them to another crew; retire "
            "it then."
        )
        raise WrongState(words % {"crew": crew.name, "visits": name_first(visits, MOST_NAMED, "; ")})
    Crew.objects.filter(pk=crew.pk).update(retired_on=clock.today())
    for kind in CrewLink.Kind.values:
        revoke_links(crew, kind)


def take_on_again(crew: Crew, builders: QuerySet[Builder]) -> None:
    """A retired crew is back; it needs a new link.

    Raises:
        WrongState: it works for other builders too.
    """
    _require_ours(crew, builders)
    Crew.objects.filter(pk=crew.pk).update(retired_on=None)


def may_join(builder: Builder) -> QuerySet[Person]:
    """People whom the builder knows: of its office and of its crews, and not of another's office only."""
    crews = Crew.objects.filter(company__engagements__builder=builder)
    here = builder.roles.filter(ended_at__isnull=True).values("person")
    elsewhere = Role.objects.exclude(builder=builder).values("person")
    in_crews = Q(crews_on_the_tools__in=crews) | Q(memberships__crew__in=crews)
    known = Person.objects.filter(Q(pk__in=here) | in_crews & ~Q(pk__in=elsewhere))
    return Person.objects.filter(pk__in=known.values("pk"), is_active=True).order_by("name", "pk")


def members_seen(builder: Builder, crew: Crew) -> QuerySet[CrewMember]:
    """Members of a crew, those who left last; another builder's office people in it are not named."""
    here = builder.roles.values("person")
    elsewhere = Role.objects.exclude(builder=builder).values("person")
    return (
        crew.members.filter(Q(person__in=here) | ~Q(person__in=elsewhere))
        .select_related("person")
        .order_by(F("left_on").asc(nulls_first=True), "person__name")
    )


@transaction.atomic
def add_member(builder: Builder, crew: Crew, person: Person | None, name: str, mail: str) -> Person:
    """Put a person on the crew's list: known, or new with name and address. Its work is not hers to judge.

    Raises:
        BadInput: nobody named, or somebody who is in it already.
    """
    if person is None:
        if not name.strip() and not mail.strip():
            words = _("Choose who works in the crew, or give name and address of somebody new.")
            raise BadInput("person", words)
        person = find_or_make_person(builder, name, mail, "")
    member = CrewMember.objects.filter(crew=crew, person=person).first()
    if member is None:
        CrewMember.objects.create(crew=crew, person=person)
    elif member.left_on is None:
        raise BadInput("person", _("%(name)s is in this crew already.") % {"name": person.name})
    else:
        CrewMember.objects.filter(pk=member.pk).update(left_on=None)
    return person


@transaction.atomic
def end_membership(crew: Crew, number: int) -> CrewMember:
    """A person leaves the crew today. What it was booked for before stays not hers to judge.

    Raises:
        BadInput: there is no such member now.
    """
    members = CrewMember.objects.filter(crew=crew, pk=number, left_on__isnull=True).select_related("person")
    member = members.first()
    if member is None:
        raise BadInput("member", _("She has left already. Load the page again."))
    CrewMember.objects.filter(pk=member.pk).update(left_on=clock.today())
    return member
