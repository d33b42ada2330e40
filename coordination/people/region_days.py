"""Regions and their own days, read from a TOML file: the layer that the holiday library does not know."""

from __future__ import annotations

import datetime as dt
import tomllib
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from coordination.people.models import Builder, Region, RegionDay
from coordination.people.refusals import BadInput


@transaction.atomic
def add_region_days(builder: Builder, text: str, file: str = "text") -> list[Region]:
    """Make the file's regions for a builder and add their days; what is there already stays as it is.

    Raises:
        BadInput: naming file, entry and remedy; nothing is saved.
    """
    try:
        rows = tomllib.loads(text).get("region", [])
    except tomllib.TOMLDecodeError as error:
        raise BadInput(file, _("It is no TOML: %(error)s. Mend that line.") % {"error": error}) from error
    if not isinstance(rows, list) or not rows:
        raise BadInput(file, _("It names no region. Write entries [[region]] with key, name and days."))
    return [_add(builder, row, f"{file}, region {number}") for number, row in enumerate(rows, start=1)]


def _add(builder: Builder, row: dict[str, Any], where: str) -> Region:
    for name in ("key", "name"):
        if not isinstance(row.get(name), str) or not row[name]:
            raise BadInput(where, _("'%(name)s' is missing. Write it in quotes.") % {"name": name})
    region, _made = Region.objects.get_or_create(
        builder=builder,
        key=row["key"],
        defaults={
            "name": row["name"],
            "country": row.get("country", "AU"),
            "subdivision": row.get("subdivision", ""),
        },
    )
    for day in row.get("days", []):
        if type(day.get("day")) is not dt.date or not day.get("why"):
            raise BadInput(
                where, _("%(day)s: give a day without quotes, as in 2026-02-09, and why.") % {"day": day}
            )
        if day.get("half", "") not in ("", "am", "pm"):
            raise BadInput(where, _("%(half)s is no half of a day. Write am or pm.") % {"half": day["half"]})
        RegionDay.objects.get_or_create(
            region=region, first_day=day["day"], first_half=day.get("half", ""), defaults={"why": day["why"]}
        )
    return region
