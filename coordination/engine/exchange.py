"""Networks in and plans out as JSON; public holidays of a country or state.

The document is described in `read_network` and `write_plan`. The `holidays` library is asked here and nowhere
else in the engine: a calendar itself only holds resolved dates.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import cast, get_args

from coordination.engine.document import (
    Entry,
    parse_json,
    read_finish,
    read_list,
    read_mapping,
    read_names,
    read_number,
    read_span,
    read_start,
    read_text,
    read_truth,
    read_whole,
)
from coordination.engine.network import (
    ELAPSED,
    EVERY_NAME,
    Activity,
    Crew,
    Detail,
    Fails,
    Late,
    LongestGap,
    Network,
    Relationship,
    RelationshipType,
    ReservedTime,
)
from coordination.engine.workdays import BeyondTime, Holidays, Refused, WorkingCalendar
from coordination.engine.writing import Json, write_plan, write_reason

__all__ = [
    "Problem",
    "public_holidays",
    "read_network",
    "read_problem",
    "resolve_holidays",
    "restore_holidays",
    "store_holidays",
    "write_plan",
    "write_reason",
]

FIVE_DAYS = [2, 2, 2, 2, 2, 0, 0]

# --- public holidays ----------------------------------------------------------------------------------------


def public_holidays(place: str, stored: Mapping[int, Collection[dt.date]] | None = None) -> Holidays:
    """Public holidays (with observed days) of a place such as ``"AU-TAS"`` or ``"NZ"``, for a calendar.

    Years in `stored` are taken as they are; others are asked of the library when a plan reaches them.
    Regional days are not in it: add them to the calendar's `off`. Raises `Refused` for an unknown place.
    """
    _library(place, 2000)  # an unknown place is refused now, not when the first date is computed
    years = {year: frozenset(days) for year, days in (stored or {}).items()}
    return Holidays(place, years, lambda year: frozenset(_library(place, year)))


def resolve_holidays(place: str, first_year: int, last_year: int) -> dict[dt.date, str]:
    """Dates and English names of the public holidays of a place, over years with both ends.

    >>> resolve_holidays("AU-TAS", 2026, 2026)[dt.date(2026, 3, 9)]
    'Eight Hours Day'
    """
    if last_year < first_year:
        raise Refused(f"holidays of {place!r}: the years {first_year} to {last_year} end before they start")
    found: dict[dt.date, str] = {}
    for year in range(first_year, last_year + 1):
        found.update(_library(place, year))
    return found


def store_holidays(holidays: Holidays) -> Json:
    """The resolved days of a place as JSON, to be kept with a plan: years as keys, dates as text."""
    years = {
        str(year): sorted(day.isoformat() for day in days) for year, days in sorted(holidays.years.items())
    }
    return {"place": holidays.place, "years": years}


def restore_holidays(stored: Json) -> Holidays:
    """The holidays of `store_holidays`, day for day; only years not stored are looked up."""
    entry = Entry(stored, "the stored holidays")
    place = entry.need("place", read_text)
    years = entry.need("years", read_mapping)
    entry.end()
    try:
        days = {
            int(year): [dt.date.fromisoformat(day) for day in read_names(listed, f"year {year!r}")]
            for year, listed in years.items()
        }
    except ValueError as error:
        raise Refused(f"the stored holidays of {place!r} cannot be read: {error}") from None
    return public_holidays(place, days)


@lru_cache(maxsize=4096)
def _library(place: str, year: int) -> dict[dt.date, str]:
    """One year of the library. Years past its last one are refused: it would answer that nothing is kept."""
    import holidays as library  # here, because its import takes longer than a plan

    country, _, state = place.partition("-")
    try:
        known = library.country_holidays(country, subdiv=state or None, years=[], observed=True, expand=False)
    except NotImplementedError as error:
        raise Refused(
            f"holidays of {place!r} are not known ({error}): write for example AU or AU-TAS"
        ) from None
    if year > known.end_year:
        raise BeyondTime(f"the holidays of {place!r} are known up to {known.end_year} only, not for {year}")
    language = "en_AU" if "en_AU" in known.supported_languages else None
    found = library.country_holidays(
        country,
        subdiv=state or None,
        years=[year],
        observed=True,
        expand=False,
        language=language,
        categories=library.PUBLIC,
    )
    return dict(found.items())


# --- a network from JSON ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Problem:
    """What a document asks: a network, and the instant up to which work is recorded."""

    network: Network
    data_date: int


def read_problem(raw: bytes) -> Problem:
    """Read a JSON text; see `read_network`. Raises `Refused`, naming the place."""
    return read_network(parse_json(raw))


def read_network(document: object) -> Problem:
    """Build the network of a document, refusing unknown keys by name.

    Dates are ``2026-04-07`` or ``2026-04-07 am``. For start-like keys (``data_date``, ``not_before``,
    ``actual_start``) a date alone is its morning; finish-like keys (``not_after``, ``actual_finish``) name
    the last half-day worked, a date alone its afternoon. Missing: ``type`` is FS, ``lag`` 0, ``lag_calendar``
    the successor's, ``calendar`` the only one given (``"every"`` if none is), ``data_date`` instant 0. Crews
    may share a ``trade``, whose name in an activity's ``crew`` asks for any one of them. A list
    ``longest_gaps`` of ``{"from", "to", "half_days", "elapsed"}`` may be added; the plan then warns.
    """
    top = Entry(document, "the document")
    data_date = top.want("data_date", read_start, 0)
    calendars = {
        name: _read_calendar(value, name)
        for name, value in top.members("calendars").items()
        if _is_free(name)
    }
    if len(calendars) <= 1:
        only: str | None = next(iter(calendars), EVERY_NAME)
    else:
        only = None
    activities = [
        _read_activity(value, f"activity number {i}", only)
        for i, value in enumerate(top.items("activities"), 1)
    ]
    relationships = [
        _read_relationship(value, f"relationship number {i}")
        for i, value in enumerate(top.items("relationships"), 1)
    ]
    crews = [_read_crew(value, name, only) for name, value in top.members("crews").items()]
    visits = top.members("visits")
    weights = top.members("weights")
    network = Network(
        activities=tuple(activities),
        relationships=tuple(relationships),
        calendars=calendars,
        crews=tuple(crews),
        confirmed=frozenset(name for name, value in visits.items() if _read_confirmed(value, name)),
        freeze_until=top.may("freeze_until", read_start),
        weights={name: read_number(value, f"weight {name!r}") for name, value in weights.items()},
        details=tuple(
            _read_detail(value, f"detail number {i}") for i, value in enumerate(top.items("details"), 1)
        ),
        longest_gaps=tuple(
            _read_gap(value, f"longest gap number {i}")
            for i, value in enumerate(top.items("longest_gaps"), 1)
        ),
    )
    top.end()
    for visit in visits:
        if visit not in {activity.visit for activity in activities}:
            raise Refused(
                f"'visits' names the unknown visit {visit!r}: add it to an activity or correct the name"
            )
    return Problem(network, data_date)


def _is_free(name: str) -> bool:
    if name in (ELAPSED, EVERY_NAME):
        raise Refused(f"the calendar name {name!r} is reserved: choose another")
    return True


def _read_calendar(value: object, name: str) -> WorkingCalendar:
    entry = Entry(value, f"calendar {name!r}")
    week = entry.may("week", read_list)
    place = entry.may("holidays", read_text)
    off, on = (
        frozenset(t for span in entry.items(key) for t in range(*read_span(span, f"{entry.where}: {key!r}")))
        for key in ("off", "on")
    )
    entry.end()
    try:
        days = public_holidays(place) if place else ()
    except Refused as error:
        raise Refused(f"{entry.where}: {error}") from None
    counts = FIVE_DAYS if week is None else [read_whole(n, f"each of {entry.where}: 'week'") for n in week]
    return WorkingCalendar(week=counts, off=off, on=on, holidays=days, name=name)


def _read_activity(value: object, where: str, only_calendar: str | None) -> Activity:
    entry = Entry(value, where)
    name = entry.need("id", read_text)
    entry.where = f"activity {name!r}"
    crew = entry.members("crew")
    lengths = entry.may("range", read_list)
    fails = entry.may("fails", _read_fails)
    activity = Activity(
        id=name,
        duration=entry.need("duration", read_whole),
        calendar=_read_calendar_name(entry, only_calendar),
        house=entry.may("house", read_text),
        not_before=entry.may("not_before", read_start),
        not_after=entry.may("not_after", read_finish),
        actual_start=entry.may("actual_start", read_start),
        actual_finish=entry.may("actual_finish", read_finish),
        remaining=entry.may("remaining", read_whole),
        crew={k: read_whole(units, f"{entry.where}: the units of crew {k!r}") for k, units in crew.items()},
        range=cast(tuple[int, int, int], tuple(lengths)) if lengths is not None else None,
        visit=entry.may("visit", read_text),
        region=entry.may("region", read_text),
        fails=fails,
    )
    entry.end()
    return activity


def _read_calendar_name(entry: Entry, only: str | None) -> str:
    name = entry.may("calendar", read_text)
    if name is None and only is None:
        raise Refused(f"{entry.where} does not say which of the calendars it is worked in: give 'calendar'")
    return name or only or EVERY_NAME


def _read_fails(value: object, where: str) -> Fails:
    entry = Entry(value, where)
    fails = Fails(entry.need("chance", read_number), entry.need("half_days", read_whole))
    entry.end()
    return fails


def _read_relationship(value: object, where: str) -> Relationship:
    entry = Entry(value, where)
    source, target = entry.need("from", read_text), entry.need("to", read_text)
    entry.where = f"relationship {source!r} to {target!r}"
    kind = entry.want("type", read_text, "FS")
    if kind not in get_args(RelationshipType):
        raise Refused(f"{entry.where}: 'type' must be FS, SS, FF or SF, not {kind!r}")
    link = Relationship(
        source,
        target,
        cast(RelationshipType, kind),
        entry.want("lag", read_whole, 0),
        entry.may("lag_calendar", read_text),
    )
    entry.end()
    return link


def _read_crew(value: object, name: str, only_calendar: str | None) -> Crew:
    entry = Entry(value, f"crew {name!r}")
    crew = Crew(
        name=name,
        capacity=entry.need("capacity", read_whole),
        calendar=_read_calendar_name(entry, only_calendar),
        late=entry.may("late", _read_late),
        reserved=tuple(_read_reserved(r, f"{entry.where}: 'reserved'") for r in entry.items("reserved")),
        trade=entry.may("trade", read_text),
    )
    entry.end()
    return crew


def _read_late(value: object, where: str) -> Late:
    entry = Entry(value, where)
    lengths = entry.need("half_days", read_list)
    late = Late(entry.need("chance", read_number), cast(tuple[int, int], tuple(lengths)))
    entry.end()
    return late


def _read_reserved(value: object, where: str) -> ReservedTime:
    listed = read_list(value, f"each of {where}")
    if len(listed) != 3:
        raise Refused(f"each of {where} must be three values: first day, last day, units")
    start, finish = read_span(listed[:2], where)
    return ReservedTime(start, finish, read_whole(listed[2], f"{where}: the units"))


def _read_confirmed(value: object, name: str) -> bool:
    entry = Entry(value, f"visit {name!r}")
    confirmed = entry.want("confirmed", read_truth, False)
    entry.end()
    return confirmed


def _read_detail(value: object, where: str) -> Detail:
    entry = Entry(value, where)
    name = entry.need("id", read_text)
    entry.where = f"detail {name!r}"
    detail = Detail(
        id=name,
        installed_by=entry.need("installed_by", read_names),
        covered_by=entry.need("covered_by", read_names),
        point=entry.may("point", read_text),
        alongside=frozenset(entry.may("with", read_names) or ()),
    )
    entry.end()
    return detail


def _read_gap(value: object, where: str) -> LongestGap:
    entry = Entry(value, where)
    gap = LongestGap(
        entry.need("from", read_text),
        entry.need("to", read_text),
        entry.need("half_days", read_whole),
        entry.want("elapsed", read_truth, False),
    )
    entry.end()
    return gap
