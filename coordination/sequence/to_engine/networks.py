"""A house's rows as the engine's network: activities, relationships, calendars, details."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, cast

from coordination import clock, engine
from coordination.sequence.calendars import ResolvedCalendar, ResolvedDays, calendar_key
from coordination.sequence.house_network import NOTHING, HouseNetwork, WhatIf
from coordination.sequence.models import Activity, Relationship

ELAPSED, EVERY = "elapsed", "every"


def network_of(
    rows: HouseNetwork,
    days: ResolvedDays,
    calendar_names: Mapping[str, str],
    lag_calendars: Mapping[str, int],
    what_if: WhatIf = NOTHING,
) -> engine.Network:
    """The house as the engine knows it: activity and detail keys are the ids.

    Args:
        days: every calendar that is used, resolved.
        calendar_names: activity key → name in `days`.
        lag_calendars: key of a calendar named by a relationship → its database id.
    """
    waits = {link.successor_id for link in rows.relationships}
    wanted = find_wanted(rows)
    starts = clock.as_half_day(rows.house.starts_on)
    activities = []
    for activity in rows.activities:
        fitted = rows.fitted_start_of(activity, what_if)
        earliest = [activity.not_before, what_if.not_before.get(activity.key)]
        earliest.append(fitted.not_before if fitted else None)
        if activity.pk not in waits:
            earliest.append(starts)
        not_before = max((at for at in earliest if at is not None), default=None)
        not_after = wanted.get(activity.pk)
        started, finish, remaining = _happened(
            activity, rows.house.recorded_up_to, days.calendars[calendar_names[activity.key]], what_if
        )
        activities.append(
            engine.Activity(
                id=activity.key,
                duration=rows.half_days_of(activity, what_if),
                calendar=calendar_names[activity.key],
                house=rows.house.key,
                not_before=not_before,
                # A crew that comes after the wanted date is no typing error: see `answers`, which says it.
                not_after=None if fitted and not_after and not_after <= fitted.not_before else not_after,
                actual_start=started,
                actual_finish=finish,
                remaining=remaining,
                visit=activity.visit.key if activity.visit else None,
            )
        )
    return engine.Network(
        activities=tuple(activities),
        relationships=tuple(_relationship(rows, link, lag_calendars, what_if) for link in rows.relationships),
        calendars={
            name: engine.WorkingCalendar(week=one.week, off=tuple(one.off), on=tuple(one.on), name=name)
            for name, one in days.calendars.items()
        },
        details=tuple(_details(rows)),
        longest_gaps=tuple(
            engine.LongestGap(rows.by_id[gap.first_id].key, rows.by_id[gap.then_id].key, gap.half_days)
            for gap in rows.gaps
        ),
    )


def find_wanted(rows: HouseNetwork) -> dict[int, int]:
    """Activity id → instant by which it is wanted finished: its own, or the house's where nothing waits."""
    awaited = {link.predecessor_id for link in rows.relationships}
    house = clock.as_half_day(rows.house.required_by) + 2 if rows.house.required_by else None
    found = {}
    for activity in rows.activities:
        latest = [activity.not_after]
        if activity.pk not in awaited and activity.half_days:
            latest.append(house)
        known = [at for at in latest if at is not None]
        if known:
            found[activity.pk] = min(known)
    return found


def _happened(
    activity: Activity, data_date: int, calendar: ResolvedCalendar, what_if: WhatIf
) -> tuple[int | None, int | None, int | None]:
    """Actual start, actual finish and remaining half-days as the engine takes them.

    What finishes in the half-day that begins at the data date ends after it, and the engine takes no actual
    date from the future: it is under way with that one half-day to go, which ends at the same instant. In a
    half-day that its calendar does not work, it ended with the one before.
    """
    finish = activity.actual_finish
    if finish is None:
        return activity.actual_start, None, _remaining(activity, what_if)
    if finish <= data_date:
        return activity.actual_start, finish, None
    start = min(activity.actual_start if activity.actual_start is not None else data_date, data_date)
    if not calendar.works(data_date):
        return start, data_date, None
    return start, None, finish - data_date


def _remaining(activity: Activity, what_if: WhatIf) -> int | None:
    if activity.remaining is None:
        return None
    return max(0, activity.remaining + what_if.delays.get(activity.key, 0))


def word_time_of(rows: HouseNetwork, link: Relationship, what_if: WhatIf = NOTHING) -> int | None:
    """The word time of the crew behind a hold, when its own value replaces the relationship's lag."""
    hold = rows.by_id[link.predecessor_id]
    if not hold.holds or link.kind not in ("FS", "SS") or link.lag_calendar:
        return None
    crew = rows.crew_of(rows.by_id[link.successor_id], what_if)
    return crew.word_time if crew else None


def _relationship(
    rows: HouseNetwork, link: Relationship, lag_calendars: Mapping[str, int], what_if: WhatIf
) -> engine.Relationship:
    lag_calendar: str | None = link.lag_calendar or None
    if lag_calendar in lag_calendars:
        lag_calendar = calendar_key(lag_calendars[str(lag_calendar)])
    word_time = word_time_of(rows, link, what_if)
    return engine.Relationship(
        rows.by_id[link.predecessor_id].key,
        rows.by_id[link.successor_id].key,
        cast(Literal["FS", "SS", "FF", "SF"], link.kind),
        link.lag if word_time is None else word_time,
        lag_calendar,
    )


def _details(rows: HouseNetwork) -> list[engine.Detail]:
    details = []
    for detail in rows.details:
        coverings = rows.coverings.get(detail.pk, ())
        installers = rows.installers.get(detail.pk, ())
        if not coverings or not installers:
            continue  # nothing buries it, or nobody makes it here: it has no window
        details.append(
            engine.Detail(
                id=detail.key,
                installed_by=tuple(rows.by_id[pk].key for pk in installers),
                covered_by=tuple(rows.by_id[covering.activity_id].key for covering in coverings),
                point=rows.by_id[detail.point_id].key if detail.point_id else None,
                alongside=frozenset(rows.by_id[one.activity_id].key for one in coverings if one.along),
            )
        )
    return details
