"""Forecasts of houses: made by a worker each night and when asked for, kept with the plan they speak of.

All houses of a builder are forecast together, for they share their crews, and from the present half-day on,
whatever was reported last. Rows are claimed before they are computed, so that no two workers compute the
same houses, and a house that cannot be forecast is tried again the next night, not with every tick.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping
from typing import Any

from django.db import transaction
from django.db.models import F, Q
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Builder
from coordination.people.refusals import BadInput
from coordination.sequence.crew_habits import read_assumptions, terms_of
from coordination.sequence.elsewhere import read_elsewhere
from coordination.sequence.fit_basis import running_houses
from coordination.sequence.house_network import HouseNetwork, read_house_network
from coordination.sequence.models import House, HouseForecast, Plan
from coordination.sequence.queries.facts import dates_of, latest_numbers, latest_plans
from coordination.sequence.reports import imagine_recorded
from coordination.sequence.to_engine import Assumptions, HouseAsked, Outlook, Prospect, foresee_houses

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
            # The day is part of a forecast: what is still to be done begins tomorrow, not yesterday.
            old = row.computed_at is None or row.computed_at < tonight
            stale = old or row.revision != numbers.get(house.pk) or row.words
            due += [house.pk] if stale else []
    return due


def make_forecast(house_id: int) -> HouseForecast | None:
    """Forecast a house and with it all of its builder's; None when another worker has them, or it is gone."""
    house = House.objects.filter(pk=house_id, finished_at__isnull=True).select_related("builder").first()
    if house is None or not make_forecasts(house.builder, also=[house_id]):
        return None
    return HouseForecast.objects.get(house=house)


def make_asked(house_id: int) -> HouseForecast | None:
    """Forecast a house that was asked for, unless it has been forecast with another meanwhile."""
    if not HouseForecast.objects.filter(house=house_id, asked_at__isnull=False).exists():
        return None
    return make_forecast(house_id)


def make_forecasts(builder: Builder, also: Collection[int] = ()) -> bool:
    """Claim the running houses of a builder, forecast them together and keep the results.

    Args:
        also: ids of houses to be claimed besides, though they have no plan: they are told so.

    Returns: whether they were free to be claimed.
    """
    houses = list(
        builder.houses.filter(Q(plans__isnull=False) | Q(pk__in=also), finished_at__isnull=True)
        .distinct()
        .select_related("builder", "region", "calendar")
        .order_by("name", "pk")
    )
    claimed_at = _claim(houses)
    if claimed_at is None:
        return False
    plans = latest_plans(houses)
    # Kept in words on the page: a house that cannot be forecast must not stop the others' round.
    no_plan = _("It has no plan yet. Set it out again, or ask for its first plan.")
    for house in houses:
        if house.pk not in plans:
            _keep(house, claimed_at, words=str(BadInput(house.name, no_plan))[:300])
    planned = [house for house in houses if house.pk in plans]
    if planned:
        _forecast(builder, planned, plans, claimed_at)
    return True


def _claim(houses: list[House]) -> dt.datetime | None:
    """Take houses up, all or none; None when another worker has one of them, or there are none."""
    now = clock.now()
    free = Q(tried_at__isnull=True) | Q(tried_at__lt=now - CLAIM_LASTS) | Q(computed_at__gte=F("tried_at"))
    free |= ~Q(words="")
    with transaction.atomic():
        rows = [HouseForecast.objects.get_or_create(house=house)[0].pk for house in houses]
        taken = HouseForecast.objects.filter(free, pk__in=rows).update(tried_at=now)
        if taken < len(rows) or not rows:
            transaction.set_rollback(True)
            return None
    return now


def _keep(house: House, claimed_at: dt.datetime, **values: Any) -> None:
    """Keep a result, unless the house was claimed or asked for anew since: then a newer one is to come."""
    row = HouseForecast.objects.filter(house=house, tried_at=claimed_at)
    # What was asked for while this one was made is still to come.
    row.filter(asked_at__lte=claimed_at).update(asked_at=None)
    row.update(**values)


def _forecast(
    builder: Builder, houses: list[House], plans: Mapping[int, Plan], claimed_at: dt.datetime
) -> None:
    terms, assumed = terms_of(builder), read_assumptions(builder)
    now = max([clock.current_half_day(builder.time_zone), *(house.recorded_up_to for house in houses)])
    dates = dates_of(plans.values())
    asked = []
    for house in houses:
        rows = imagine_recorded(read_house_network(house), now)
        planned = {one.key: dates[one.pk].start for one in rows.activities if one.pk in dates}
        asked.append(HouseAsked(plans[house.pk], rows, planned))
    crews = {booking.crew_id for one in asked for booking in one.rows.bookings.values()}
    elsewhere = read_elsewhere(builder, crews, {house.pk for house in houses})
    foreseen = foresee_houses(
        asked, assumed, elsewhere=elsewhere, data_date=now, confidence=terms.confidence / 100
    )
    together = {"houses": len(foreseen.houses), "late": foreseen.late}
    for one in asked:
        house = one.rows.house
        if house.pk in foreseen.refused:
            _keep(house, claimed_at, words=str(foreseen.refused[house.pk])[:300])
            continue
        outlook = foreseen.houses[house.pk]
        more = {"late_crews": _find_late_crews(one.rows, assumed), "from": now, "together": together}
        _keep(
            house,
            claimed_at,
            words="",
            revision=one.plan.number,
            computed_at=clock.now(),
            confidence=terms.confidence,
            draws=outlook.draws,
            finish_likely=outlook.finish_likely,
            finish_sure=outlook.finish_sure,
            result={**_write(one.rows, outlook), **more},
        )


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
    crews = {booking.crew for visit, booking in rows.bookings.items() if visit not in rows.begun_visits}
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
        "tenth": one.tenth,
        "ninth": one.ninth,
        "critical": round(one.critical, 3),
        "waits": one.waits,
        "elsewhere": one.elsewhere,
    }
