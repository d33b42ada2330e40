"""Forecasts of houses: made by a worker each night and when asked for, kept with the plan they speak of.

A row is claimed before it is computed, so that no two workers compute the same house, and a house that cannot
be forecast is tried again the next night, not with every tick.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction
from django.db.models import F, Q
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Builder
from coordination.people.refusals import BadInput
from coordination.sequence.crew_habits import read_assumptions, terms_of
from coordination.sequence.fit_basis import running_houses
from coordination.sequence.house_network import HouseNetwork, read_house_network
from coordination.sequence.models import House, HouseForecast, Plan
from coordination.sequence.queries.facts import latest_numbers
from coordination.sequence.to_engine import Assumptions, Outlook, Prospect, foresee_house

NIGHT = (1, 5)
"""Hours of the builder's night, the last one excluded, in which stale forecasts are made anew."""
CLAIM_LASTS = dt.timedelta(minutes=10)
"""A worker that took a house up and was not heard of again may be followed by another after that."""


def ask_for_forecast(house: House) -> HouseForecast:
    """Have a house forecast soon; asked twice it is computed once."""
    from coordination.sequence.tasks import forecast_house  # the task itself calls this module

    with transaction.atomic():
        row, _made = HouseForecast.objects.get_or_create(house=house)
        HouseForecast.objects.filter(pk=row.pk).update(asked_at=clock.now(), tried_at=None, words="")
        transaction.on_commit(lambda: forecast_house.delay(house.pk), robust=True)
    row.refresh_from_db()
    return row


def is_asked(row: HouseForecast | None) -> bool:
    """Whether a forecast was asked for and is still to come."""
    return row is not None and row.asked_at is not None and clock.now() - row.asked_at < CLAIM_LASTS


def find_due(builder: Builder) -> list[int]:
    """Ids of houses to be forecast now: never forecast, asked for, or by night those that are stale."""
    now = clock.now()
    local = now.astimezone(clock.zone(builder.time_zone))
    at_night = NIGHT[0] <= local.hour < NIGHT[1]
    tonight = local.replace(hour=NIGHT[0], minute=0, second=0, microsecond=0)
    houses = running_houses(builder)
    # Asked with every tick: one row for each house, however many plans it has had, and no results.
    rows = {row.house_id: row for row in HouseForecast.objects.filter(house__in=houses).defer("result")}
    numbers = latest_numbers(houses)
    due = []
    for house in houses:
        row = rows.get(house.pk)
        if row is None or (row.tried_at is None and not row.words):
            due.append(house.pk)
        elif at_night and (row.tried_at is None or row.tried_at < tonight):
            stale = row.revision != numbers.get(house.pk) or row.words
            due += [house.pk] if stale else []
    return due


def make_forecast(house_id: int) -> HouseForecast | None:
    """Claim a house, forecast it and keep the result; None when another worker has it, or it is gone."""
    house = (
        House.objects.filter(pk=house_id, finished_at__isnull=True)
        .select_related("builder", "region", "calendar")
        .first()
    )
    if house is None:
        return None
    row, _made = HouseForecast.objects.get_or_create(house=house)
    now = clock.now()
    free = Q(tried_at__isnull=True) | Q(tried_at__lt=now - CLAIM_LASTS) | Q(computed_at__gte=F("tried_at"))
    free |= ~Q(words="")
    if not HouseForecast.objects.filter(free, pk=row.pk).update(tried_at=now):
        return None
    plan = house.plans.order_by("-number").first()
    try:
        if plan is None:
            raise BadInput(house.name, _("It has no plan yet. Set it out again, or ask for its first plan."))
        values = _forecast(house, plan)
    except BadInput as refusal:
        # Kept in words on the page: a house that cannot be forecast must not stop the others' round.
        _keep(row, words=str(refusal)[:300])
    else:
        _keep(row, words="", **values)
    # What was asked for while this one was made is still to come.
    HouseForecast.objects.filter(pk=row.pk, asked_at__lte=now).update(asked_at=None)
    row.refresh_from_db()
    return row


def _keep(row: HouseForecast, **values: Any) -> None:
    HouseForecast.objects.filter(pk=row.pk).update(**values)


def _forecast(house: House, plan: Plan) -> dict[str, Any]:
    terms, assumed = terms_of(house.builder), read_assumptions(house.builder)
    rows = read_house_network(house)
    outlook = foresee_house(plan, rows, assumed, confidence=terms.confidence / 100)
    return {
        "revision": plan.number,
        "computed_at": clock.now(),
        "confidence": terms.confidence,
        "draws": outlook.draws,
        "finish_likely": outlook.finish_likely,
        "finish_sure": outlook.finish_sure,
        "result": {**_write(rows, outlook), "late_crews": _find_late_crews(rows, assumed)},
    }


def _write(rows: HouseNetwork, outlook: Outlook) -> dict[str, Any]:
    target = next((one for one in outlook.starts if one.key == outlook.target), None)
    return {
        "holds": [
            {"point": rows.by_key[one.hold].pk, "visit": rows.by_key[one.key].visit_id, **_dates(one)}
            for one in _first_behind_each(rows, outlook)
        ],
        "visits": {
            str(rows.by_key[one.key].visit_id): {
                **_dates(one),
                "first": one.first,
                "counts": list(one.counts),
            }
            for one in outlook.starts
        },
        "target": _dates(target) if target else None,
        "costs": [
            {"cause": one.cause, "half_days": one.half_days} for one in outlook.costs if one.half_days > 0
        ],
    }


def _first_behind_each(rows: HouseNetwork, outlook: Outlook) -> list[Prospect]:
    """For each hold and visit behind it the prospect that comes first: a crew is booked for the visit."""
    first: dict[tuple[str, int], Prospect] = {}
    for one in outlook.holds:
        visit = rows.by_key[one.key].visit_id
        if visit is None:
            continue
        known = first.get((one.hold, visit))
        if known is None or one.start < known.start:
            first[one.hold, visit] = one
    return list(first.values())


def _find_late_crews(rows: HouseNetwork, assumed: Assumptions) -> list[dict[str, Any]]:
    """Crews of visits to come that are known to come late more often than is assumed, the worst first."""
    begun = {one.visit_id for one in rows.activities if one.actual_start is not None}
    crews = {booking.crew for visit, booking in rows.bookings.items() if visit not in begun}
    usual = assumed.of(None).late_chance
    found = [(crew, assumed.of(crew.pk)) for crew in crews]
    late = [(crew, habits) for crew, habits in found if habits.starts and habits.late_chance > usual]
    late.sort(key=lambda one: (-one[1].late_chance, one[0].name))
    return [
        {"crew": crew.name, "per_cent": round(100 * habits.late_chance), "starts": habits.starts}
        for crew, habits in late[:3]
    ]


def _dates(one: Prospect) -> dict[str, Any]:
    return {
        "key": one.key,
        "start": one.start,
        "likely": one.likely,
        "planned": one.planned,
        "share": round(one.share, 4),
    }
