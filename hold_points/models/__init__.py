"""What hold_points keeps: inspections, checks, outcomes with evidence, releases and the record."""

from hold_points.models.inspection import Call, Check, Inspection
from hold_points.models.outcome import Evidence, Nonconformity, Outcome
from hold_points.models.record import NightRound, RecordEntry, Seal
from hold_points.models.release import Concession, Release, Reopening
from hold_points.models.statement import Statement

__all__ = [
    "Call",
    "Check",
    "Concession",
    "Evidence",
    "Inspection",
    "NightRound",
    "Nonconformity",
    "Outcome",
    "RecordEntry",
    "Release",
    "Reopening",
    "Seal",
    "Statement",
]
