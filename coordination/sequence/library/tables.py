"""Taking typed values out of a TOML table; whatever is left over is refused by name."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from typing import Any

from coordination.sequence.conditions import Condition, ConditionError, read_condition
from coordination.sequence.library.refusals import SequenceError

_REQUIRED: Any = object()
LONGEST = 2000
_WORDS = {
    str: "a text",
    int: "a whole number",
    float: "a number",
    bool: "true or false",
    list: "a list",
    dict: "a table",
}


def _find_endless(value: Any) -> float | None:
    """A number in `value` that no house has: TOML knows nan and inf, and every comparison with nan is false.

    Tables in a list are rows of their own, and name themselves when they are read.
    """
    if isinstance(value, float):
        return None if math.isfinite(value) else value
    if isinstance(value, Mapping):
        value = list(value.values())
    elif isinstance(value, list):
        value = [one for one in value if not isinstance(one, Mapping)]
    else:
        return None
    return next((odd for one in value if (odd := _find_endless(one)) is not None), None)


class Row:
    """One table of the file and the words that name it in a refusal."""

    def __init__(self, file: str, entry: str, table: Mapping[str, Any]) -> None:
        self.file = file
        self.entry = entry
        self._left = dict(table)
        self._known: list[str] = []

    def refuse(self, message: str, remedy: str) -> SequenceError:
        """The refusal to raise."""
        return SequenceError(self.file, self.entry, message, remedy)

    def has(self, key: str) -> bool:
        return key in self._left

    def _take(self, key: str, kind: type, default: Any) -> Any:
        self._known.append(key)
        if key not in self._left:
            if default is _REQUIRED:
                raise self.refuse(f"'{key}' is missing", f"give {_WORDS[kind]}")
            return default
        value = self._left.pop(key)
        odd = _find_endless(value)
        if odd is not None:
            raise self.refuse(f"'{key}' holds {odd}", "give a plain number")
        if kind is float and isinstance(value, int) and not isinstance(value, bool):
            return float(value)
        if not isinstance(value, kind) or (kind in (int, float) and isinstance(value, bool)):
            raise self.refuse(f"'{key}' is {value!r}", f"give {_WORDS[kind]}")
        return value

    def text(self, key: str, default: str = _REQUIRED, most: int = LONGEST) -> str:
        """A text of at most `most` characters: what a house can store, so that no word is cut off later."""
        value: str = self._take(key, str, default)
        if len(value) > most:
            raise self.refuse(f"'{key}' has {len(value)} characters", f"say it in {most} or fewer")
        if default is _REQUIRED and not value.strip():
            raise self.refuse(f"'{key}' is empty", "give a text")
        return value

    def word(self, key: str, choices: tuple[str, ...], default: str = _REQUIRED) -> Any:
        """One of `choices`."""
        value = self._take(key, str, default)
        if value not in choices and value != default:
            named = ", ".join(str(choice) for choice in choices if choice)
            raise self.refuse(f"'{key}' is '{value}'", f"choose from {named}")
        return value

    def whole(self, key: str, default: int | None = _REQUIRED, least: int | None = None) -> Any:
        value = self._take(key, int, default)
        if least is not None and value is not None and value < least:
            raise self.refuse(f"'{key}' is {value}", f"give {least} or more")
        return value

    def number(self, key: str, default: float | None = _REQUIRED) -> Any:
        return self._take(key, float, default)

    def flag(self, key: str, default: bool = False) -> bool:
        value: bool = self._take(key, bool, default)
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        values = self._take(key, list, [])
        for value in values:
            if not isinstance(value, str) or not value:
                raise self.refuse(f"'{key}' holds {value!r}", "list texts only")
        for value in values:
            if values.count(value) > 1:
                raise self.refuse(f"'{key}' names '{value}' twice", "name it once")
        return tuple(values)

    def table(self, key: str) -> dict[str, Any]:
        value: dict[str, Any] = self._take(key, dict, {})
        return value

    def rows(self, key: str) -> list[dict[str, Any]]:
        values = self._take(key, list, [])
        for value in values:
            if not isinstance(value, dict):
                raise self.refuse(f"'{key}' holds {value!r}", f"write it as [[{key}]] with its fields below")
        return values  # type: ignore[no-any-return]

    def any(self, key: str, default: Any = _REQUIRED) -> Any:
        return self._take(key, object, default)

    def condition(self, key: str) -> Condition | None:
        text = self._take(key, str, None)
        if text is None:
            return None
        try:
            return read_condition(text)
        except ConditionError as error:
            raise self.refuse(
                f"'{key}' is '{error.text}', character {error.position}: {error.message}", error.remedy
            ) from error

    def finish(self) -> None:
        """Refuse what no one took: a misspelt field must not be lost in silence."""
        for key in self._left:
            close = difflib.get_close_matches(key, self._known, n=1)
            remedy = f"did you mean '{close[0]}'?" if close else "known are " + ", ".join(sorted(self._known))
            raise self.refuse(f"'{key}' is unknown here", remedy)
