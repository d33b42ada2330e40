"""Reading and refusing inputs: every refusal names the input and says what to give instead."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence


class FabricError(ValueError):
    """An input that no wall, roof or batt can have.

    `input_name` is the name of the input as the calculation knows it, `message` says what is wrong
    with it and what to give instead.
    """

    def __init__(self, input_name: str, message: str) -> None:
        super().__init__(f"{input_name}: {message}")
        self.input_name = input_name
        self.message = message

    def __reduce__(self) -> tuple[type[FabricError], tuple[str, str]]:
        return FabricError, (self.input_name, self.message)


def show(value: float) -> str:
    """A number as a person writes it: `290`, `22.5`, never `290.0`."""
    return f"{value:.6g}"


def read_number(name: str, value: object) -> float:
    """A finite number from a number or its text; anything else is refused by name."""
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise FabricError(name, f"{value!r} is not a number; give a plain number")
    try:
        number = float(value)
    except ValueError:
        raise FabricError(name, f"'{value}' is not a number; give a plain number such as 90") from None
    if not math.isfinite(number):
        raise FabricError(name, f"'{value}' is not a finite number; give a plain number")
    return number


def read_whole(name: str, value: object) -> int:
    """A whole number from a number or its text; 3.5 is refused by name."""
    number = read_number(name, value)
    if number != int(number):
        raise FabricError(name, f"{show(number)} is not a whole number; give a count such as 8")
    return int(number)


def read_choice(name: str, value: object, choices: Sequence[str]) -> str:
    """One of `choices` as text; anything else is refused with the list of what is known."""
    text = show(value) if isinstance(value, float) else str(value).strip()
    if text not in choices:
        raise FabricError(name, f"'{text}' is unknown; give one of {', '.join(choices)}")
    return text


def require_positive(name: str, value: float) -> float:
    """Refuse zero, negative and non-finite values."""
    if not math.isfinite(value) or value <= 0:
        raise FabricError(name, f"{show(value)} is not possible; give a number greater than 0")
    return value


def require_not_negative(name: str, value: float) -> float:
    """Refuse negative and non-finite values; zero is allowed."""
    if not math.isfinite(value) or value < 0:
        raise FabricError(name, f"{show(value)} is not possible; give 0 or more")
    return value


def require_fraction(name: str, value: float) -> float:
    """Refuse what is no share of a whole."""
    if not math.isfinite(value) or not 0 <= value <= 1:
        raise FabricError(name, f"{show(value)} is no share of a whole; give 0 to 1 (5 % is 0.05)")
    return value


def require_pitch(name: str, value: float) -> float:
    """Refuse a flat or an impossible roof; degrees."""
    if not math.isfinite(value) or not 0 < value < 90:
        raise FabricError(
            name, f"{show(value)}° is no pitched roof; give the pitch in degrees, above 0 and below 90"
        )
    return value


def require_some(name: str, values: Iterable[object], remedy: str) -> None:
    """Refuse an empty list."""
    if not list(values):
        raise FabricError(name, f"nothing given; {remedy}")
