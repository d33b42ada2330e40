"""What hold_points keeps: inspections, checks, outcomes with evidence, releases and the record."""

from hold_points.models.inspection import Call, Check, Inspection
from hold_points.models.outcome import Evidence, Nonconformity, Outcome
from hold_points.models.record import RecordEntry
from hold_points.models.release import Concession, Release, Reopening

__all__ = [
    "Call",
    "Check",
    "Concession",
    "Evidence",
    "Inspection",
    "Nonconformity",
    "Outcome",
    "RecordEntry",
    "Release",
    "Reopening",
]
