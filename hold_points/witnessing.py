"""Witness points: notice is given; when nobody comes the work goes on, and the record says who was absent.

The notice starts when the last crew that installs there has called, and runs for as many working half-days as
the point's definition says. It lapses when it has run out, or when what buries the work has begun. A lapse
passes the point: nothing waits for it any more. It is no release, and whoever comes late may still look and
sign while something can be seen. A point that was re-opened is called anew: what had begun to bury it before
then is nobody's absence now.
"""

from __future__ import annotations

from collections import defaultdict

from django.db import transaction
from django.db.models import Max, QuerySet
from django.utils.translation import gettext as _

from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.access import planners_of
from coordination.people.models import Builder, Crew
from coordination.sequence import progress
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Activity, Covering, House
from hold_points import record
from hold_points.facts import load_point
from hold_points.models import Inspection
from hold_points.working_time import days_of

SUPERVISOR = "supervisor"


def give_notice(inspection: Inspection, house: House, crew: Crew) -> int | None:
    """A crew's call of a witness point starts its notice; returns its last half-day, None at other points.

    Notice runs once: a further call does not lengthen it. The caller holds the house's lock.
    """
    point = inspection.point
    if point.point_kind != Activity.PointKind.WITNESS:
        return None
    if inspection.notice_until is not None:
        return inspection.notice_until
    now = clock.now()
    today = clock.half_day_of(now, house.builder.time_zone)
    until = days_of(house).count_on(today, point.notice or 0)
    inspection.notice_given_at, inspection.notice_until = now, until
    inspection.save(update_fields=["notice_given_at", "notice_until"])
    record.append(
        house,
        "notice",
        {
            "point": point.key,
            "point_name": point.name,
            "crew": crew.name,
            "half_days": point.notice or 0,
            "until": clock.say_half_day(until),
            "given_at": now,
            "to": who_attends(inspection, house),
        },
    )
    return until


def who_attends(inspection: Inspection, house: House) -> str:
    """Who is expected at a witness point: the house's supervisor by name, else as the sequence calls them."""
    walker = inspection.point.walker
    if walker in ("", SUPERVISOR) and house.supervisor is not None:
        return house.supervisor.name
    return walker or SUPERVISOR


def waiting_points(builder: Builder) -> QuerySet[Inspection]:
    """Witness points of the builder's running houses that are neither passed nor lapsed."""
    return Inspection.objects.filter(
        house__builder=builder,
        house__finished_at__isnull=True,
        point__point_kind=Activity.PointKind.WITNESS,
        point__actual_finish__isnull=True,
        lapsed_at__isnull=True,
    )


def lapse_notices(builder: Builder) -> list[Inspection]:
    """Let notices of the builder lapse that have run out or that the work has overtaken; returns those."""
    now = clock.current_half_day(builder.time_zone)
    waiting = waiting_points(builder)
    overtaken = _find_overtaken(waiting)
    due = [
        pk
        for pk, until in waiting.values_list("pk", "notice_until")
        if pk in overtaken or (until is not None and until < now)
    ]
    return [one for pk in due if (one := _lapse(pk, now)) is not None]


def _find_overtaken(inspections: QuerySet[Inspection]) -> set[int]:
    """Inspections whose burying has begun, and not only before they were last re-opened."""
    rows = inspections.annotate(reopened=Max("reopenings__at")).values_list(
        "pk", "point", "reopened", "house__builder__time_zone"
    )
    begun: dict[int, list[int]] = defaultdict(list)
    coverings = Covering.objects.filter(
        point__in=inspections.values("point"), along=False, activity__actual_start__isnull=False
    )
    for point, start in coverings.values_list("point", "activity__actual_start"):
        if point is not None and start is not None:
            begun[point].append(start)
    return {
        pk
        for pk, point, reopened, zone in rows
        if any(reopened is None or start > clock.half_day_of(reopened, zone) for start in begun[point])
    }


@transaction.atomic
def _lapse(inspection_id: int, now: int) -> Inspection | None:
    """Lapse one, if it still has to be under the house's lock."""
    house = lock_house(Inspection.objects.values_list("house", flat=True).get(pk=inspection_id))
    inspection = Inspection.objects.select_related("point").get(pk=inspection_id)
    point, rows = inspection.point, load_point(inspection)
    overtaken = bool(_find_overtaken(Inspection.objects.filter(pk=inspection.pk)))
    over = inspection.notice_until is not None and inspection.notice_until < now
    if inspection.lapsed_at or point.actual_finish is not None or rows.released or not (overtaken or over):
        return None
    if over:
        why = _("the notice had run out")
    elif inspection.notice_until is not None:
        why = _("the work went on before the notice had run out")
    else:
        why = _("the work went on without notice")
    inspection.lapsed_at, inspection.absent = clock.now(), who_attends(inspection, house)[:120]
    inspection.save(update_fields=["lapsed_at", "absent"])
    record.append(
        house,
        "not attended",
        {
            "point": point.key,
            "point_name": point.name,
            "absent": inspection.absent,
            "why": why,
            "notice_given_at": inspection.notice_given_at,
            "notice_until": ""
            if inspection.notice_until is None
            else clock.say_half_day(inspection.notice_until),
            "checks_left": rows.readiness.left,
            "lapsed_at": inspection.lapsed_at,
        },
    )
    progress.point_passed(point, now)
    _tell(inspection, house, why)
    return inspection


def _tell(inspection: Inspection, house: House, why: str) -> None:
    people = {
        one.pk: one
        for one in [*planners_of(house.builder), *([house.supervisor] if house.supervisor else [])]
    }
    for person in people.values():
        put(
            builder=house.builder,
            to=person,
            kind=Message.Kind.NOTICE,
            about=f"inspection:{inspection.pk}",
            # It may lapse again after a re-opening: that is another fact.
            version=f"lapsed:{inspection.pk}:{inspection.lapsed_at:%Y%m%dT%H%M%S}",
            subject=_("Not attended: %(point)s, %(house)s")
            % {"point": inspection.point.name, "house": house.name},
            body=_("%(who)s did not attend; %(why)s. The work goes on, and the record says so.")
            % {"who": inspection.absent, "why": why},
            facts={"inspection": inspection.pk},
        )
