"""A room as a whole: its photograph, and 'nothing to note' for what is only seen in it."""

from __future__ import annotations

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from coordination.people.access import require_role
from coordination.people.models import Person
from coordination.people.refusals import WrongState
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Place
from hold_points import record
from hold_points.facts import PointRows, load_point
from hold_points.identifiers import new_id
from hold_points.models import Check, Evidence, Inspection, Outcome
from hold_points.moments import next_moment
from hold_points.readiness import State
from hold_points.signing import require_no_own_work
from hold_points.walking import WALKERS, Kind, describe_outcome


def note_nothing(inspection: Inspection, place: Place, by: Person, *, device: str = "") -> list[Outcome]:
    """'Nothing to note' in a room: every open check that is only seen and asks for no evidence is met.

    Raises:
        NotAllowed: no role to judge here, or a crew of the person's own installed some of it.
        WrongState: there is no photograph of the room yet, or nothing is left that may be passed so.
    """
    with transaction.atomic():
        house = lock_house(inspection.house_id)
        require_role(by, house.builder, *WALKERS)
        rows = load_point(inspection)
        states = [one for one in rows.readiness.states if one.check.place == place.pk]
        open_ones = [
            one
            for one in states
            if one.state is State.OPEN
            and one.check.kind == Check.Kind.SEEN
            and one.check.needs == Check.Evidence.NONE
            and not one.check.safety
            and one.check.section not in rows.released_sections
        ]
        if not room_photographs(rows, place).exists():
            raise WrongState(_("Take a photograph of the room first: 'nothing to note' stands on it."))
        if not open_ones:
            raise WrongState(_("Nothing is left in this room that can be passed together."))
        require_no_own_work(by, house, [rows.checks[one.check.id] for one in open_ones])
        moment = next_moment(inspection.pk)
        outcomes = []
        for one in open_ones:
            check = rows.checks[one.check.id]
            outcome = Outcome.objects.create(
                id=new_id(),
                check_judged=check,
                kind=Kind.MET,
                note=_("nothing to note in the room"),
                by=by,
                role=require_role(by, house.builder, *WALKERS).kind,
                at=moment,
                received_at=moment,
                device=device[:120],
            )
            record.append(house, "outcome", describe_outcome(outcome, check, rows))
            outcomes.append(outcome)
    return outcomes


def room_photographs(rows: PointRows, place: Place) -> QuerySet[Evidence]:
    """Photographs of a room as such, by whoever walks it, after its latest re-opening."""
    found = Evidence.objects.filter(
        inspection=rows.inspection, place=place, check_shown=None, outcome=None, detail=None, crew=None
    )
    since = max(
        (one.at for one in rows.reopenings if place.pk in rows.reopened_place_ids.get(one.pk, ())),
        default=None,
    )
    return found if since is None else found.filter(received_at__gt=since)
