"""A crew went past an open hold point: a nonconformity without a check, decided by a named person.

Nobody can undo that it happened. Someone decides how it is put right (opened and looked at, left with an act
that follows it up), and the release of the point, which still needs every check, closes it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put, supersede
from coordination.people.access import planners_of, require_role
from coordination.people.models import Crew, Person, Role
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Booking, House, Visit
from coordination.sequence.telling import cut
from hold_points import record
from hold_points.models import Inspection, Nonconformity, Release
from hold_points.rework import who_looks

DECIDERS = (Role.Kind.SUPERVISOR, Role.Kind.ASSESSOR, Role.Kind.PLANNER)

LONGEST_DECISION = 240
"""Characters: the crew is sent all of it, with who decided, in a message of at most 300."""


def raise_gone_past(house: House, facts: Mapping[str, object]) -> list[Nonconformity]:
    """Raise one for each point that a visit went past; one that is open already stands for it.

    The caller holds the house's lock.

    Args:
        facts: of the act 'went past': `visit_key`, `booking` (its id; None where no crew has the visit) and
            `points` (their keys).
    """
    visit = Visit.objects.get(house=house, key=facts["visit_key"])
    number = facts["booking"]
    booking = None
    if number is not None:
        booking = Booking.objects.select_related("crew").get(house=house, pk=str(number))
    points = facts["points"]
    keys = [str(key) for key in points] if isinstance(points, Iterable) else []
    raised = []
    for inspection in Inspection.objects.filter(house=house, point__key__in=keys).select_related("point"):
        there = _open_ones([inspection.pk]).filter(visit=visit).first()
        if there is not None:
            continue
        one = Nonconformity.objects.create(
            house=house,
            gone_past=inspection,
            visit=visit,
            crew=booking.crew if booking else None,
            raised_at=clock.now(),
        )
        record.append(house, "nonconformity", {**_describe(one), "raised_at": one.raised_at})
        raised.append(one)
    return raised


def _open_ones(inspection_ids: Iterable[int]) -> QuerySet[Nonconformity]:
    found = Nonconformity.objects.filter(gone_past__in=list(inspection_ids))
    return found.exclude(state=Nonconformity.State.CLOSED)


def list_gone_past(inspection: Inspection) -> list[Nonconformity]:
    """What went past this point and is still open, the oldest first."""
    found = _open_ones([inspection.pk]).select_related("crew", "visit", "decided_by")
    return list(found.order_by("raised_at", "pk"))


def _describe(one: Nonconformity) -> dict[str, object]:
    return {
        "nonconformity": one.pk,
        "went_past": one.gone_past.point.key if one.gone_past else "",
        "point_name": one.gone_past.point.name if one.gone_past else "",
        "visit": one.visit.name if one.visit else "",
        "crew": one.crew.name if one.crew else "",
    }


def decide(nonconformity: Nonconformity, by: Person, decision: str) -> Nonconformity:
    """A named person decides how it is put right; the crew is told. Decided anew, both stay on the record.

    Raises:
        NotAllowed: no role for the builder.
        WrongState: the point was released since.
        BadInput: no decision in words.
    """
    with transaction.atomic():
        house = lock_house(nonconformity.house_id)
        require_role(by, house.builder, *DECIDERS)
        one = Nonconformity.objects.select_related("gone_past__point", "visit", "crew").get(
            pk=nonconformity.pk, gone_past__isnull=False
        )
        if one.state == Nonconformity.State.CLOSED:
            raise WrongState(_("The point was released since; nothing is left to decide."))
        words = " ".join(decision.split())
        if len(words) < 5 or len(words) > LONGEST_DECISION:
            raise BadInput(
                "decision",
                _("Say in a few words how it is put right, %(most)d characters at most.")
                % {"most": LONGEST_DECISION},
            )
        one.decision, one.decided_by, one.decided_at = words, by, clock.now()
        # Decided anew, what the crew said of the former decision is not said of this one.
        one.state, one.said_done_at = Nonconformity.State.RAISED, None
        one.save(update_fields=["decision", "decided_by", "decided_at", "state", "said_done_at"])
        record.append(
            house,
            "decision",
            {
                **_describe(one),
                "decision": words,
                "by": {"person": by.pk, "name": by.name},
                "decided_at": one.decided_at,
            },
        )
        _tell_decision(one, by, house)
    return one


def _tell_decision(one: Nonconformity, by: Person, house: House) -> None:
    """The crew is told; where no crew has the visit, the planners, who find one."""
    recipients: Sequence[Crew | Person] = [one.crew] if one.crew is not None else planners_of(house.builder)
    for recipient in recipients:
        put(
            builder=house.builder,
            to=recipient,
            kind=Message.Kind.REWORK if one.crew is not None else Message.Kind.NOTICE,
            about=f"nonconformity:{one.pk}",
            version=f"decided:{one.decided_at:%Y%m%dT%H%M%S%f}",
            subject=_("Put right: %(house)s, %(point)s was gone past")
            % {"house": house.name, "point": one.gone_past.point.name if one.gone_past else ""},
            body=_("%(name)s decided: %(decision)s") % {"name": cut(by.name, 48), "decision": one.decision},
            facts={"nonconformity": one.pk},
        )


def say_put_right(nonconformity_id: int, crew: Crew) -> Nonconformity | None:
    """A crew says that what was decided is done; the release still closes it. None where it is no such one.

    Raises:
        WrongState: nobody has decided yet, or the point was released since.
    """
    with transaction.atomic():
        theirs = Nonconformity.objects.filter(pk=nonconformity_id, crew=crew, gone_past__isnull=False)
        found = theirs.first()
        if found is None:
            return None
        house = lock_house(found.house_id)
        one = theirs.select_related("gone_past__point", "visit", "crew").get()
        if one.state == Nonconformity.State.CLOSED:
            raise WrongState(_("The point was released since; nothing is left to do."))
        if one.decided_by_id is None:
            raise WrongState(_("Nobody has decided yet how this is put right. The office is told of it."))
        if one.state == Nonconformity.State.PUT_RIGHT:
            return one
        one.state, one.said_done_at = Nonconformity.State.PUT_RIGHT, clock.now()
        one.save(update_fields=["state", "said_done_at"])
        supersede(about=f"nonconformity:{one.pk}", kinds=(Message.Kind.REWORK,))
        record.append(house, "said put right", {**_describe(one), "decision": one.decision})
        point = one.gone_past.point.name if one.gone_past else ""
        for person in who_looks(house):
            put(
                builder=house.builder,
                to=person,
                kind=Message.Kind.NOTICE,
                about=f"nonconformity:{one.pk}",
                version=f"said done:{one.said_done_at:%Y%m%dT%H%M%S%f}",
                subject=_("Said to be put right: %(point)s, %(house)s")
                % {"point": point, "house": house.name},
                body=_("%(crew)s says that it is done: %(decision)s")
                % {"crew": crew.name, "decision": one.decision},
                facts={"nonconformity": one.pk},
            )
    return one


def close_gone_past(inspection: Inspection, signed: Release, house: House) -> int:
    """The point is released: what went past it is closed; returns how many were open.

    What nobody had decided is decided by the signature: the signer was told, and looked at it all.
    """
    rows = list(_open_ones([inspection.pk]).select_related("gone_past__point", "visit", "crew", "decided_by"))
    for one in rows:
        if one.decided_by is None:
            one.decision, one.decided_by, one.decided_at = (
                _("looked at and released"),
                signed.by,
                signed.received_at,
            )
        one.state = Nonconformity.State.CLOSED
        one.save(update_fields=["state", "decision", "decided_by", "decided_at"])
        supersede(about=f"nonconformity:{one.pk}", kinds=(Message.Kind.REWORK, Message.Kind.NOTICE))
        record.append(
            house,
            "put right",
            {
                **_describe(one),
                "release": signed.pk,
                "decision": one.decision,
                "decided_by": one.decided_by.name if one.decided_by else "",
            },
        )
    return len(rows)
