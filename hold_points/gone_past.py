"""A crew went past an open hold point: a nonconformity without a check, decided by a named person.

Nobody can undo that it happened. Someone decides how it is put right (opened and looked at, left with an act
that follows it up), and the release of the point, which still needs every check, closes it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put, supersede
from coordination.people.access import require_role
from coordination.people.models import Person, Role
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Booking, House, Visit
from coordination.sequence.telling import cut
from hold_points import record
from hold_points.models import Inspection, Nonconformity, Release

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
        one.save(update_fields=["decision", "decided_by", "decided_at"])
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
        if one.crew is not None and one.gone_past is not None:
            put(
                builder=house.builder,
                to=one.crew,
                kind=Message.Kind.REWORK,
                about=f"nonconformity:{one.pk}",
                version=f"decided:{one.decided_at.isoformat()}",
                subject=_("Put right: %(house)s, %(point)s was gone past")
                % {"house": house.name, "point": one.gone_past.point.name},
                body=_("%(name)s decided: %(decision)s") % {"name": cut(by.name, 48), "decision": words},
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
        supersede(about=f"nonconformity:{one.pk}", kinds=(Message.Kind.REWORK,))
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
