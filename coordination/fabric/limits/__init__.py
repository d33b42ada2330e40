"""Limits by room: what a check or a calculation measures against, and where each comes from."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Sure(StrEnum):
    """How well a value is known."""

    READ = "published, read"
    MEMORY = "published, from memory"
    PRACTICE = "common practice"
    DERIVED = "derived"


@dataclass(frozen=True)
class Limit:
    """A value, its unit and meaning; its source, where it applies, how sure; whether it may be overruled."""

    key: str
    value: float
    unit: str
    meaning: str
    source: str
    applies: str
    sure: Sure
    overridable: bool = True
