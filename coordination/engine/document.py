"""Reading a JSON document key by key, and refusing by name what does not belong.

Every reader says where it stands (``activity 'frame': 'duration' ...``), so that whoever wrote the document
finds the place.
"""

from __future__ import annotations

import datetime as dt
import difflib
import json
import math
import re
from collections.abc import Callable
from typing import TypeVar

from coordination.engine.workdays import Refused, as_half_day

T = TypeVar("T")
Reader = Callable[[object, str], T]

_HALF_DAY = re.compile(r"(\d{4}-\d{2}-\d{2})(?: (am|pm))?")


def parse_json(raw: bytes) -> object:
    """The value of a JSON text; a key that is given twice and numbers that are none are refused."""

    def once(pairs: list[tuple[str, object]]) -> dict[str, object]:
        found: dict[str, object] = {}
        for key, value in pairs:
            if key in found:
                raise Refused(f"the key {key!r} is given twice in one object: take one away")
            found[key] = value
        return found

    def no_number(text: str) -> object:
        raise Refused(f"{text} is not a number that can be planned with")

    try:
        return json.loads(raw.decode("utf-8-sig"), object_pairs_hook=once, parse_constant=no_number)
    except Refused:
        raise
    except RecursionError:
        raise Refused("the document is nested too deeply to be a network") from None
    except ValueError as error:
        raise Refused(f"the document is not JSON: {error}") from None


class Entry:
    """A JSON object that is taken apart key by key; what is left over at the end is refused.

    A key with the value null counts as missing.
    """

    def __init__(self, value: object, where: str) -> None:
        if not isinstance(value, dict):
            raise Refused(f"{where} must be an object in braces, not {_show(value)}")
        self.where = where
        self._left: dict[str, object] = dict(value)
        self._known: list[str] = []

    def need(self, key: str, read: Reader[T]) -> T:
        """The value of a key that must be there."""
        value = self._take(key)
        if value is None:
            raise Refused(f"{self.where} has no {key!r}: give it{self._hint(key)}")
        return read(value, f"{self.where}: {key!r}")

    def want(self, key: str, read: Reader[T], default: T) -> T:
        """The value of a key, or the default when it is missing or null."""
        value = self._take(key)
        return default if value is None else read(value, f"{self.where}: {key!r}")

    def may(self, key: str, read: Reader[T]) -> T | None:
        """The value of a key, or None when it is missing or null."""
        value = self._take(key)
        return None if value is None else read(value, f"{self.where}: {key!r}")

    def items(self, key: str) -> list[object]:
        """The values of a list that may be missing."""
        return self.may(key, read_list) or []

    def members(self, key: str) -> dict[str, object]:
        """The values of an object by name, that may be missing."""
        return self.may(key, read_mapping) or {}

    def end(self) -> None:
        """Refuse every key that nobody asked for."""
        for key in self._left:
            close = difflib.get_close_matches(key, self._known, 1)
            hint = f"; did you mean {close[0]!r}?" if close else f"; known are {', '.join(self._known)}"
            raise Refused(f"{self.where} has the unknown key {key!r}{hint}")

    def _take(self, key: str) -> object:
        self._known.append(key)
        return self._left.pop(key, None)

    def _hint(self, key: str) -> str:
        close = difflib.get_close_matches(key, self._left, 1)
        return f" (is {close[0]!r} a slip of the pen?)" if close else ""


def read_text(value: object, where: str) -> str:
    """A text that is not empty."""
    if not isinstance(value, str) or not value:
        raise Refused(f"{where} must be a text that is not empty, not {_show(value)}")
    return value


def read_whole(value: object, where: str) -> int:
    """A whole number; limits are the business of whoever takes it."""
    if type(value) is not int:
        raise Refused(f"{where} must be a whole number, not {_show(value)}")
    return value


def read_number(value: object, where: str) -> float:
    """A number."""
    if type(value) not in (int, float) or not math.isfinite(value):  # type: ignore[arg-type]
        raise Refused(f"{where} must be a number, not {_show(value)}")
    return float(value)  # type: ignore[arg-type]


def read_truth(value: object, where: str) -> bool:
    """true or false."""
    if not isinstance(value, bool):
        raise Refused(f"{where} must be true or false, not {_show(value)}")
    return value


def read_list(value: object, where: str) -> list[object]:
    """A list of anything."""
    if not isinstance(value, list):
        raise Refused(f"{where} must be a list in brackets, not {_show(value)}")
    return value


def read_names(value: object, where: str) -> tuple[str, ...]:
    """A list of texts."""
    return tuple(read_text(name, f"each of {where}") for name in read_list(value, where))


def read_mapping(value: object, where: str) -> dict[str, object]:
    """An object of anything, by names that are not empty."""
    if not isinstance(value, dict):
        raise Refused(f"{where} must be an object in braces, not {_show(value)}")
    for name in value:
        read_text(name, f"each name in {where}")
    return value


def read_start(value: object, where: str) -> int:
    """The instant of a start-like key: the half-day that begins there, a date alone its morning."""
    return _read_half_day(value, where)[0]


def read_finish(value: object, where: str) -> int:
    """The instant of a finish-like key: after the last half-day worked, a date alone its afternoon."""
    return _read_half_day(value, where)[1]


def read_span(value: object, where: str) -> tuple[int, int]:
    """A half-day, a day, or a pair of these with both ends, as instants ``[start, finish)``."""
    if not isinstance(value, list):
        return _read_half_day(value, where)
    if len(value) != 2:
        raise Refused(f"{where} must be a date or a pair of first and last, not {_show(value)}")
    start, finish = read_start(value[0], where), read_finish(value[1], where)
    if finish <= start:
        raise Refused(f"{where}: the range {_show(value)} ends before it starts; swap its ends")
    return start, finish


def _read_half_day(value: object, where: str) -> tuple[int, int]:
    """``2026-04-07`` or ``2026-04-07 am`` as instants ``[start, finish)``."""
    match = _HALF_DAY.fullmatch(value) if isinstance(value, str) else None
    try:
        day = dt.date.fromisoformat(match[1]) if match else None
    except ValueError:
        day = None
    if match is None or day is None:
        raise Refused(f"{where} must be a date as 2026-04-07 or 2026-04-07 am, not {_show(value)}")
    return as_half_day(day, "pm" if match[2] == "pm" else "am"), as_half_day(
        day, "am" if match[2] == "am" else "pm"
    ) + 1


def _show(value: object) -> str:
    """A value as JSON, shortened."""
    text = json.dumps(value)
    return text if len(text) <= 60 else text[:57] + "..."
