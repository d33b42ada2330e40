"""Builders, people and their roles, regions and calendars, companies and crews."""

from coordination.people.models.builder import Builder, Person, Role
from coordination.people.models.calendars import CalendarDay, Region, RegionDay, WorkingCalendar
from coordination.people.models.crews import Company, Crew, CrewLink, CrewMember, Engagement, Trade
from coordination.people.models.wrong_tries import WrongTry

__all__ = [
    "Builder",
    "CalendarDay",
    "Company",
    "Crew",
    "CrewLink",
    "CrewMember",
    "Engagement",
    "Person",
    "Region",
    "RegionDay",
    "Role",
    "Trade",
    "WorkingCalendar",
    "WrongTry",
]
