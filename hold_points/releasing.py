"""Release, concede, re-open: lock, verify, record, lift the hold, in one transaction."""

from __future__ import annotations

import datetime as dt
import json
import uuid

from django.db import transaction
from django.utils.translation import gettext as _

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put, supersede
from coordination.people.access import planners_of, require_role
from coordination.people.models import Builder, Person, Role
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import holds, progress
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Hold, House, Plan
from coordination.sequence.telling import LONGEST_TEXT, cut
from hold_points import record
from hold_points.facts import PointRows, load_point
from hold_points.gone_past import close_gone_past
from hold_points.identifiers import read_id
from hold_points.models import Concession, Inspection, Nonconformity, RecordEntry, Release
from hold_points.moments import next_moment
from hold_points.readiness import CheckState
from hold_points.reopening import reopen
from hold_points.rework import say_limit
from hold_points.signing import (
    Signature,
    authenticate,
    counting_wrong_passwords,
    require_no_installer,
    require_signer,
    verify_signature,
)

__all__ = ["concede", "release", "reopen"]


def release(
    inspection: Inspection,
    *,
    by: Person,
    signature: Signature,
    id: uuid.UUID | str,
    section: str = "",
    at: dt.datetime | None = None,
    device: str = "",
) -> Release:
    """Sign that a point may be passed, whole or one section; the last part lifts the hold.

    In one transaction under the house's lock: every check of the part passes with its evidence, the signer
    has the role and belongs to no crew that installed what is judged; then the release, its entry in the
    record, the hold, and the point's date. The same id again returns the release that is there.

    Raises:
        NotAllowed: the signer may not.
        WrongState: with `missing`, when something is; when the part is released already or set aside.
        BadInput: signature, password or PIN, section or id.
    """
    release_id = read_id(id, "id")
    with counting_wrong_passwords(by), transaction.atomic():
        house = lock_house(inspection.house_id)
        inspection = Inspection.objects.select_related("point").get(pk=inspection.pk)
        role = require_signer(by, house, inspection.point)
        there = Release.objects.filter(pk=release_id).first()
        if there is not None:
            return _require_same(there, inspection, section, by, signature, at, device)
        kept = verify_signature(signature, by)
        way = authenticate(signature.password, by, house.builder)
        rows = load_point(inspection)
        hold = Hold.objects.filter(point=inspection.point).first()
        _require_releasable(rows, section, hold)
        moment = next_moment(inspection.pk)
        signed_at = _bound(at or moment, rows, section, moment)
        signed = Release.objects.create(
            id=release_id,
            inspection=inspection,
            section=section,
            by=by,
            name=by.name,
            role=role.kind,
            signature=kept,
            at=signed_at,
            received_at=moment,
            device=device[:120],
        )
        record.append(
            house,
            "part release" if section else "release",
            {
                **describe_release(signed, rows, house, drawn=isinstance(kept, list), way=way),
                # The clock of a tablet may be wrong; what it said stands beside what can be.
                **({} if at is None or at == signed_at else {"stated_at": at}),
            },
        )
        if load_point(inspection).released:
            if hold is not None:
                holds.lift(hold, signed.pk, by=by)
                close_gone_past(inspection, signed, house)
                _tell_planners(signed, inspection, house)
            if inspection.point.actual_finish is None:
                progress.point_passed(inspection.point, half_day_of(signed.at, house.builder), by=by)
    return signed


def _tell_planners(signed: Release, inspection: Inspection, house: House) -> None:
    """The planner hears that what waited behind the hold may now be made firm."""
    for planner in planners_of(house.builder):
        put(
            builder=house.builder,
            to=planner,
            kind=Message.Kind.NOTICE,
            about=f"inspection:{inspection.pk}",
            version=f"release:{signed.pk}",
            subject=_("Released: %(point)s, %(house)s")
            % {"point": inspection.point.name, "house": house.name},
            body=_("%(name)s released it. What waits behind it may be made firm when nothing else holds it.")
            % {"name": signed.by.name},
            facts={"release": str(signed.pk)},
        )


def _bound(at: dt.datetime, rows: PointRows, section: str, moment: dt.datetime) -> dt.datetime:
    """When it was signed: not before the last thing that it covers was judged, not later than it came in."""
    judged = [one.latest.at for one in rows.readiness.of_section(section).states if one.latest is not None]
    earliest = judged if rows.reopened_at is None else [*judged, rows.reopened_at]
    return min(max([at, *earliest]), moment)


def _require_same(
    there: Release,
    inspection: Inspection,
    section: str,
    by: Person,
    signature: Signature,
    at: dt.datetime | None,
    device: str,
) -> Release:
    """The release that is there, if it is the same in everything but the password."""
    kept = verify_signature(signature, by)
    same = (
        (there.inspection_id, there.section, there.by_id) == (inspection.pk, section, by.pk)
        and there.device == device[:120]
        and there.signature == kept
        and (at is None or at == there.at or record.canonical(at) == _stated_at(there))
    )
    if not same:
        raise BadInput(
            "id", _("Another release is on the record under this id. Load the page again and repeat.")
        )
    return there


def _stated_at(there: Release) -> str:
    """The moment that the device gave, as the record writes it; empty where it was taken as it came."""
    entry = RecordEntry.objects.filter(
        house=there.inspection.house_id, kind__endswith="release", text__contains=f'"release":"{there.pk}"'
    ).first()
    stated = json.loads(entry.text)["facts"].get("stated_at") if entry else None
    return "" if stated is None else record.canonical(stated)


def _require_releasable(rows: PointRows, section: str, hold: Hold | None) -> None:
    if section and section not in rows.sections:
        raise BadInput("section", _("This point has no part called '%(name)s'.") % {"name": section})
    if hold is not None and hold.set_aside_at is not None:
        raise WrongState(_("This hold point was set aside when the house was brought in; it stops nothing."))
    if rows.released or (section and section in rows.released_sections):
        raise WrongState(_("This is released already."))
    part = rows.readiness.of_section(section)
    if not part.ready:
        raise WrongState(
            _("It cannot be released yet."), [gap.words for gap in part.missing] or [_("nothing was checked")]
        )


def half_day_of(moment: dt.datetime, builder: Builder) -> int:
    """The half-day of a moment in the builder's zone: mornings last until noon."""
    return clock.half_day_of(moment, builder.time_zone)


def describe_release(
    signed: Release, rows: PointRows, house: House, *, drawn: bool, way: str
) -> dict[str, object]:
    """What the record says of a release: each check as shown, its verdict and evidence, who, how.

    `way`: how the signer was authenticated (`signing.authenticate`).
    """
    part = rows.readiness.of_section(signed.section)
    plan = Plan.objects.filter(house=house).order_by("-number").values_list("number", flat=True).first()
    return {
        "release": signed.pk,
        "point": rows.inspection.point.key,
        "point_name": rows.inspection.point.name,
        "point_kind": rows.inspection.point.point_kind,
        "section": signed.section,
        "sequence": f"{house.sequence_version.key} {house.sequence_version.number}",
        "plan_revision": plan,
        "checks": [_describe_state(one, rows) for one in part.states],
        "signed_by": {
            "person": signed.by_id,
            "name": signed.by.name,
            "name_as_signed": signed.name,
            "role": signed.role,
        },
        "signature": "drawn" if drawn else "name typed twice",
        "signature_sha256": record.hash_facts(signed.signature),
        "authenticated_by": way,
        "signed_at": signed.at,
        "received_at": signed.received_at,
        "device": signed.device,
        "says": _("records that the builder's own checks were made; no certificate"),
    }


def _describe_state(one: CheckState, rows: PointRows) -> dict[str, object]:
    """A check as it was signed; the outcome is the one that counts, not the one that came in last."""
    check = rows.checks[one.check.id]
    outcome = one.latest
    trouble = rows.nonconformities.get(check.pk)
    return {
        "key": check.key,
        "version": check.version,
        "text": check.text,
        "place": one.check.place_name,
        "limit": say_limit(check),
        "source": check.source,
        "state": str(one.state),
        "outcome": outcome.id if outcome else None,
        "value": outcome.value if outcome else None,
        "concession_of": trouble.pk if trouble else None,
        "photographs": [record.describe_photograph(photo) for photo in rows.evidence.get(check.pk, ())],
    }


def concede(
    nonconformity: Nonconformity,
    *,
    by: Person,
    authority: str,
    reason: str,
    follow_up: str,
    follow_up_on: dt.date,
    follow_up_owner: str,
    password: str = "",
) -> Concession:
    """Let a point be released in spite of a named nonconformity, with a follow-up act. Never for safety.

    `password`: the password or PIN once more, as at a release.

    Raises:
        NotAllowed: no role for the builder, or a crew of the person installed what is judged.
        WrongState: a safety check; closed or conceded already; its part of the point is released.
        BadInput: authority, reason or follow-up is missing, its day is past, or a wrong password or PIN.
    """
    with counting_wrong_passwords(by), transaction.atomic():
        house = lock_house(nonconformity.house_id)
        role = require_role(by, house.builder, Role.Kind.SUPERVISOR, Role.Kind.ASSESSOR, Role.Kind.PLANNER)
        trouble = Nonconformity.objects.select_related("check_failed__inspection__point", "crew").get(
            pk=nonconformity.pk
        )
        require_no_installer(by, house, trouble.failed.inspection.point)
        rows = load_point(trouble.failed.inspection)
        if rows.released or trouble.failed.section in rows.released_sections:
            raise WrongState(_("This part is released. Re-open the hold point before anything is conceded."))
        if trouble.failed.safety:
            raise WrongState(_("There is no concession for a safety check. It is put right before release."))
        if trouble.state == Nonconformity.State.CLOSED:
            raise WrongState(_("This was put right; it needs no concession."))
        if Concession.objects.filter(nonconformity=trouble).exists():
            raise WrongState(_("There is a concession for this already."))
        texts = {
            "authority": (authority, 120, _("Name who has the authority for this.")),
            "reason": (reason, 300, _("Say why it may stay.")),
            "follow_up": (follow_up, 200, _("Name the act that follows up.")),
            "follow_up_owner": (follow_up_owner, 120, _("Name who follows up.")),
        }
        for where, (text, most, words) in texts.items():
            if not text.strip() or len(text) > most:
                raise BadInput(where, words)
        if follow_up_on < clock.today(house.builder.time_zone):
            raise BadInput("follow_up_on", _("The follow-up lies in the past. Give a day to come."))
        way = authenticate(password, by, house.builder)
        given = Concession.objects.create(
            nonconformity=trouble,
            by=by,
            authority=authority.strip(),
            reason=reason.strip(),
            follow_up=follow_up.strip(),
            follow_up_on=follow_up_on,
            follow_up_owner=follow_up_owner.strip(),
            at=next_moment(trouble.failed.inspection_id),
        )
        record.append(
            house,
            "concession",
            {
                "nonconformity": trouble.pk,
                "check": trouble.failed.text,
                "authority": given.authority,
                "reason": given.reason,
                "follow_up": given.follow_up,
                "follow_up_on": given.follow_up_on,
                "follow_up_owner": given.follow_up_owner,
                "by": {"person": by.pk, "name": by.name, "role": role.kind},
                "authenticated_by": way,
                "given_at": given.at,
            },
        )
        _tell_crew(given, trouble, house)
        _remind_owner(given, trouble, house)
    return given


def _tell_crew(given: Concession, trouble: Nonconformity, house: House) -> None:
    """The crew that was to put it right hears once that it may stay."""
    about = f"nonconformity:{trouble.pk}"
    supersede(about=about, kinds=(Message.Kind.REWORK,))
    if trouble.crew is None:
        return
    where = f"{house.name}, {trouble.failed.place.name}" if trouble.failed.place else house.name
    put(
        builder=house.builder,
        to=trouble.crew,
        kind=Message.Kind.NOTICE,
        about=about,
        version=f"conceded:{given.pk}",
        subject=_("Nothing to put right any more: %(where)s") % {"where": where},
        body=cut(
            _("It may stay as it is, by a concession: %(check)s") % {"check": trouble.failed.text},
            LONGEST_TEXT,
        ),
        facts={"nonconformity": trouble.pk},
    )


def _remind_owner(given: Concession, trouble: Nonconformity, house: House) -> None:
    """Who follows up hears of it on its day; the planners, if the name is nobody's of the builder.

    A fresh outcome that closes the nonconformity takes the message back.
    """
    roles = Role.objects.filter(builder=house.builder, person__name__iexact=given.follow_up_owner)
    where = trouble.failed.place.name if trouble.failed.place else house.name
    morning = clock.starts_at(clock.as_half_day(given.follow_up_on), house.builder.time_zone)
    owners = {role.person_id: role.person for role in roles.select_related("person")}
    act = given.follow_up
    if not owners:
        owners = {one.pk: one for one in planners_of(house.builder)}
        act = _("%(act)s (by %(owner)s, who gets no mail from here: see that it is done)") % {
            "act": given.follow_up,
            "owner": given.follow_up_owner,
        }
    for owner in owners.values():
        put(
            builder=house.builder,
            to=owner,
            kind=Message.Kind.NOTICE,
            about=f"nonconformity:{trouble.pk}",
            version=f"follow-up:{given.pk}",
            subject=_("Follow up today: %(house)s, %(where)s") % {"house": house.name, "where": where},
            body=cut(
                _("%(act)s. Conceded on the authority of %(authority)s: %(check)s")
                % {"act": act, "authority": given.authority, "check": trouble.failed.text},
                LONGEST_TEXT,
            ),
            facts={"nonconformity": trouble.pk},
            due_at=max(morning, clock.now()),
        )
