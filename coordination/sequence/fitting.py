"""Fit to the crews: start the computation, stop it, apply what it found, take it back.

Dates that all crews can keep are computed by a worker (`fit_runs`) over the running houses of a builder, or
some of them. Nothing moves before a planner applies the result; applied it stands as fitted starts, and each
house is planned anew by `replan`, which moves told dates and tells crews as it always does. Firm bookings do
not move: neither the computation nor applying it can get past `_refuse_moved_firm`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping, Sequence

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from coordination import clock
from coordination.people.models import Builder, Person
from coordination.people.refusals import BadInput, WrongState
from coordination.sequence import guard
from coordination.sequence.diary import NOTED, write_change
from coordination.sequence.fit_basis import (
    FitBasis,
    HouseBasis,
    read_basis,
    read_versions,
    running_houses,
)
from coordination.sequence.fit_crews import ask_crews, stand_down_crews
from coordination.sequence.fit_results import count_moved, read_starts, write_start
from coordination.sequence.locking import lock_house, lock_houses
from coordination.sequence.models import (
    Booking,
    Change,
    Fit,
    FittedHouse,
    FittedStart,
    House,
    Plan,
    PlannedDate,
    Visit,
)
from coordination.sequence.replanning import replan
from coordination.sequence.tasks import fit_to_crews

State = Fit.State

STALE_AFTER = dt.timedelta(seconds=120)
"""A worker that was not heard of for so long is taken for dead: it reports every few seconds."""
SEARCH_SECONDS = (10, 20, 60)
"""How long a search may take; while it lasts, an embedded worker does nothing else."""


# ---------------------------------------------------------------- start, stop, clear


def start_fit(
    builder: Builder,
    by: Person,
    houses: Collection[int] | None = None,
    seconds: int = SEARCH_SECONDS[1],
    weights: Mapping[int, str] | None = None,
) -> Fit:
    """Let a worker compute dates that the crews can keep; an undecided result of before is left.

    Args:
        houses: ids of running houses of the builder; None: all of them.
        seconds: how long it may search, one of `SEARCH_SECONDS`.
        weights: house id → one of `FittedHouse.Weight`; as usual where a house is not named.

    Raises:
        BadInput: a house that is not running or not the builder's; none at all; other seconds or weights.
        WrongState: one is being computed already.
    """
    running = {house.pk: house for house in running_houses(builder)}
    chosen = set(running) if houses is None else set(houses)
    if not chosen or not chosen <= set(running):
        raise BadInput(_("houses"), _("Choose houses that are planned and not handed over."))
    if seconds not in SEARCH_SECONDS:
        known = ", ".join(str(one) for one in SEARCH_SECONDS)
        raise BadInput(_("time to search"), _("Choose one of %(known)s seconds.") % {"known": known})
    weights = {pk: word for pk, word in (weights or {}).items() if pk in chosen}
    if not set(weights.values()) <= set(FittedHouse.Weight.values):
        raise BadInput(_("which house goes first"), _("Choose one of the words offered."))
    now = clock.now()
    try:
        with transaction.atomic():
            fit = Fit.objects.create(builder=builder, by=by, asked_at=now, heard_at=now, seconds=seconds)
            FittedHouse.objects.bulk_create(
                FittedHouse(fit=fit, house=running[pk], weight=weights.get(pk, FittedHouse.Weight.USUAL))
                for pk in sorted(chosen)
            )
            Fit.objects.filter(builder=builder, state=State.READY).update(
                state=State.LEFT, decided_at=now, decided_by=by
            )
            # Robust: when the queue cannot be reached, the row still waits, and the tick rings again.
            transaction.on_commit(lambda: fit_to_crews.delay(fit.pk), robust=True)
    except IntegrityError as error:
        other = Fit.objects.filter(builder=builder, state__in=Fit.LIVE).select_related("by").first()
        if other is None:
            raise
        raise WrongState(
            _("A fit is being computed already: %(who)s started it %(when)s. Wait for it, or stop it.")
            % {
                "who": other.by or builder.name,
                "when": clock.say_moment(other.asked_at, builder.time_zone),
            }
        ) from error
    return fit


def ask_to_stop(fit: Fit) -> None:
    """Stop a computation: at once while it waits, else before its next slice.

    Raises:
        WrongState: it has ended already.
    """
    now = clock.now()
    waiting = Fit.objects.filter(pk=fit.pk, state=State.WAITING)
    if waiting.update(state=State.STOPPED, stop_asked_at=now, ended_at=now):
        return
    if not Fit.objects.filter(pk=fit.pk, state=State.COMPUTING).update(stop_asked_at=now):
        raise WrongState(_("It has ended already; there is nothing to stop."))


def is_stale(fit: Fit) -> bool:
    """Whether no worker was heard of for too long."""
    return fit.state in Fit.LIVE and clock.now() - fit.heard_at > STALE_AFTER


def clear_stale(fit: Fit) -> None:
    """Give up a computation whose worker is dead, so that another can start.

    Raises:
        WrongState: it has ended, or its worker was heard of a moment ago.
    """
    now = clock.now()
    dead = Fit.objects.filter(pk=fit.pk, state__in=Fit.LIVE, heard_at__lt=now - STALE_AFTER)
    if not dead.update(
        state=State.FAILED,
        ended_at=now,
        words=_("The worker was not heard of any more; it was given up. Start another."),
    ):
        raise WrongState(_("Its worker was heard of a moment ago, or it has ended. Look again."))


def leave_fit(fit: Fit, by: Person) -> None:
    """Leave the houses as they are.

    Raises:
        WrongState: it is not to be decided any more.
    """
    _decide(fit, State.LEFT, by)


def _decide(fit: Fit, state: str, by: Person) -> None:
    changed = Fit.objects.filter(pk=fit.pk, state=State.READY).update(
        state=state, decided_at=clock.now(), decided_by=by
    )
    if not changed:
        fit.refresh_from_db()
        raise WrongState(
            _("This fit is %(state)s; only one that is to be looked at can be decided.")
            % {"state": fit.get_state_display()}
        )


# ---------------------------------------------------------------- apply


@guard.speaking()
def apply_fit(fit: Fit, by: Person) -> Fit:
    """Keep the fitted starts and plan the houses anew; crews are told as with every move.

    Raises:
        WrongState: decided already; a house or a crew's other work changed since it was computed (then fit
            again); a firm booking would move. Nothing is changed then.
    """
    rows = list(fit.houses.select_related("house").order_by("house"))
    locked = {house.pk: house for house in lock_houses(row.house_id for row in rows)}
    _decide(fit, State.APPLIED, by)
    fit.refresh_from_db()
    _refuse_changed(fit, rows)
    firm = _read_firm(locked)
    for row in rows:
        house, starts = locked[row.house_id], read_starts(row.result.get("starts", ()), fit.pk)
        asked = ask_crews(house, row, by)
        row.before = _replace_starts(house, starts)
        if asked or _facts(row.before) != _facts([write_start(one) for one in starts]):
            moved = count_moved(row.result)
            words = ngettext(
                "Fitted to the crews: %(count)d visit moves",
                "Fitted to the crews: %(count)d visits move",
                moved,
            ) % {"count": moved}
            write_change(house, "fitted", f"fit:{fit.pk}", words, {"visits": moved}, by)
            plan = replan(house, cause=words, by=by)
            _refuse_other_dates(house, plan, row)
        row.applied_change = read_versions([house.pk])[house.pk][1]
        row.save(update_fields=["before", "applied_change"])
    _refuse_moved_firm(firm, locked)
    return fit


def _replace_starts(house: House, starts: Sequence[FittedStart]) -> list[dict[str, object]]:
    """Put these fitted starts in the place of the house's; returns those of before as a fit stores them."""
    old = FittedStart.objects.filter(activity__house=house).order_by("activity")
    before = [{**write_start(one), "fit": one.fit_id} for one in old]
    old.delete()
    FittedStart.objects.bulk_create(starts)
    return before


def _facts(stored: Sequence[dict[str, object]]) -> set[tuple[object, ...]]:
    """Fitted starts as they are compared: which activity, from when, because of which crew and place."""
    names = ("activity", "crew", "not_before", "cause", "where", "until")
    return {tuple(one[name] for name in names) for one in stored}


def _refuse_changed(fit: Fit, rows: Sequence[FittedHouse]) -> None:
    """The houses are those that were computed, and the crews' other work is what it was."""
    if changed := _find_changed(rows):
        raise WrongState(
            _("Changed since these dates were computed: %(houses)s. Fit again.")
            % {"houses": ", ".join(row.house.name for row in changed)},
            [_say_changed(row) for row in changed],
        )
    basis = read_basis(fit.builder, [row.house_id for row in rows])
    if basis.load_stamp != fit.load_stamp:
        raise WrongState(
            _("What the crews have to do elsewhere changed since these dates were computed. Fit again.")
        )
    if any(
        visit["was"] != visit["now"]
        and visit["now"][0] < basis.now
        and visit["visit"] not in one.rows.begun_visits
        for one, row in _pair(basis, rows)
        for visit in row.result.get("visits", ())
    ):
        raise WrongState(_("Some of these dates have passed since they were computed. Fit again."))
    stays = {visit for one in basis.houses for visit in one.stays}
    near = [
        f"{row.house.name}: {visit['name']}, {visit['crew']}"
        for row in rows
        for visit in row.result.get("visits", ())
        if visit["tells"] and visit["visit"] in stays
    ]
    if near:
        raise WrongState(
            _("Told dates that would move have come so near that they stand now. Fit again."), near
        )


def _find_changed(rows: Sequence[FittedHouse]) -> list[FittedHouse]:
    now = read_versions(row.house_id for row in rows)
    return [row for row in rows if now[row.house_id] != (row.revision, row.last_change)]


def find_changed(fit: Fit) -> list[str]:
    """What happened at its houses since a fit was computed, a line each; with any it cannot be applied."""
    return [_say_changed(row) for row in _find_changed(list(fit.houses.select_related("house")))]


def _pair(basis: FitBasis, rows: Sequence[FittedHouse]) -> list[tuple[HouseBasis, FittedHouse]]:
    by_house = {one.house.pk: one for one in basis.houses}
    return [(by_house[row.house_id], row) for row in rows]


def _say_changed(row: FittedHouse) -> str:
    lines = Change.objects.filter(house=row.house_id, pk__gt=row.last_change or 0).exclude(what=NOTED)
    latest = lines.order_by("pk").last()
    if latest is None:
        return _("%(house)s was planned anew") % {"house": row.house.name}
    return f"{row.house.name}: {latest.words}"


def _refuse_other_dates(house: House, plan: Plan, row: FittedHouse) -> None:
    """Calendars may have changed without a line in the house's diary: then the dates come out otherwise."""
    fitted = row.result.get("dates", {})
    for date in PlannedDate.objects.filter(plan=plan, activity__key__in=fitted).select_related("activity"):
        start, finish = fitted[date.activity.key]
        begun = date.activity.actual_start is not None
        if date.ef != finish or (date.es != start and not begun):
            raise WrongState(
                _("%(house)s: the working days changed since these dates were computed. Fit again.")
                % {"house": house.name}
            )


def _read_firm(houses: Collection[int]) -> dict[int, tuple[int | None, int | None]]:
    firm = Booking.objects.filter(house__in=list(houses), state=Booking.State.FIRM)
    return {pk: (start, finish) for pk, start, finish in firm.values_list("pk", "told_start", "told_finish")}


def _refuse_moved_firm(firm: dict[int, tuple[int | None, int | None]], houses: Collection[int]) -> None:
    if _read_firm(houses) == firm:
        return
    moved = [
        booking
        for booking in Booking.objects.filter(pk__in=firm).select_related("visit", "house", "crew")
        if (booking.told_start, booking.told_finish) != firm[booking.pk]
    ]
    raise WrongState(
        _("A firm booking would move, and a fit moves none. Decide about it first, then fit again."),
        [f"{one.house.name}: {one.visit.name}, {one.crew.name}" for one in moved],
    )


# ---------------------------------------------------------------- take back


def find_in_the_way(fit: Fit) -> list[str]:
    """Why an applied fit cannot be taken back, a line each; empty when it can.

    In the way is a later fit of the same house, and every act since on a visit that this one moved or holds.
    """
    found = []
    for row in fit.houses.select_related("house"):
        # A fit is left when the next one starts: the later key was applied later.
        later = FittedHouse.objects.filter(house=row.house_id, fit__state=State.APPLIED, fit__pk__gt=fit.pk)
        if later.exists():
            found.append(
                _("%(house)s: a later fit stands on this one. Take that back first.")
                % {"house": row.house.name}
            )
            continue
        since = Change.objects.filter(
            house=row.house_id, pk__gt=row.applied_change or 0, about__in=_touched(row)
        ).exclude(what="told date moved")
        found += [f"{row.house.name}: {line.words}" for line in since.order_by("pk")]
    return found


def _touched(row: FittedHouse) -> list[str]:
    """What the diary calls the activities and bookings of the visits that a fit moved or holds."""
    visits = {one["visit"] for one in row.result.get("visits", ())}
    visits |= {int(visit) for visit in row.result.get("proposed", {})}
    held = [one["activity"] for one in row.result.get("starts", ())]
    visits |= set(Visit.objects.filter(activities__in=held).values_list("pk", flat=True))
    activities = row.house.activities.filter(visit__in=visits).values_list("pk", flat=True)
    bookings = row.house.bookings.filter(visit__in=visits).values_list("pk", flat=True)
    return [*(f"activity:{pk}" for pk in activities), *(f"booking:{pk}" for pk in bookings)]


@guard.speaking()
def undo_fit(fit: Fit, by: Person) -> Fit:
    """Put the starts of before back, in all houses at once, and plan them anew.

    A told date that moved and was not sent yet moves back unheard; one that was sent stays, and the crew can
    be asked to come earlier.

    Raises:
        WrongState: it is not applied, or somebody acted on its visits since (`missing` says what).
    """
    rows = list(fit.houses.select_related("house").order_by("house"))
    locked = {house.pk: house for house in lock_houses(row.house_id for row in rows)}
    changed = Fit.objects.filter(pk=fit.pk, state=State.APPLIED).update(
        state=State.UNDONE, undone_at=clock.now(), undone_by=by
    )
    if not changed:
        fit.refresh_from_db()
        raise WrongState(
            _("This fit is %(state)s; only an applied one is taken back.")
            % {"state": fit.get_state_display()}
        )
    in_the_way = find_in_the_way(fit)
    if in_the_way:
        raise WrongState(_("It cannot be taken back: work went on since."), in_the_way)
    fit.refresh_from_db()
    for row in rows:
        house = locked[row.house_id]
        there = set(house.activities.values_list("pk", flat=True))
        stood = _replace_starts(
            house, [one for one in read_starts(row.before, None) if one.activity_id in there]
        )
        if not stand_down_crews(house, row, by) and _facts(stood) == _facts(row.before):
            continue
        words = _("Fit to the crews taken back")
        write_change(house, "fit taken back", f"fit:{fit.pk}", words, {}, by)
        replan(house, cause=words, by=by)
    return fit


@guard.speaking()
def let_go(visit: Visit, by: Person) -> bool:
    """Take the fitted starts of one visit away: it goes as early as the work before it lets it.

    Returns False when it had none.
    """
    house = lock_house(visit.house_id)
    held = FittedStart.objects.filter(activity__visit=visit)
    if not held.exists():
        return False
    held.delete()
    words = _("%(visit)s waits for its crew no more") % {"visit": visit.name}
    write_change(house, "let go", f"visit:{visit.pk}", words, {}, by)
    replan(house, cause=words, by=by)
    return True
