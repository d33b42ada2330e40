"""The engine's answer for one house, as the plain values that a plan stores."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from coordination import engine
from coordination.sequence.calendars import ResolvedDays
from coordination.sequence.house_network import HouseNetwork, WhatIf
from coordination.sequence.models import FittedStart
from coordination.sequence.solved import Solved, SolvedDate, SolvedWindow
from coordination.sequence.to_engine.networks import ELAPSED, find_wanted


def read_answer(
    rows: HouseNetwork,
    plan: engine.Plan,
    days: ResolvedDays,
    names: Mapping[str, str],
    what_if: WhatIf,
) -> Solved:
    """Dates, windows, chains and warnings of a computed plan.

    Args:
        days, names: the calendars that were used, and which activity uses which.
    """
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
            found = self._not_before(key)
        elif reason.kind == "crew":
            found = {"kind": "busy", "crew": reason.crew, "at": one.es - 1}
        else:
            found = {"kind": "recorded", "at": self.plan.data_date}
        pause = self._pause(key, one.es - reason.waits, one.es) if reason.waits else None
        if pause and (pause["why"] or reason.kind == "calendar"):
            found["pause"] = pause
        return found

    def _not_before(self, key: str) -> dict[str, Any]:
        activity, at = self.rows.by_key[key], self.plan.network[key].not_before
        fitted = self.rows.fitted_start_of(activity, self.what_if)
        if fitted is None or fitted.not_before != at:
            return {"kind": "not before", "at": at}
        if fitted.crew is None:
            return {"kind": "passed", "at": at}
        if fitted.cause == FittedStart.Cause.TOLD:
            return {"kind": "told", "crew": fitted.crew.name, "at": at}
        until = fitted.until if fitted.until is not None else fitted.not_before - 1
        return {"kind": "busy", "crew": fitted.crew.name, "at": until, "where": fitted.where}

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
        # What its crew keeps beyond the wanted date was not given to the engine as wanted.
        wanted = find_wanted(self.rows)
        for activity in self.rows.activities:
            one = self.plan[activity.key]
            late = wanted.get(activity.pk, one.ef) < one.ef
            if late and self.plan.network[activity.key].not_after is None:
                found.append(
                    {
                        "kind": "late",
                        "key": activity.key,
                        "wanted_by": wanted[activity.pk] - 1,
                        "last": one.ef - 1,
                    }
                )
        found += [
            {"kind": "inverted", "detail": key} for key, one in self.plan.details.items() if one.inverted
        ]
        return found
