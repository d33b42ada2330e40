"""The order to set out a house, written as a TOML file: for the command line and for examples."""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Mapping
from typing import Any, TypeVar

from django.db.models import Model, Q, QuerySet
from django.utils.translation import gettext as _

from coordination.people.models import Builder, Crew, Person, WorkingCalendar
from coordination.people.refusals import BadInput
from coordination.sequence.library.refusals import SequenceError
from coordination.sequence.library.tables import Row
from coordination.sequence.models import SequenceVersion
from coordination.sequence.set_out import ACCESS_FIELDS, SetOut

M = TypeVar("M", bound=Model)


def read_set_out_file(text: str, builder: Builder, file: str = "text") -> SetOut:
    """Read an order from TOML; what it names is looked for among the builder's rows.

    Keys: `sequence` (and `version`, else the latest), `key`, `name`, `region`, `calendar`, `starts_on`;
    optional `address`, `required_by`, `supervisor` (e-mail), `options`, the tables `[access]`, `[features]`,
    `[crews]` (trade = "crew's name") and the list `[[place]]`.

    Raises:
        BadInput: naming file, entry and remedy.
    """
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadInput(file, _("It is no TOML: %(error)s. Mend that line.") % {"error": error}) from error
    try:
        return _read(Row(file, _("order"), document), builder)
    except SequenceError as error:
        raise BadInput(f"{error.file}, {error.entry}", f"{error.message}; {error.remedy}") from error
    except BadInput as error:
        raise BadInput(f"{file}, {error.where}", error.words) from error


def _read(row: Row, builder: Builder) -> SetOut:
    access = Row(row.file, "access", row.table("access"))
    reached = {name: access.text(name, "") for name in ACCESS_FIELDS}
    access.finish()
    order = SetOut(
        builder=builder,
        version=_find_version(builder, row.text("sequence"), row.whole("version", None, least=1)),
        key=row.text("key"),
        name=row.text("name"),
        region=_find(builder.regions.all(), "region", row.text("region"), "key"),
        calendar=_find_calendar(builder, row.text("calendar")),
        starts_on=_day(row, "starts_on"),
        features=row.table("features"),
        options=list(row.texts("options")),
        places=list(row.rows("place")),
        supervisor=_find_supervisor(row.text("supervisor", "")),
        address=row.text("address", ""),
        required_by=_day(row, "required_by") if row.has("required_by") else None,
        crews=_find_crews(builder, row.table("crews")),
        **reached,
    )
    row.finish()
    return order


def _day(row: Row, name: str) -> dt.date:
    value = row.any(name)
    if type(value) is not dt.date:
        raise row.refuse(f"'{name}' is {value}", "give a day without quotes, as in 2026-02-02")
    return value


def _find(queryset: QuerySet[M], name: str, value: str, lookup: str) -> M:
    found = queryset.filter(**{lookup: value}).first()
    if found is None:
        known = ", ".join(sorted({str(one) for one in queryset.values_list(lookup, flat=True)}))
        raise BadInput(
            name,
            _("There is no '%(value)s'. Known are: %(known)s.") % {"value": value, "known": known or "–"},
        )
    return found


def _find_version(builder: Builder, key: str, number: int | None) -> SequenceVersion:
    versions = builder.sequence_versions.order_by("-number")
    if number is None:
        return _find(versions, "sequence", key, "key")
    wanted = versions.filter(key=key, number=number).first()
    if wanted is None:
        raise BadInput(
            "sequence",
            _("There is no version %(number)s of '%(key)s'. Publish it first, or leave 'version' out.")
            % {"number": number, "key": key},
        )
    return wanted


def _find_calendar(builder: Builder, key: str) -> WorkingCalendar:
    own = builder.calendars.filter(key=key).first()
    there = WorkingCalendar.objects.filter(Q(builder=None) | Q(builder=builder))
    return own or _find(there, "calendar", key, "key")


def _find_supervisor(email: str) -> Person | None:
    if not email:
        return None
    found = Person.objects.filter(email=email.lower()).first()
    if found is None:
        raise BadInput(
            "supervisor", _("Nobody signs in as '%(email)s'. Add the person first.") % {"email": email}
        )
    return found


def _find_crews(builder: Builder, named: Mapping[str, Any]) -> dict[str, Crew]:
    crews = {}
    for trade, name in named.items():
        if not isinstance(name, str):
            raise BadInput(f"crews, {trade}", _("Write the crew's name in quotes."))
        engaged = Crew.objects.filter(Crew.AT_WORK, trade__key=trade, company__engagements__builder=builder)
        crews[trade] = _find(engaged.select_related("trade", "company"), f"crews, {trade}", name, "name")
    return crews
