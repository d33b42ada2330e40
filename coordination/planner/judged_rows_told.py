"""Which checks of a draft judge a detail, or are judged at a point, with the way to each and to a new one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from coordination.planner.draft_told import name_row
from coordination.sequence.comparing_fields import say_row_field


@dataclass(frozen=True)
class CheckLink:
    """A check of the draft: its words, its limit where it has one, its page."""

    words: str
    limit: str
    link: str


@dataclass(frozen=True)
class Judging:
    """The checks, and where another is begun that names the same detail or point."""

    checks: tuple[CheckLink, ...]
    add: str


def tell_judging(draft: int, tables: Mapping[str, Any], kind: str, key: str) -> Judging:
    """Of a detail: its checks. Of a point: the checks that name it, and those of the details judged there."""
    details = {key} if kind == "detail" else _judged_at(tables, key)
    point = "" if kind == "detail" else key
    found = []
    for number, row in enumerate(tables.get("check", []), start=1):
        own_point = row.get("point", "")
        if own_point == point if own_point and point else row.get("detail") in details:
            link = reverse("planner:draft_row", args=[draft, "check", number])
            limit = say_row_field("limit", row["limit"], {}) if row.get("limit") else ""
            found.append(CheckLink(name_row("check", row), limit.split(";")[0], link))
    named = {"detail": key} if kind == "detail" else {"point": key}
    add = f"{reverse('planner:draft_row', args=[draft, 'check', 0])}?{urlencode(named)}"
    return Judging(tuple(found), add)


def _judged_at(tables: Mapping[str, Any], point: str) -> set[str]:
    return {str(row.get("id")) for row in tables.get("detail", []) if row.get("point") == point}
