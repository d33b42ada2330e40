"""Scheduling of building work in half-days: pure Python and NumPy, no database, no clock.

A worked example. Frames are stood from Monday 2 February 2026 in a five-day week; the wrap waits for them,
the frame is walked, and the bricklayer wants the wrap finished:

>>> import datetime as dt
>>> monday = as_half_day(dt.date(2026, 2, 2))
>>> network = Network(
...     activities=(
...         Activity("frames", 12, calendar="site"),
...         Activity("walk", 1, calendar="site"),
...         Activity("wrap", 3, calendar="site"),
...         Activity("roof", 3, calendar="site"),
...         Activity("brick", 16, calendar="site"),
...     ),
...     relationships=(
...         Relationship("frames", "walk"),
...         Relationship("walk", "wrap"),
...         Relationship("frames", "roof"),
...         Relationship("wrap", "brick"),
...         Relationship("roof", "brick", "SS", lag=2),
...     ),
...     calendars={"site": WorkingCalendar(week=(2, 2, 2, 2, 2, 0, 0))},
...     details=(Detail("pockets", ("frames",), ("wrap",), point="walk"),),
... )
>>> plan = compute_dates(network, data_date=monday)
>>> [(d.id, write_half_day(d.first_half_day), d.total_float) for d in plan.activities.values()]
[('frames', '2026-02-02 am', 0), ('walk', '2026-02-10 am', 0), ('wrap', '2026-02-10 pm', 0), \
('roof', '2026-02-10 am', 2), ('brick', '2026-02-12 am', 0)]
>>> plan.driving_chain()
('frames', 'walk', 'wrap', 'brick')
>>> window = plan.details["pockets"]
>>> write_half_day(window.due), write_half_day(window.buried)
('2026-02-10 am', '2026-02-10 pm')
"""

from typing import TYPE_CHECKING

from coordination.engine.changes import Cause, Move, PlanDifference, VisitMove, compare_plans
from coordination.engine.concealment import DetailFault, find_detail_faults, refuse_detail_faults
from coordination.engine.crew_flow import tie_crews
from coordination.engine.critical_path import compute_dates
from coordination.engine.forecast import ActivityForecast, Forecast, HouseForecast, forecast_network
from coordination.engine.forecast_spread import SharedFactors, Spread
from coordination.engine.learning import (
    DEFAULT_FACTORS,
    DEFAULT_LATE,
    DurationFactors,
    LearntLateness,
    PromiseKept,
    PromiseScore,
    learn_lateness,
    learn_range,
    score_promises,
    wilson_interval,
)
from coordination.engine.live_changes import Change, rain, record, reopen, replan_house, slip
from coordination.engine.network import (
    Activity,
    Crew,
    Detail,
    Fails,
    Late,
    LongestGap,
    Network,
    Relationship,
    ReservedTime,
)
from coordination.engine.order import CircularNetwork, order_activities
from coordination.engine.plan import GapWarning, LateWarning, Plan, PlannedActivity, Reason, Window
from coordination.engine.promises import Promise, promise_starts, promise_with_forecast
from coordination.engine.quality import Finding, QualityCheck, QualityLimits, QualityReport, assess_quality
from coordination.engine.verify import Fault, find_faults, verify_plan
from coordination.engine.workdays import (
    EPOCH,
    BeyondTime,
    Holidays,
    Refused,
    WorkingCalendar,
    as_date,
    as_half_day,
    write_half_day,
)

if TYPE_CHECKING:
    from coordination.engine.compiled_dates import (
        CompiledNetwork,
        DateArrays,
        Tables,
        compile_network,
        compute_arrays,
        lay_out_calendars,
    )
    from coordination.engine.crews import DEFAULT_WEIGHTS, assign_crews, find_crew_parts
    from coordination.engine.levelling import HouseResult, Levelled, level_network, place_in_order
    from coordination.engine.side_by_side import LevellingTask, level_parts, level_task, split_network
    from coordination.engine.verify_crews import find_crew_faults
    from coordination.engine.warming import warm

__all__ = [
    "DEFAULT_FACTORS",
    "DEFAULT_LATE",
    "DEFAULT_WEIGHTS",
    "EPOCH",
    "Activity",
    "ActivityForecast",
    "BeyondTime",
    "Cause",
    "Change",
    "CircularNetwork",
    "CompiledNetwork",
    "Crew",
    "DateArrays",
    "Detail",
    "DetailFault",
    "DurationFactors",
    "Fails",
    "Fault",
    "Finding",
    "Forecast",
    "GapWarning",
    "Holidays",
    "HouseForecast",
    "HouseResult",
    "Late",
    "LateWarning",
    "LearntLateness",
    "Levelled",
    "LevellingTask",
    "LongestGap",
    "Move",
    "Network",
    "Plan",
    "PlanDifference",
    "PlannedActivity",
    "Promise",
    "PromiseKept",
    "PromiseScore",
    "QualityCheck",
    "QualityLimits",
    "QualityReport",
    "Reason",
    "Refused",
    "Relationship",
    "ReservedTime",
    "SharedFactors",
    "Spread",
    "Tables",
    "VisitMove",
    "Window",
    "WorkingCalendar",
    "as_date",
    "as_half_day",
    "assess_quality",
    "assign_crews",
    "compare_plans",
    "compile_network",
    "compute_arrays",
    "compute_dates",
    "find_crew_faults",
    "find_crew_parts",
    "find_detail_faults",
    "find_faults",
    "forecast_network",
    "lay_out_calendars",
    "learn_lateness",
    "learn_range",
    "level_network",
    "level_parts",
    "level_task",
    "order_activities",
    "place_in_order",
    "promise_starts",
    "promise_with_forecast",
    "rain",
    "record",
    "refuse_detail_faults",
    "reopen",
    "replan_house",
    "score_promises",
    "slip",
    "split_network",
    "tie_crews",
    "verify_plan",
    "warm",
    "wilson_interval",
    "write_half_day",
]

_LATE = {
    "CompiledNetwork": "compiled_dates",
    "DateArrays": "compiled_dates",
    "Tables": "compiled_dates",
    "compile_network": "compiled_dates",
    "compute_arrays": "compiled_dates",
    "lay_out_calendars": "compiled_dates",
    "DEFAULT_WEIGHTS": "crews",
    "assign_crews": "crews",
    "find_crew_parts": "crews",
    "HouseResult": "levelling",
    "Levelled": "levelling",
    "level_network": "levelling",
    "place_in_order": "levelling",
    "LevellingTask": "side_by_side",
    "level_parts": "side_by_side",
    "level_task": "side_by_side",
    "split_network": "side_by_side",
    "find_crew_faults": "verify_crews",
    "warm": "warming",
}
"""Names whose modules load numba, which takes about a second: brought in when first asked for."""


def __getattr__(name: str) -> object:
    if name not in _LATE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from coordination.engine import (
        compiled_dates,
        crews,
        levelling,
        side_by_side,
        verify_crews,
        warming,
    )

    modules = (compiled_dates, crews, levelling, side_by_side, verify_crews, warming)
    return next(getattr(module, name) for module in modules if module.__name__.endswith(f".{_LATE[name]}"))
