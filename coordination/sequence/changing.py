"""A house moved to a newer version of its sequence, or with a feature changed at the desk.

What has begun stays as it is; what is still open follows the new sequence. A hold point that stands in the
house is never taken out. Dry or not, it is the same work in the same order: a dry run is rolled back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from coordination.people.models import Person
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import guard, inspection, rewriting, standard
from coordination.sequence.comparing import Difference, compare_for_house
from coordination.sequence.diary import write_change
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Hold, House, SequenceVersion
from coordination.sequence.publishing import add_trades
from coordination.sequence.replanning import current_plan, replan
from coordination.sequence.set_out import resolve_for, resolved_of


@dataclass(frozen=True)
class HouseChange:
    """What a change does to a house, made or only tried.

    Attributes:
        kept: names of activities that the new sequence has not, and that stay because they have begun.
        stood_down: visit and crew whose visit is gone.
        fell_back: visit and crew that are no longer firm.
        half_buried: new hold points over which covering is finished in part or whole: open, they need a walk.
        reopened: what is judged anew, in words of the package that judges.
        finish_before, finish_after: exclusive finish of the house in half-days.
        told: visit and crew whose told date moved.
    """

    version: SequenceVersion
    features: Mapping[str, Any]
    options: tuple[str, ...]
    difference: Difference
    kept: tuple[str, ...]
    stood_down: tuple[tuple[str, str], ...]
    fell_back: tuple[tuple[str, str], ...]
    half_buried: tuple[str, ...]
    reopened: tuple[str, ...]
    finish_before: int | None
    finish_after: int
    stake_before: int | None
    stake_after: int | None
    moved: int = 0
    warnings: tuple[standard.Finding, ...] = field(default=())


def preview_change(
    house: House,
    *,
    by: Person,
    version: SequenceVersion | None = None,
    features: Mapping[str, Any] | None = None,
    options: Sequence[str] | None = None,
) -> HouseChange:
    """What `change_house` would do; nothing is saved and nobody is told.

    Raises:
        BadInput, WrongState: as `change_house`.
    """
    with transaction.atomic():
        found = change_house(house, by=by, version=version, features=features, options=options)
        transaction.set_rollback(True)
    return found


@guard.speaking()
def change_house(
    house: House,
    *,
    by: Person,
    version: SequenceVersion | None = None,
    features: Mapping[str, Any] | None = None,
    options: Sequence[str] | None = None,
) -> HouseChange:
    """Set the open part of a house out anew, in one transaction.

    Args:
        version: a newer one of the same sequence; without it the house keeps its own.
        features: those that change; the others stay as they are.
        options: all that shall be in force; without them those of the house stay.

    Raises:
        BadInput: naming the version, feature, option, hold point or row that does not fit.
        WrongState: nothing would change, or the database refuses a firm booking behind an open hold.
    """
    house = lock_house(house.pk)
    target = house.sequence_version if version is None else version
    _refuse_other_sequence(house, target)
    if house.finished_at is not None:
        raise WrongState(_("%(house)s is handed over and changes no more.") % {"house": house.name})
    before = resolved_of(house)
    after = _resolve(house, target, before, features or {}, options)
    _refuse_no_change(house, target, before, after)
    _refuse_lost_holds(house, after, target)
    plan = current_plan(house)
    words = _say_cause(house, target, before, after)
    rewritten = rewriting.rewrite(house, after, add_trades(after.entry), words, by)
    House.objects.filter(pk=house.pk).update(
        sequence_version=target, features=dict(after.features), options=list(after.options)
    )
    house = lock_house(house.pk)
    reopened = tuple(inspection.port().on_change(house, after))
    rewriting.remove_stray_details(house, after)
    difference = compare_for_house(before, after, list(house.places.all()))
    facts = {
        "sequence": target.key,
        "version": target.number,
        "features": {one.label: [one.before, one.after] for one in difference.features},
        "reopened": list(reopened),
    }
    write_change(house, "changed", "", words, facts, by)
    revision = replan(house, cause=words, by=by)
    return HouseChange(
        version=target,
        features=after.features,
        options=after.options,
        difference=difference,
        kept=rewritten.kept,
        stood_down=rewritten.stood_down,
        fell_back=rewritten.fell_back,
        half_buried=_find_half_buried(rewritten.new_holds),
        reopened=reopened,
        finish_before=plan.finish if plan else None,
        finish_after=revision.finish,
        stake_before=plan.stake_start if plan else None,
        stake_after=revision.stake_start,
        moved=len(revision.moved),
        warnings=tuple(one for one in standard.lint(after) if one.level == "warned" and not one.explained),
    )


def newer_versions(house: House) -> list[SequenceVersion]:
    """Versions that the house may be moved to, the latest first."""
    return list(
        SequenceVersion.objects.filter(
            builder=house.builder_id,
            key=house.sequence_version.key,
            number__gt=house.sequence_version.number,
        ).order_by("-number")
    )


def _refuse_other_sequence(house: House, target: SequenceVersion) -> None:
    now = house.sequence_version
    if target.builder_id != house.builder_id or target.key != now.key:
        raise BadInput(
            str(target),
            _("It is no version of '%(key)s', which the house was set out from. Choose one of those.")
            % {"key": now.key},
        )
    if target.number < now.number:
        raise BadInput(
            str(target),
            _("The house is at version %(number)s already. Publish the older text as the next version.")
            % {"number": now.number},
        )


def _resolve(
    house: House,
    target: SequenceVersion,
    before: standard.ResolvedSequence,
    features: Mapping[str, Any],
    options: Sequence[str] | None,
) -> standard.ResolvedSequence:
    """The new sequence of the house; features that an option fixed are free again when it is gone."""
    chosen = list(house.options if options is None else options)
    dropped = {one.key: one for one in before.entry.options if one.key not in chosen}
    freed = {key for key in dropped if key in house.options for key in dropped[key].sets}
    probe = resolve_for(target, {}, [])
    known = {one.key for one in probe.entry.features}
    fixed = {key for one in probe.entry.options if one.key in chosen for key in one.sets}
    kept = {
        key: value
        for key, value in house.features.items()
        if key in known and key not in freed and key not in fixed
    }
    return resolve_for(target, {**kept, **features}, chosen, features)


def _refuse_no_change(
    house: House,
    target: SequenceVersion,
    before: standard.ResolvedSequence,
    after: standard.ResolvedSequence,
) -> None:
    same = dict(before.features) == dict(after.features) and set(before.options) == set(after.options)
    if target.pk == house.sequence_version_id and same:
        raise WrongState(_("The house is like this already. Choose a newer version or change a feature."))


def _refuse_lost_holds(house: House, after: standard.ResolvedSequence, target: SequenceVersion) -> None:
    holding = {one.id for one in after.activities if one.holds}
    lost = [
        hold.point
        for hold in Hold.objects.filter(house=house).select_related("point").order_by("point__order", "pk")
        if hold.point.key not in holding
    ]
    if lost:
        raise BadInput(
            _("hold point %(names)s") % {"names": ", ".join(f"'{one.name}' ({one.key})" for one in lost)},
            _(
                "It would be gone, and a hold point that stands in a house is never taken out. Keep the key "
                "%(keys)s as a hold point in %(version)s, or leave the house as it is."
            )
            % {"keys": ", ".join(one.key for one in lost), "version": target},
        )


def _say_cause(
    house: House,
    target: SequenceVersion,
    before: standard.ResolvedSequence,
    after: standard.ResolvedSequence,
) -> str:
    parts = []
    if target.pk != house.sequence_version_id:
        parts.append(
            _("moved from version %(old)s to %(new)s")
            % {"old": house.sequence_version.number, "new": target.number}
        )
    changed = compare_for_house(before, after, ()).features
    if changed:
        parts.append("; ".join(f"{one.label}: {one.before or '-'} > {one.after or '-'}" for one in changed))
    if set(before.options) != set(after.options):
        parts.append(_("options: %(names)s") % {"names": ", ".join(after.options) or _("none")})
    return _("%(house)s changed: %(what)s") % {"house": house.name, "what": "; ".join(parts)}


def _find_half_buried(new_holds: Sequence[Hold]) -> tuple[str, ...]:
    """Labels of new hold points behind which covering is finished, in part or whole.

    They stay open: only a house that is brought in half built has holds set aside. A walk looks at what is
    still to be seen; where nothing is, that is not met, and passes by a concession with its follow-up.
    """
    found = []
    for hold in new_holds:
        finishes = hold.point.coverings_judged.values_list("activity__actual_finish", flat=True)
        if any(finish is not None for finish in finishes):
            found.append(hold.label)
    return tuple(found)
