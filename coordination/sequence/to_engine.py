"""The only door to the engine: a house's rows become a network, the engine's answer becomes plain values.

What the engine is told:

* an activity works in the calendar of the crew that holds its visit's live booking, else in the house's;
  outdoor activities in the variant that also knows rain half-days;
* delays lengthen an activity that has not finished;
* the lag of an FS or SS relationship out of a hold is the word time: a crew's own value replaces it;
* the data date is the half-day up to which work is recorded; what waits for nothing waits for the house's
  start;
* what nothing waits for is wanted by the house's `required_by`, so that missing it shows as negative float.

Nothing here reads the clock, and nothing outside this module knows a type of the engine.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, cast

from django.utils.translation import gettext as _

from coordination import clock, engine
from coordination.people.models import WorkingCalendar
from coordination.people.refusals import BadInput
from coordination.sequence.calendars import (
    ResolvedCalendar,
    ResolvedDays,
    calendar_key,
    resolve_calendars,
)
from coordination.sequence.house_network import NOTHING, HouseNetwork, WhatIf, read_house_network
from coordination.sequence.models import Activity, House, Relationship
from coordination.sequence.solved import Solved, SolvedDate, SolvedWindow

ELAPSED, EVERY = "elapsed", "every"


def solve(
    house: House,
    what_if: WhatIf = NOTHING,
    *,
    stored: Mapping[str, Any] | None = None,
    rows: HouseNetwork | None = None,
) -> Solved:
    """Compute a house's dates, floats, reasons and windows; saves nothing.

    Args:
        house: its `recorded_up_to` is the data date.
        what_if: an imagined change on top of what is recorded.
        stored: `Plan.calendars` of the plan before, whose public holidays are kept.
        rows: the house's rows when they are already read.

    Raises:
        BadInput: naming what cannot be planned (a circle, an unknown calendar, dates that contradict).
    """
    rows = rows or read_house_network(house)
    if not rows.activities:
        raise BadInput(house.name, _("There is no activity to plan. Set the house out from a sequence."))
    calendar_ids = {house.calendar_id}
    for activity in rows.activities:
        if crew := rows.crew_of(activity, what_if):
            calendar_ids.add(crew.calendar_id)
    lag_calendars = _read_lag_calendars(rows)
    calendar_ids.update(lag_calendars.values())
    first_year = _first_year(house, rows)
    years = range(first_year, first_year + 2)
    while True:
        days = resolve_calendars(house.region, calendar_ids, years, stored)
        names = {activity.key: _calendar_name(rows, activity, what_if, days) for activity in rows.activities}
        try:
            network = network_of(rows, days, names, lag_calendars, what_if)
            stake = (rows.stake.key,) if rows.stake else ()
            plan = engine.compute_dates(network, data_date=house.recorded_up_to, float_to=stake)
        except engine.Refused as refused:
            raise BadInput(house.name, str(refused)) from refused
        last_year = clock.as_date(plan.finish)[0].year
        if last_year < years.stop:
            return _read_answer(rows, plan, days, names, what_if)
        # The house runs into a year whose holidays were not asked for: know them, and compute again.
        years = range(first_year, last_year + 1)


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
    awaited = {link.predecessor_id for link in rows.relationships}
    starts = clock.as_half_day(rows.house.starts_on)
    wanted = clock.as_half_day(rows.house.required_by) + 2 if rows.house.required_by else None
    activities = []
    for activity in rows.activities:
        earliest = [activity.not_before, what_if.not_before.get(activity.key)]
        if activity.pk not in waits:
            earliest.append(starts)
        latest = [activity.not_after]
        if activity.pk not in awaited and activity.half_days:
            latest.append(wanted)
        started, finish, remaining = _happened(
            activity, rows.house.recorded_up_to, days.calendars[calendar_names[activity.key]], what_if
        )
        activities.append(
            engine.Activity(
                id=activity.key,
                duration=rows.half_days_of(activity, what_if),
                calendar=calendar_names[activity.key],
                house=rows.house.key,
                not_before=max((at for at in earliest if at is not None), default=None),
                not_after=min((at for at in latest if at is not None), default=None),
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


def _read_lag_calendars(rows: HouseNetwork) -> dict[str, int]:
    keys = {link.lag_calendar for link in rows.relationships} - {"", ELAPSED, EVERY}
    if not keys:
        return {}
    found = dict(
        WorkingCalendar.objects.filter(builder=rows.house.builder_id, key__in=keys).values_list("key", "pk")
    )
    for key in sorted(keys - set(found)):
        raise BadInput(
            rows.house.name,
            _("A relationship counts its lag in the calendar '%(key)s', which this builder lacks. Add it.")
            % {"key": key},
        )
    return found


def _first_year(house: House, rows: HouseNetwork) -> int:
    instants = [house.recorded_up_to, clock.as_half_day(house.starts_on)]
    instants += [one.actual_start for one in rows.activities if one.actual_start is not None]
    return clock.as_date(min(instants))[0].year


def _calendar_name(rows: HouseNetwork, activity: Activity, what_if: WhatIf, days: ResolvedDays) -> str:
    crew = rows.crew_of(activity, what_if)
    calendar_id = crew.calendar_id if crew else rows.house.calendar_id
    name = calendar_key(calendar_id, outdoor=activity.outdoor)
    return name if name in days.calendars else calendar_key(calendar_id)


# -------------------------------------------------------------------- the answer


def _read_answer(
    rows: HouseNetwork,
    plan: engine.Plan,
    days: ResolvedDays,
    names: Mapping[str, str],
    what_if: WhatIf,
) -> Solved:
    stake = rows.stake.key if rows.stake else None
    reading = _Reading(rows, plan, days, names, what_if)
    dates = {}
    for key, one in plan.activities.items():
        dates[key] = SolvedDate(
            key=key,
            es=one.es,
            ef=one.ef,
            ls=one.ls,
            lf=one.lf,
            start=one.first_half_day,
            last=one.last_half_day,
            total_float=one.total_float,
            free_float=one.free_float,
            float_to_stake=one.float_to.get(stake) if stake else None,
            critical=one.critical,
            reason=reading.reason_of(key),
        )
    windows = {
        key: SolvedWindow(
            key=key,
            opens=one.opens,
            due=one.due,
            buried=one.buried,
            put_right_until=one.put_right_until,
            slack_due=one.slack_due,
            slack_buried=one.slack_buried,
            inverted=one.inverted,
        )
        for key, one in plan.details.items()
    }

    def chain_to(target: str | None) -> list[dict[str, Any]]:
        return [
            {"key": key, "start": dates[key].start, "last": dates[key].last, "reason": dates[key].reason}
            for key in plan.driving_chain(target)
        ]

    return Solved(
        rows=rows,
        dates=dates,
        windows=windows,
        finish=plan.finish,
        stake_start=dates[stake].start if stake else None,
        driving_chain=chain_to(None),
        stake_chain=chain_to(stake) if stake else [],
        warnings=reading.warnings(),
        days=days,
        calendar_names=names,
    )


@dataclass(frozen=True)
class _Reading:
    """Turns the engine's reasons and warnings into what is stored."""

    rows: HouseNetwork
    plan: engine.Plan
    days: ResolvedDays
    names: Mapping[str, str]
    what_if: WhatIf

    def reason_of(self, key: str) -> dict[str, Any]:
        one, activity = self.plan[key], self.rows.by_key[key]
        if activity.actual_finish is not None:
            return {"kind": "finished", "at": one.last_half_day}
        if activity.actual_start is not None:
            return {"kind": "started", "at": activity.actual_start}
        reason = one.reason
        if reason.kind == "relationship" and reason.relationship is not None:
            found = self._relationship(reason.relationship)
        elif reason.kind == "not_before" or reason.after == "not_before":
            found = {"kind": "not before", "at": self.plan.network[key].not_before}
        elif reason.kind == "crew":
            found = {"kind": "busy", "crew": reason.crew, "at": one.es - 1}
        else:
            found = {"kind": "recorded", "at": self.plan.data_date}
        pause = self._pause(key, one.es - reason.waits, one.es) if reason.waits else None
        if pause and (pause["why"] or reason.kind == "calendar"):
            found["pause"] = pause
        return found

    def _relationship(self, link: engine.Relationship) -> dict[str, Any]:
        source = self.plan[link.from_id]
        found: dict[str, Any] = {
            "kind": "relationship",
            "from": link.from_id,
            "type": link.type,
            "lag": link.lag,
            "at": source.last_half_day if link.type[0] == "F" else source.first_half_day,
        }
        if source.es == source.ef and link.type[0] == "F":
            # A point of no half-days is reached by the end of the half-day before it.
            found["at"] = source.ef - 1
        if link.lag_calendar == ELAPSED:
            found["elapsed"] = True
        if self.rows.by_key[link.from_id].holds and link.lag_calendar is None and link.lag:
            found["word"] = True
        return found

    def _pause(self, key: str, first: int, end: int) -> dict[str, Any]:
        calendar = self.days.calendars[self.names[key]]
        reasons = [calendar.why_not(half_day) for half_day in range(first, end)]
        return {
            "first": first,
            "last": end - 1,
            "why": ", ".join(dict.fromkeys(why for why in reasons if why)),
        }

    def warnings(self) -> list[dict[str, Any]]:
        whys = {
            (self.rows.by_id[gap.first_id].key, self.rows.by_id[gap.then_id].key): gap.why
            for gap in self.rows.gaps
        }
        found: list[dict[str, Any]] = []
        for warning in self.plan.warnings:
            if isinstance(warning, engine.GapWarning):
                first, then = warning.gap.from_id, warning.gap.to_id
                found.append(
                    {
                        "kind": "gap",
                        "first": first,
                        "then": then,
                        "left_at": warning.left_at - 1,
                        "taken_up_at": warning.taken_up_at,
                        "half_days": warning.half_days,
                        "allowed": warning.gap.half_days,
                        "why": whys.get((first, then), ""),
                    }
                )
            else:
                found.append(
                    {
                        "kind": "late",
                        "key": warning.activity_id,
                        "wanted_by": warning.wanted_by - 1,
                        "last": warning.finish - 1,
                    }
                )
        found += [
            {"kind": "inverted", "detail": key} for key, one in self.plan.details.items() if one.inverted
        ]
        return found
