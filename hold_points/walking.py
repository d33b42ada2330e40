"""Walk a point: record what was found for a check, in one transaction under the house's lock."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence

from django.db import transaction
from django.utils.translation import gettext as _

from coordination.outbox.models import Message
from coordination.outbox.put import put, supersede
from coordination.people.access import has_role, planners_of, require_role
from coordination.people.models import Builder, Person, Role
from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Activity, House
from hold_points import record
from hold_points.entering import Found, require_seen, require_sense
from hold_points.evidence import Shows, keep_photograph
from hold_points.facts import PointRows, load_point
from hold_points.identifiers import new_id, read_id
from hold_points.models import Check, Outcome
from hold_points.moments import next_moment
from hold_points.readiness import CheckState, State
from hold_points.rework import close_nonconformities, raise_nonconformity, say_limit
from hold_points.sampling import describe_sample, is_sampled, settle_samples
from hold_points.signing import require_no_own_work
from hold_points.stating import require_recorded

Kind = Outcome.Kind
WALKERS = (Role.Kind.SUPERVISOR, Role.Kind.ASSESSOR)


def record_outcome(check: Check, found: Found, by: Person) -> Outcome:
    """Record what was found. The same again is harmless and returns the outcome that is there.

    Raises:
        NotAllowed: no role to judge this, or a crew of the person's own installed what would be found good.
        BadInput: the value, kind, note or id cannot be taken; another outcome has the id.
        WrongState: the check was replaced, its part is released, or a second person has to close it;
            `FoundOtherwise` when somebody has found something else since the page was opened.
    """
    return record_outcomes([(check, found)], by)[0]


def record_outcomes(judged: Sequence[tuple[Check, Found]], by: Person) -> list[Outcome]:
    """Record what was found for several checks of one point: all of them, or none.

    Each check is judged once. Errors as `record_outcome`; the rows of the point are read twice however many
    checks there are.
    """
    inspections = {check.inspection_id for check, _found in judged}
    if len(inspections) != 1 or len({check.pk for check, _found in judged}) != len(judged):
        raise BadInput("checks", _("Judge the checks of one point together, and each of them once."))
    ids = [read_id(found.id, "id") for _check, found in judged]
    with transaction.atomic():
        house = lock_house(judged[0][0].inspection.house_id)
        kept = {one.pk: one for one in Outcome.objects.filter(pk__in=ids).select_related("by")}
        if any(is_sampled(check) for check, _found in judged):
            settle_samples(judged[0][0].inspection, house)
        good = [check for check, found in judged if found.kind in (Kind.MET, Kind.PUT_RIGHT)]
        require_no_own_work(by, house, good)
        rows = load_point(judged[0][0].inspection)
        fresh: list[tuple[Outcome, Check]] = []
        moment = next_moment(rows.inspection.pk)
        outcomes = []
        for (check, found), found_id in zip(judged, ids, strict=True):
            role = _role_for(check, found, by, house.builder)
            outcome = kept.get(found_id)
            if outcome is not None:
                _require_same(outcome, check, found, by)
            else:
                state = _require_open(rows, check)
                require_seen(check, found)
                require_sense(check, found, state)
                require_recorded(check, found.kind)
                _require_second_person(check, found, state, by, role)
                outcome = _write(check, found, found_id, by, role, moment)
                fresh.append((outcome, check))
            _keep_photos(found, outcome, check, house, by)
            outcomes.append(outcome)
        if fresh:
            after = load_point(judged[0][0].inspection)
            for outcome, check in fresh:
                _require_photograph(outcome, after)
                record.append(house, "outcome", describe_outcome(outcome, check, after))
                _follow(outcome, check, house, after)
    return outcomes


def _write(
    check: Check, found: Found, found_id: uuid.UUID, by: Person, role: str, moment: dt.datetime
) -> Outcome:
    return Outcome.objects.create(
        id=found_id,
        check_judged=check,
        kind=found.kind,
        value=found.value,
        note=found.note.strip(),
        own_hand=found.own_hand,
        from_photograph=found.from_photograph,
        by=by,
        role=role,
        # A tablet's clock may run ahead; nothing is judged later than it arrives.
        at=min(found.at or moment, moment),
        received_at=moment,
        device=found.device[:120],
    )


def _role_for(check: Check, found: Found, by: Person, builder: Builder) -> str:
    """The role in which the person judges: a walker's, or a planner's for what a planner may close."""
    kinds: tuple[Role.Kind, ...] = WALKERS
    if check.inspection.point.point_kind == Activity.PointKind.REVIEW:
        kinds = (*WALKERS, Role.Kind.PLANNER)
    closes = found.from_photograph and found.kind in (Kind.MET, Kind.NOT_MET)
    if closes and not has_role(by, builder, *kinds) and has_role(by, builder, Role.Kind.PLANNER):
        return Role.Kind.PLANNER
    return require_role(by, builder, *kinds).kind


def _require_same(there: Outcome, check: Check, found: Found, by: Person) -> None:
    asked = (check.pk, found.kind, found.value, found.note.strip(), found.own_hand, found.from_photograph)
    kept = (
        there.check_judged_id,
        there.kind,
        there.value,
        there.note,
        there.own_hand,
        there.from_photograph,
    )
    if asked != kept or there.by_id != by.pk:
        raise BadInput(
            "id", _("Another outcome is on the record under this id. Load the page again and repeat.")
        )


def _require_open(rows: PointRows, check: Check) -> CheckState:
    state = rows.state_of(check.pk)
    if state is None:
        raise WrongState(_("This check was replaced because the house changed. Look at the new one."))
    if check.section in rows.released_sections or rows.released:
        raise WrongState(
            _("This part is released. Re-open the hold point for the room before judging it again.")
        )
    return state


def _require_second_person(check: Check, found: Found, state: CheckState, by: Person, role: str) -> None:
    hands = state.hands
    if by.pk in hands and found.kind in (Kind.MET, Kind.PUT_RIGHT) and not found.own_hand:
        raise WrongState(
            _("You put this right with your own hand. A second person closes it from the photograph.")
        )
    reviewed = check.inspection.point.point_kind == Activity.PointKind.REVIEW
    if role == Role.Kind.PLANNER and found.kind == Kind.MET and not hands and not reviewed:
        raise NotAllowed(_("A planner closes only what a supervisor put right with her own hand."))
    if not found.from_photograph:
        return
    if check.safety:
        raise WrongState(_("A safety check is never closed from a photograph. Go and look."))
    by_kind = check.inspection.point.point_kind == Activity.PointKind.HOLD_FROM_PHOTOGRAPHS
    if not (by_kind or check.remote_closing or hands):
        raise WrongState(_("This check cannot be judged from a photograph. Go and look."))


def _keep_photos(found: Found, outcome: Outcome, check: Check, house: House, by: Person) -> None:
    for photograph in found.photos:
        shows = Shows(inspection=check.inspection, check=check, outcome=outcome, by=by)
        keep_photograph(photograph, house, shows)


def _require_photograph(outcome: Outcome, after: PointRows) -> None:
    """What is judged from a photograph, or was put right by own hand, has one; else nothing is saved."""
    if any(one.check.id == outcome.check_judged_id and one.photos for one in after.readiness.states):
        return
    if outcome.from_photograph:
        raise BadInput(
            "photo",
            _("There is no photograph of this yet to judge from, or none since it was found wrong."),
        )
    if outcome.own_hand:
        raise BadInput(
            "photo", _("Take a photograph of what you put right: a second person closes it from that.")
        )


def describe_outcome(outcome: Outcome, check: Check, rows: PointRows) -> dict[str, object]:
    """What the record says of an outcome: the check as it was shown, what was found, who, when, how."""
    return {
        "outcome": outcome.pk,
        "point": check.inspection.point.key,
        "check": {
            "key": check.key,
            "version": check.version,
            "text": check.text,
            "place": check.place.name if check.place else "",
            "section": check.section,
            "limit": say_limit(check),
            "source": check.source,
            "safety": check.safety,
        },
        "kind": outcome.kind,
        "value": outcome.value,
        "unit": check.unit,
        "note": outcome.note,
        "own_hand": outcome.own_hand,
        "from_photograph": outcome.from_photograph,
        "photographs": [record.describe_photograph(one) for one in rows.evidence.get(check.pk, ())],
        "by": {"person": outcome.by_id, "name": outcome.by.name, "role": outcome.role},
        "judged_at": outcome.at,
        "received_at": outcome.received_at,
        "device": outcome.device,
        **(
            {"statements": [one.pk for one in rows.statements.get(check.pk, ())]}
            if check.evidence == Check.Evidence.STATEMENT
            else {}
        ),
        **({"sample": describe_sample(rows.checks.get(check.pk, check))} if is_sampled(check) else {}),
    }


def _follow(outcome: Outcome, check: Check, house: House, after: PointRows) -> None:
    """What an outcome brings about: rework, the closing of rework, or a question to the planner."""
    if outcome.kind == Kind.NOT_MET:
        raise_nonconformity(outcome, check, house)
        return
    state = next(one for one in after.readiness.states if one.check.id == check.pk)
    if state.latest is None or state.latest.id != outcome.pk:
        # It came in too late to count. It is kept and shown; what is to be put right stays so.
        return
    if state.state is State.NOT_HERE_ASKED:
        _ask_planner(outcome, check, house)
    elif state.state is State.SECOND_PERSON and state.nonconformity is not None:
        # The crew has nothing left to do here; a second person who finds it wrong sends it again.
        supersede(about=f"nonconformity:{state.nonconformity.id}", kinds=(Message.Kind.REWORK,))
    elif state.state is State.NOT_HERE or (outcome.kind in (Kind.MET, Kind.PUT_RIGHT) and not state.hands):
        close_nonconformities(outcome, check, house)


def _ask_planner(outcome: Outcome, check: Check, house: House) -> None:
    where = check.place.name if check.place else house.name
    for planner in planners_of(house.builder):
        put(
            builder=house.builder,
            to=planner,
            kind=Message.Kind.NOTICE,
            about=f"check:{check.pk}",
            version=f"outcome:{outcome.pk}",
            subject=_("Not on this house? %(house)s, %(where)s") % {"house": house.name, "where": where},
            body=_("%(name)s found that this is not on the house, against the set-out: %(check)s. %(note)s")
            % {"name": outcome.by.name, "check": check.text, "note": outcome.note},
            facts={"check": check.pk, "outcome": str(outcome.pk)},
        )


def confirm_not_here(check: Check, by: Person, *, outcome_id: uuid.UUID | None = None) -> Outcome:
    """A planner confirms that something is not on this house although the set-out has it.

    Raises:
        NotAllowed: the person is no planner of the builder.
        WrongState: nobody on the walk has said so.
    """
    with transaction.atomic():
        house = lock_house(check.inspection.house_id)
        require_role(by, house.builder, Role.Kind.PLANNER)
        rows = load_point(check.inspection)
        state = _require_open(rows, check)
        if state.state is not State.NOT_HERE_ASKED or state.latest is None:
            raise WrongState(_("Nothing is to be confirmed here."))
        if state.latest.by == by.pk:
            raise WrongState(_("You said so yourself on the walk. Another planner confirms it."))
        moment = next_moment(check.inspection_id)
        outcome = Outcome.objects.create(
            id=outcome_id or new_id(),
            check_judged=check,
            kind=Kind.NOT_HERE,
            note=state.latest.note,
            by=by,
            role=Role.Kind.PLANNER,
            at=moment,
            received_at=moment,
        )
        record.append(house, "outcome", describe_outcome(outcome, check, rows))
        close_nonconformities(outcome, check, house)
    return outcome
