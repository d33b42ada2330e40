"""Houses and their networks, details and coverings, visits, bookings, holds and plans."""

from coordination.sequence.models.booking import Booking, ReservedTime, ToldDate
from coordination.sequence.models.detail import Covering, Detail, DetailPlace, Installer
from coordination.sequence.models.draft import SequenceDraft
from coordination.sequence.models.fit import Fit, FittedHouse, FittedStart
from coordination.sequence.models.forecast import ForecastTerms, GivenPromise, HouseForecast
from coordination.sequence.models.hold import Hold, HoldBefore
from coordination.sequence.models.house import House, Place, SequenceVersion
from coordination.sequence.models.network import Activity, Delay, LongestGap, Relationship, Visit
from coordination.sequence.models.plan import Change, Plan, PlannedDate, PlannedWindow

__all__ = [
    "Activity",
    "Booking",
    "Change",
    "Covering",
    "Delay",
    "Detail",
    "DetailPlace",
    "Fit",
    "FittedHouse",
    "FittedStart",
    "ForecastTerms",
    "GivenPromise",
    "Hold",
    "HoldBefore",
    "House",
    "HouseForecast",
    "Installer",
    "LongestGap",
    "Place",
    "Plan",
    "PlannedDate",
    "PlannedWindow",
    "Relationship",
    "ReservedTime",
    "SequenceDraft",
    "SequenceVersion",
    "ToldDate",
    "Visit",
]
