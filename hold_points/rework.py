"""What is to be put right: raised by an outcome, told to the crew at once, closed by a fresh outcome."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction
from django.utils.translation import gettext as _

from coordination import clock
from coordination.fabric.numerals import write_number
from coordination.outbox.models import Message
from coordination.outbox.put import put, supersede
from coordination.people.access import planners_of
from coordination.people.models import Crew, Person
from coordination.people.refusals import NotAllowed, WrongState
from coordination.sequence.locking import lock_house
from coordination.sequence.models import House, Plan, PlannedDate, PlannedWindow
from coordination.sequence.telling import LONGEST_TEXT, cut
from hold_points import record
from hold_points.installing import last_installers
from hold_points.models import Check, Nonconformity, Outcome


def raise_nonconformity(outcome: Outcome, check: Check, house: House) -> Nonconformity:
    """Raise (or raise again) what an outcome 'not met' found, and tell the crew in the same transaction."""
    there = (
        Nonconformity.objects.filter(
            check_failed__inspection=check.inspection_id,
            check_failed__key=check.key,
            check_failed__place=check.place_id,
        )
        .exclude(state=Nonconformity.State.CLOSED)
        .select_related("crew", "concession")
        .first()
    )
    if there is not None and (hasattr(there, "concession") or there.check_failed_id != check.pk):
        # What was conceded, or judged against an older limit, is a case of its own; this is a new one.
        _close(there, outcome)
        there = None
    if there is None:
        there = Nonconformity.objects.create(
            house=house,
            check_failed=check,
            raised_by=outcome,
            crew=find_crew(check),
            put_right_until=find_put_right_until(check),
        )
    else:
        there.state, there.said_done_at = Nonconformity.State.RAISED, None
        there.put_right_until = find_put_right_until(check)
        there.save(update_fields=["state", "said_done_at", "put_right_until"])
        supersede(about=f"nonconformity:{there.pk}", kinds=(Message.Kind.NOTICE,))
    record.append(
        house,
        "nonconformity",
        {
            "nonconformity": there.pk,
            "outcome": outcome.pk,
            "check": check.text,
            "place": check.place.name if check.place else "",
            "crew": there.crew.name if there.crew else "",
            "put_right_until": there.put_right_until,
        },
    )
    _tell(there, outcome, check, house)
    return there


def _tell(trouble: Nonconformity, outcome: Outcome, check: Check, house: House) -> None:
    about = f"nonconformity:{trouble.pk}"
    where = f"{house.name}, {check.place.name}" if check.place else house.name
    lines = [check.text]
    if outcome.note:
        lines.append(outcome.note)
    if check.limit is not None and outcome.value is not None:
        lines.append(
            _("Found %(found)s, wanted %(limit)s.")
            % {"found": write_number(outcome.value), "limit": say_limit(check)}
        )
    if trouble.put_right_until is not None:
        lines.append(_("Put right until %(until)s.") % {"until": clock.say_half_day(trouble.put_right_until)})
    if check.caution:
        lines.append(check.caution)
    recipients: Sequence[Crew | Person] = [trouble.crew] if trouble.crew else planners_of(house.builder)
    for recipient in recipients:
        put(
            builder=house.builder,
            to=recipient,
            kind=Message.Kind.REWORK if trouble.crew else Message.Kind.NOTICE,
            about=about,
            version=f"outcome:{outcome.pk}",
            subject=_("Put right: %(where)s") % {"where": where},
            body="\n".join(lines),
            facts={
                "nonconformity": trouble.pk,
                "put_right_until": trouble.put_right_until,
                "detail": check.detail_id,
            },
        )


def close_nonconformities(outcome: Outcome, check: Check, house: House) -> int:
    """Close what is open of a check, in whichever version; returns how many were."""
    waiting = Nonconformity.objects.filter(
        check_failed__inspection=check.inspection_id,
        check_failed__key=check.key,
        check_failed__place=check.place_id,
    ).exclude(state=Nonconformity.State.CLOSED)
    closed = 0
    for one in waiting:
        _close(one, outcome)
        record.append(
            house, "put right", {"nonconformity": one.pk, "outcome": outcome.pk, "check": check.text}
        )
        closed += 1
    return closed


def _close(trouble: Nonconformity, outcome: Outcome) -> None:
    trouble.state, trouble.closed_by = Nonconformity.State.CLOSED, outcome
    trouble.save(update_fields=["state", "closed_by"])
    supersede(about=f"nonconformity:{trouble.pk}", kinds=(Message.Kind.REWORK, Message.Kind.NOTICE))


def say_put_right(nonconformity_id: int, crew: Crew) -> Nonconformity:
    """A crew says that something is put right; it stays open until someone has looked at it.

    Raises:
        NotAllowed: it is another crew's, or there is none of that number.
        WrongState: it is closed already, or conceded.
    """
    with transaction.atomic():
        found = (
            Nonconformity.objects.filter(pk=nonconformity_id, crew=crew, check_failed__isnull=False)
            .select_related("house", "check_failed__place")
            .first()
        )
        if found is None:
            raise NotAllowed(_("This is not for your crew to put right."))
        house = lock_house(found.house_id)
        found.refresh_from_db()
        if found.state == Nonconformity.State.CLOSED:
            raise WrongState(_("This is closed already; nothing is left to do."))
        if found.state == Nonconformity.State.PUT_RIGHT:
            return found
        if hasattr(found, "concession"):
            raise WrongState(_("This may stay as it is, by a concession; nothing is left to do."))
        found.state, found.said_done_at = Nonconformity.State.PUT_RIGHT, clock.now()
        found.save(update_fields=["state", "said_done_at"])
        supersede(about=f"nonconformity:{found.pk}", kinds=(Message.Kind.REWORK,))
        record.append(house, "said put right", {"nonconformity": found.pk, "crew": crew.name})
        _tell_said(found, crew, house)
    return found


def _tell_said(trouble: Nonconformity, crew: Crew, house: House) -> None:
    """Whoever looks again hears of it, together with what else waits for them."""
    check = trouble.failed
    where = f"{house.name}, {check.place.name}" if check.place else house.name
    for person in who_looks(house):
        put(
            builder=house.builder,
            to=person,
            kind=Message.Kind.NOTICE,
            about=f"nonconformity:{trouble.pk}",
            version=f"said:{trouble.said_done_at.isoformat() if trouble.said_done_at else ''}",
            subject=_("Said to be put right: %(where)s") % {"where": where},
            body=cut(
                _("%(crew)s says that it is put right, look again: %(check)s")
                % {"crew": crew.name, "check": check.text},
                LONGEST_TEXT,
            ),
            facts={"nonconformity": trouble.pk},
        )


def find_crew(check: Check) -> Crew | None:
    """The crew that holds the live booking of the visit that installs the detail; the last to work on it."""
    if check.detail_id is None:
        return None
    booking = last_installers([check.detail_id]).get(check.detail_id)
    return booking.crew if booking else None


def find_put_right_until(check: Check) -> int | None:
    """The half-day until which it can be put right, never one that has passed; None before the first plan.

    It is that of the detail's window, else the start of the point; what comes too late for it is wanted at
    once, in the present half-day.
    """
    house = check.inspection.house
    plan = Plan.objects.filter(house=house).order_by("-number").first()
    until = None if plan is None else _planned_until(check, plan)
    return None if until is None else max(until, clock.current_half_day(house.builder.time_zone))


def _planned_until(check: Check, plan: Plan) -> int | None:
    if check.detail_id:
        window = PlannedWindow.objects.filter(plan=plan, detail=check.detail_id).first()
        if window is not None:
            return window.put_right_until
    planned = PlannedDate.objects.filter(plan=plan, activity=check.inspection.point_id).first()
    return planned.start if planned else None


def who_looks(house: House) -> list[Person]:
    """Who is told that there is something to look at: the house's supervisor, or the planners without one."""
    return [house.supervisor] if house.supervisor else planners_of(house.builder)


def say_limit(check: Check, *, with_unit: bool = True) -> str:
    """The limit as it stands on screens: '≥ 25 mm', '30 to 40 mm'."""
    if check.limit is None:
        return ""
    unit = f" {check.unit}" if check.unit and with_unit else ""
    if check.compare == Check.Compare.BETWEEN and check.limit_high is not None:
        return _("%(low)s to %(high)s%(unit)s") % {
            "low": write_number(check.limit),
            "high": write_number(check.limit_high),
            "unit": unit,
        }
    sign = {Check.Compare.AT_LEAST: "≥ ", Check.Compare.AT_MOST: "≤ "}.get(Check.Compare(check.compare), "")
    return f"{sign}{write_number(check.limit)}{unit}"
