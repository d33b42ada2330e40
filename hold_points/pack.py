"""The pack of a house: what is in its walls, where, what was found, who released it, and what went otherwise.

Two of them are made from the same rows. The builder's is whole. The owner's leaves out who did the work and
every free remark, and names people by what they are; what was found, conceded, passed by or never recorded
stands in both.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.utils.translation import gettext as _

from coordination import clock
from coordination.fabric.numerals import write_number
from coordination.sequence.models import Activity, Covering, Detail, Hold, House
from hold_points.facts import PointRows, load_points
from hold_points.models import Check, Concession, Evidence, Inspection, Outcome, RecordEntry, Release, Seal
from hold_points.pack_sheets import (
    CheckSheet,
    Conceded,
    DetailSheet,
    Judged,
    Pack,
    Photograph,
    PointSheet,
    Reader,
    Words,
)
from hold_points.readiness import CheckState, State
from hold_points.record import head_of
from hold_points.rework import say_limit
from hold_points.stating import show_statements


def read_pack(house: House, reader: Reader) -> Pack:
    """The pack of a house as it stands now, in a fixed number of queries."""
    words = Words(reader, house.builder.time_zone)
    ids = Inspection.objects.filter(house=house).order_by("point__order").values_list("pk", flat=True)
    loaded = load_points(ids)
    points = [loaded[pk] for pk in ids]
    holds = {one.point_id: one for one in Hold.objects.filter(house=house).select_related("set_aside_by")}
    last = RecordEntry.objects.filter(house=house).order_by("-n").values_list("n", flat=True).first()
    seal = Seal.objects.filter(builder=house.builder_id).order_by("-n").first()
    version = house.sequence_version
    return Pack(
        house=house,
        reader=reader,
        printed_on=words.on(clock.now()),
        sequence=_("%(name)s, version %(number)s") % {"name": version.name, "number": version.number},
        published_on=words.on(version.published_at),
        entries=last or 0,
        head=head_of(house) if last else _("nothing recorded yet"),
        seal=seal.hash if seal else "",
        seal_words=_("Seal %(n)s of %(on)s") % {"n": seal.n, "on": words.on(seal.at)} if seal else "",
        details=tuple(_read_details(house, points, words)),
        points=tuple(_describe_point(one, holds.get(one.inspection.point_id), words) for one in points),
        concessions=tuple(_read_concessions(house, words)),
        went_past=tuple(_read_gone_past(house, words)),
        set_aside=tuple(_describe_aside(one, words) for one in holds.values() if one.set_aside_at),
    )


# ---------------------------------------------------------------------- details and their checks


def _read_details(house: House, points: Sequence[PointRows], words: Words) -> Iterable[DetailSheet]:
    history = _read_outcomes(house)
    found: dict[int | None, dict[str, list[tuple[PointRows, CheckState]]]] = {}
    shown: dict[int | None, dict[int, Photograph]] = {}
    for rows in points:
        for state in rows.readiness.states:
            check = rows.checks[state.check.id]
            found.setdefault(check.detail_id, {}).setdefault(check.key, []).append((rows, state))
            photographs = shown.setdefault(check.detail_id, {})
            for one in rows.evidence.get(check.pk, ()):
                photographs.setdefault(one.pk, _describe_photograph(one, check, words))
    buried: dict[int, list[str]] = {}
    coverings = Covering.objects.filter(detail__house=house).select_related("activity")
    for covering in coverings.order_by("activity__order"):
        buried.setdefault(covering.detail_id, []).append(covering.activity.name)
    details = (
        Detail.objects.filter(house=house).prefetch_related("detail_places__place").select_related("point")
    )
    for detail in details:
        checks = found.get(detail.pk, {})
        judged_at = {rows.inspection.point.name for members in checks.values() for rows, _state in members}
        if not judged_at and detail.point is not None:
            judged_at = {detail.point.name}
        yield DetailSheet(
            key=detail.key,
            name=detail.name,
            places=tuple(one.place.name for one in sorted(detail.detail_places.all(), key=_walking_order)),
            points=tuple(sorted(judged_at)),
            buried_by=tuple(buried.get(detail.pk, ())),
            drawing=detail.drawing,
            numbers=detail.drawing_numbers,
            checks=tuple(_describe_check(members, history, words) for members in checks.values()),
            photographs=tuple(shown.get(detail.pk, {}).values()),
        )
    if None in found:
        yield DetailSheet(
            key="",
            name=_("Asked of the house"),
            places=(),
            points=(),
            buried_by=(),
            drawing="",
            numbers={},
            checks=tuple(_describe_check(members, history, words) for members in found[None].values()),
            photographs=tuple(shown[None].values()),
        )


def _walking_order(one: Any) -> int:
    return int(one.place.order)


def _read_outcomes(house: House) -> dict[int, list[Outcome]]:
    rows = Outcome.objects.filter(check_judged__inspection__house=house).select_related("by", "check_judged")
    found: dict[int, list[Outcome]] = {}
    for one in rows.order_by("received_at", "pk"):
        found.setdefault(one.check_judged_id, []).append(one)
    return found


def _describe_check(
    members: Sequence[tuple[PointRows, CheckState]], history: Mapping[int, list[Outcome]], words: Words
) -> CheckSheet:
    rows, state = members[0]
    check = rows.checks[state.check.id]
    drawn = [(point, one) for point, one in members if one.state is not State.NOT_DRAWN]
    drawn.sort(key=lambda member: member[0].checks[member[1].check.id].order)
    return CheckSheet(
        key=check.key,
        text=check.text,
        kind=check.get_kind_display(),
        limit=say_limit(check),
        why=check.why_limit,
        source=check.source,
        applies=check.applies,
        sure=check.sure,
        safety=check.safety,
        rows=tuple(
            _describe_judged(point.checks[one.check.id], one, history.get(one.check.id, []), words)
            for point, one in drawn
        ),
        not_drawn=len(members) - len(drawn),
        stated=tuple(_say_statements(rows, check, words)),
    )


def _say_statements(rows: PointRows, check: Check, words: Words) -> Iterable[str]:
    """As stated; the owner's pack names nobody of a crew, and leaves out the free note."""
    for one in show_statements(rows.statements.get(check.pk, ())):
        if words.reader is Reader.OWNER:
            yield _("stated by the trade, %(on)s") % {"on": words.on(one.at)}
        else:
            yield _("stated by %(name)s, licence %(licence)s (%(crew)s), %(on)s") % {
                "name": one.name,
                "licence": one.licence,
                "crew": one.sender,
                "on": words.on(one.at),
            }
        for run in one.runs:
            said = {"contact": run.contact_words, "rcd": run.rcd_words, "run": words.remark(run.run)}
            yield (
                _("%(run)s: %(contact)s; RCD: %(rcd)s") if said["run"] else _("%(contact)s; RCD: %(rcd)s")
            ) % said
        if words.remark(one.note):
            yield one.note


def _describe_judged(check: Check, state: CheckState, outcomes: Sequence[Outcome], words: Words) -> Judged:
    latest = state.latest
    counting = next((one for one in reversed(outcomes) if latest is not None and one.pk == latest.id), None)
    found = ""
    if counting is not None and counting.value is not None:
        found = f"{write_number(counting.value)} {check.unit}".strip()
    by = words.by(counting.by.name, counting.role, counting.at) if counting is not None else ""
    former = [one for one in outcomes if counting is None or one.pk != counting.pk]
    return Judged(
        place=check.place.name if check.place else _("whole house"),
        state=state.state,
        found=found,
        judged=by,
        note=words.remark(counting.note) if counting is not None else "",
        before=tuple(
            _("%(what)s %(on)s") % {"what": one.get_kind_display(), "on": words.on(one.at)}
            for one in former
            if one.kind in (Outcome.Kind.NOT_MET, Outcome.Kind.NOT_SEEN)
        ),
    )


def _describe_photograph(one: Evidence, check: Check, words: Words) -> Photograph:
    where = f"{check.place.name}, " if check.place else ""
    said = f"{where}{words.on(one.taken_at or one.received_at)}"
    remark = words.remark(one.words)
    return Photograph(
        evidence=one.pk,
        sha256=one.sha256,
        words=f"{said}: {remark}" if remark else said,
        ready=one.prepared_at is not None,
        shown=str(one.shown) if one.prepared_at is not None else "",
    )


# ---------------------------------------------------------------------- points, and what went otherwise


def _describe_point(rows: PointRows, hold: Hold | None, words: Words) -> PointSheet:
    point = rows.inspection.point
    counting = rows.counting_releases
    aside = hold is not None and hold.set_aside_at is not None
    if aside:
        state = _("not recorded")
    elif rows.released:
        state = _("released") if hold is not None else _("signed")
    elif rows.releases:
        state = _("re-opened, not released again")
    elif rows.inspection.lapsed_at is not None:
        # Who stayed away is the builder's own matter; that nobody looked is everybody's.
        state = _("not attended")
    elif point.point_kind == Activity.PointKind.PHOTO and rows.readiness.ready:
        state = _("shown by photographs")
    elif point.actual_finish is not None:
        state = _("passed without a signature")
    else:
        state = _("open")
    return PointSheet(
        name=point.name,
        kind=point.get_point_kind_display(),
        state=state,
        signed=tuple(_sign(one, words) for one in counting),
        struck=tuple(_sign(one, words) for one in rows.releases if one not in counting),
        reopened=tuple(
            _("re-opened %(on)s: %(places)s%(why)s")
            % {
                "on": words.on(one.at),
                "places": ", ".join(rows.reopened_places.get(one.pk, ())) or _("whole house"),
                "why": f" ({one.reason})" if words.remark(one.reason) else "",
            }
            for one in rows.reopenings
        ),
        plain=rows.released and not rows.reopenings and not aside,
    )


def _sign(one: Release, words: Words) -> str:
    by = words.by(one.signer, one.role, one.at)
    return f"{one.section}: {by}" if one.section else by


def _read_concessions(house: House, words: Words) -> Iterable[Conceded]:
    rows = Concession.objects.filter(nonconformity__house=house).select_related(
        "nonconformity__check_failed__place"
    )
    for one in rows.order_by("at", "pk"):
        check = one.nonconformity.check_failed
        act = one.follow_up
        if words.reader is Reader.BUILDER:
            act = f"{act} ({one.follow_up_owner})"
        yield Conceded(
            check=check.text if check else _("went past a hold point"),
            place=check.place.name if check and check.place else _("whole house"),
            authority=one.authority,
            reason=one.reason,
            follow_up=_("%(act)s, by %(on)s") % {"act": act, "on": words.day(one.follow_up_on)},
            on=words.on(one.at),
        )


def _read_gone_past(house: House, words: Words) -> Iterable[str]:
    for one in RecordEntry.objects.filter(house=house, kind="went past").order_by("n"):
        facts = json.loads(one.text)["facts"]
        said = {"on": words.on(one.at), "visit": facts["visit"], "holds": facts["holds"]}
        if words.reader is Reader.OWNER:
            yield _("%(on)s: work went on past %(holds)s (%(visit)s)") % said
        else:
            crew = facts["crew"] or _("work that no crew was booked for")
            yield _("%(on)s: %(crew)s went on past %(holds)s (%(visit)s)") % {**said, "crew": crew}


def _describe_aside(one: Hold, words: Words) -> str:
    said: dict[str, object] = {"label": one.label, "on": words.on(one.set_aside_at or clock.now())}
    if words.reader is Reader.OWNER:
        return _("%(label)s: nobody recorded it before it was buried (set aside %(on)s)") % said
    said |= {"why": one.set_aside_why, "who": one.set_aside_by}
    return _("%(label)s: %(why)s (set aside by %(who)s, %(on)s)") % said
