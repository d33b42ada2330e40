"""A crew's statement for a check that asks for one: kept, put on the record, shown beside the check."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import transaction
from django.utils.translation import gettext as _

from coordination.people.models import Crew
from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Booking
from coordination.sequence.statements import Stated, StatedRun, StatementShown
from hold_points import record
from hold_points.facts import PointRows, load_point
from hold_points.installing import visits_installing
from hold_points.models import Check, Outcome, Statement
from hold_points.moments import next_moment


def state_runs(check_id: int, crew: Crew, stated: Stated) -> Statement:
    """Keep a crew's statement; a former one stays on the record.

    Raises:
        NotAllowed: the check asks for none, or the crew is not booked for what it is about.
        BadInput: a row or a field is not as it must be; nothing is kept.
        WrongState: its part of the point is released.
    """
    check = Check.objects.select_related("inspection__point", "detail").filter(pk=check_id).first()
    if check is None or not _may_state(check, crew):
        raise NotAllowed(_("This statement is not your crew's to give."))
    if stated.refused:
        raise BadInput("runs", _("The statement is not complete. Nothing is kept yet."))
    with transaction.atomic():
        house = lock_house(check.inspection.house_id)
        rows = load_point(check.inspection)
        if rows.state_of(check.pk) is None:
            raise WrongState(_("The house was changed meanwhile. Open your visit again."))
        if check.section in rows.released_sections or rows.released:
            raise WrongState(
                _("This part is released. Say under 'I moved a batt or drilled a plate later' what changed.")
            )
        kept = Statement.objects.create(
            check_stated=check,
            runs=[{"run": one.run, "contact": one.contact, "rcd": one.rcd} for one in stated.runs],
            name=stated.name,
            licence=stated.licence,
            note=stated.note,
            crew=crew,
            received_at=next_moment(check.inspection_id),
        )
        record.append(
            house,
            "statement",
            {
                "statement": kept.pk,
                "point": check.inspection.point.key,
                "check": {"key": check.key, "version": check.version, "text": check.text},
                "runs": kept.runs,
                "name": kept.name,
                "licence": kept.licence,
                "note": kept.note,
                "crew": {"id": crew.pk, "name": crew.name},
                "received_at": kept.received_at,
            },
        )
    return kept


def _may_state(check: Check, crew: Crew) -> bool:
    if check.evidence != Check.Evidence.STATEMENT or check.detail_id is None:
        return False
    visits = visits_installing([check.detail_id])[check.detail_id]
    return Booking.objects.filter(visit__in=visits, crew=crew, state__in=Booking.LIVE).exists()


def find_statements(rows: PointRows, check: Check) -> tuple[StatementShown, ...]:
    """What stands beside a check: its own statements, else those of its detail."""
    beside = [
        pk
        for pk, one in rows.checks.items()
        if pk == check.pk or (check.detail_id is not None and one.detail_id == check.detail_id)
    ]
    return tuple(shown for pk in beside for shown in show_statements(rows.statements.get(pk, ())))


def show_statements(statements: Iterable[Statement]) -> tuple[StatementShown, ...]:
    """Of each crew's statements the latest."""
    latest = {one.crew_id: one for one in statements}
    return tuple(
        StatementShown(
            id=one.pk,
            name=one.name,
            licence=one.licence,
            runs=tuple(StatedRun(row["run"], row["contact"], row["rcd"]) for row in one.runs),
            note=one.note,
            sender=one.crew.name,
            at=one.received_at,
        )
        for one in latest.values()
    )


def require_recorded(check: Check, kind: str) -> None:
    """A statement is recorded: nobody of the walk finds a cable's route not met.

    Raises:
        BadInput: it was judged.
    """
    if check.evidence == Check.Evidence.STATEMENT and kind in (Outcome.Kind.NOT_MET, Outcome.Kind.PUT_RIGHT):
        raise BadInput(
            "kind",
            _(
                "A statement is recorded, not judged: the licensed trade decides. "
                "If it does not fit what you see, ring the trade and have it stated anew."
            ),
        )
