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
from coordination.engine.promises import Promise, promise_starts
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

__all__ = [
    "DEFAULT_FACTORS",
    "DEFAULT_LATE",
    "EPOCH",
    "Activity",
    "ActivityForecast",
    "BeyondTime",
    "Cause",
    "Change",
    "CircularNetwork",
    "Crew",
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
    "Late",
    "LateWarning",
    "LearntLateness",
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
    "VisitMove",
    "Window",
    "WorkingCalendar",
    "as_date",
    "as_half_day",
    "assess_quality",
    "compare_plans",
    "compute_dates",
    "find_detail_faults",
    "find_faults",
    "forecast_network",
    "learn_lateness",
    "learn_range",
    "order_activities",
    "promise_starts",
    "rain",
    "record",
    "refuse_detail_faults",
    "reopen",
    "replan_house",
    "score_promises",
    "slip",
    "tie_crews",
    "verify_plan",
    "wilson_interval",
    "write_half_day",
]
