"""Plans out as JSON values: the answer of the command."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from coordination.engine.plan import GapWarning, Plan, PlannedActivity, PlanWarning, Reason, Window
from coordination.engine.workdays import write_half_day

if TYPE_CHECKING:
    from coordination.engine.forecast import ActivityForecast, Forecast, HouseForecast
    from coordination.engine.levelling import Levelled
    from coordination.engine.promises import Promise
    from coordination.engine.quality import QualityReport

Json = dict[str, Any]


def write_plan(plan: Plan) -> Json:
    """A plan as JSON values.

    ``es``, ``ef``, ``ls``, ``lf`` and ``finish`` are axis half-days from the data date (weekends count),
    floats are working half-days. ``start`` and ``finish`` of an activity name its first and last half-day
    worked; the times of a detail name the half-day that begins there. ``warnings`` is present when there are
    any.
    """
    document: Json = {
        "activities": {a.id: _write_activity(plan, a) for a in plan.activities.values()},
        "details": {window.id: _write_window(window) for window in plan.details.values()},
        "finish": plan.finish - plan.data_date,
        "houses": {name: {"finish": finish - plan.data_date} for name, finish in plan.houses.items()},
        "driving_chain": list(plan.driving_chain()),
    }
    if plan.warnings:
        document["warnings"] = [_write_warning(warning) for warning in plan.warnings]
    return document


def _write_activity(plan: Plan, activity: PlannedActivity) -> Json:
    written: Json = {
        "start": write_half_day(activity.first_half_day),
        "finish": write_half_day(activity.last_half_day),
        "es": activity.es - plan.data_date,
        "ef": activity.ef - plan.data_date,
        "ls": activity.ls - plan.data_date,
        "lf": activity.lf - plan.data_date,
        "total_float": activity.total_float,
        "free_float": activity.free_float,
        "critical": activity.critical,
        "reason": write_reason(plan, activity.reason),
    }
    if activity.float_to:
        written["float_to"] = dict(activity.float_to)
    return written


def write_reason(plan: Plan, reason: Reason) -> Json:
    """The reason of a date as JSON: its kind, what drives it, the half-days waited for the calendar."""
    written: Json = {"kind": reason.kind}
    if reason.relationship is not None:
        link = reason.relationship
        calendar = link.lag_calendar or plan.network[link.to_id].calendar
        written |= {"from": link.from_id, "type": link.type, "lag": link.lag, "lag_calendar": calendar}
    if reason.after is not None:
        written["after"] = reason.after
    if reason.crew is not None:
        written["crew"] = reason.crew
    if reason.waits:
        written["waits"] = reason.waits
    return written


def _write_window(window: Window) -> Json:
    return {
        "opens": write_half_day(window.opens),
        "due": write_half_day(window.due),
        "buried": write_half_day(window.buried),
        "slack_due": window.slack_due,
        "slack_buried": window.slack_buried,
        "put_right_until": write_half_day(window.put_right_until),
        "inverted": window.inverted,
    }


def _write_warning(warning: PlanWarning) -> Json:
    if isinstance(warning, GapWarning):
        return {
            "kind": "longest gap",
            "from": warning.gap.from_id,
            "to": warning.gap.to_id,
            "left_at": write_half_day(warning.left_at),
            "taken_up_at": write_half_day(warning.taken_up_at),
            "half_days": warning.half_days,
            "longest": warning.gap.half_days,
        }
    return {
        "kind": "wanted by",
        "activity": warning.activity_id,
        "wanted_by": write_half_day(warning.wanted_by - 1),
        "finish": write_half_day(warning.finish - 1),
    }


def write_levelled(plan: Plan, levelled: Levelled) -> Json:
    """A levelled plan as JSON values: `write_plan` and the levelled dates beside them.

    ``waits`` of an activity are working half-days for its busy crew; ``waits`` of a house are those on the
    way to its finish, by crew. ``late`` counts half-days of the axis beyond the date wanted. ``crews`` of an
    activity are the crews chosen, by the trade that it asks for.
    """
    document = write_plan(plan)
    at = plan.data_date
    for name, written in document["activities"].items():
        start, finish = levelled.start[name], levelled.finish[name]
        calendar = plan.network.calendar_of(name)
        first = calendar.next_start(start, 1) if start == finish else start
        written["start_levelled"] = write_half_day(first)
        written["finish_levelled"] = write_half_day(first if start == finish else finish - 1)
        written["es_levelled"], written["ef_levelled"] = start - at, finish - at
        if levelled.waits[name]:
            written["waits"] = levelled.waits[name]
        if name in levelled.crew_of:
            written["crews"] = dict(levelled.crew_of[name])
    for name, house in levelled.houses.items():
        document["houses"][name] |= {
            "finish_levelled": house.finish_levelled - at,
            "late": house.late,
            "waits": dict(house.waits),
        }
    return document | {
        "makespan": levelled.makespan - at,
        "bound": levelled.bound - at,
        "schedules": levelled.schedules,
        "seconds": round(levelled.seconds, 3),
        "objective": levelled.objective,
        "idle": dict(levelled.idle),
        "changed": [{"house": house, "visit": visit} for house, visit in levelled.changed],
    }


def write_forecast(forecast: Forecast, data_date: int, promises: Sequence[Promise] | None = None) -> Json:
    """A forecast as JSON values: percentiles as axis half-days from the data date, like ``ef``.

    With `promises` also these: ``start``, ``likely`` and ``planned`` name half-days, ``share`` is the part of
    the draws that are ready by ``start``.
    """
    document: Json = {
        "activities": {
            name: _write_percentiles(a, data_date) | {"criticality": a.criticality}
            for name, a in forecast.activities.items()
        },
        "houses": {
            name: _write_percentiles(h, data_date)
            | {"mean": h.mean - data_date, "standard_deviation": h.deviation}
            for name, h in forecast.houses.items()
        },
        "mean": forecast.mean,
        "standard_deviation": forecast.deviation,
        "samples": forecast.samples,
    }
    if promises is not None:
        document["promises"] = [
            {
                "activity": promise.activity_id,
                "hold": promise.hold,
                "house": promise.house,
                "confidence": promise.confidence,
                "share": promise.share,
                "start": write_half_day(promise.start),
                "likely": write_half_day(promise.likely),
                "planned": write_half_day(promise.planned),
            }
            for promise in promises
        ]
    return document


def _write_percentiles(found: ActivityForecast | HouseForecast, data_date: int) -> Json:
    values = {"p10": found.p10, "p50": found.p50, "p80": found.p80, "p90": found.p90}
    # Whole half-days, but for a network that is computed in fractions of them.
    return {
        key: int(value - data_date) if float(value).is_integer() else value - data_date
        for key, value in values.items()
    }


def write_quality(report: QualityReport) -> Json:
    """A schedule quality report as JSON values; ``allowed`` is the greatest share that passes."""
    findings = []
    for one in report.findings:
        written: Json = {
            "kind": one.kind,
            "activity": one.activity_id,
            "house": one.house,
            "words": one.words,
            "remedy": one.remedy,
        }
        if one.relationship is not None:
            written["from"] = one.relationship.from_id
        if one.half_days is not None:
            written["half_days"] = one.half_days
        findings.append(written)
    return {
        "passed": report.passed,
        "checks": [
            {
                "kind": check.kind,
                "found": check.found,
                "of": check.of,
                "share": check.share,
                "allowed": check.allowed,
                "passed": check.passed,
                "source": check.source,
            }
            for check in report.checks
        ],
        "findings": findings,
    }
