"""What a condition is made of, and the error that names its text, position and remedy."""

from __future__ import annotations

import difflib
from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal as OneOf

Value = bool | float | str
Comparison = OneOf["==", "!=", "<", "<=", ">", ">="]


class ConditionError(ValueError):
    """A condition that cannot be read or does not suit the names it uses.

    `text` is the condition, `position` counts characters from 1, `remedy` says what to write instead.
    """

    def __init__(self, text: str, position: int, message: str, remedy: str) -> None:
        super().__init__(f"condition '{text}', character {position}: {message}; {remedy}")
        self.text = text
        self.position = position
        self.message = message
        self.remedy = remedy

    def __reduce__(self) -> tuple[type[ConditionError], tuple[str, int, str, str]]:
        return ConditionError, (self.text, self.position, self.message, self.remedy)


@dataclass(frozen=True)
class Kind:
    """What a name may be: a number, a flag, or text; `choices` lists the only texts it can take."""

    name: OneOf["number", "flag", "text"]
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Name:
    """The value of a feature or of a place's attribute."""

    name: str

    def __str__(self) -> str:
        return self.name


@dataclass(frozen=True)
class Constant:
    """A number, a text, true or false."""

    value: Value

    def __str__(self) -> str:
        if isinstance(self.value, bool):
            return "true" if self.value else "false"
        if isinstance(self.value, str):
            quote = "'" if '"' in self.value else '"'
            return f"{quote}{self.value}{quote}"
        whole = int(self.value)
        return str(whole) if whole == self.value else format(self.value, "f").rstrip("0")


@dataclass(frozen=True)
class Compare:
    """Two operands of the same kind; order only between numbers."""

    left: Name | Constant
    sign: Comparison
    right: Name | Constant

    def __str__(self) -> str:
        return f"{self.left} {self.sign} {self.right}"


@dataclass(frozen=True)
class Not:
    """The opposite."""

    part: Node

    def __str__(self) -> str:
        return f"not ({self.part})" if isinstance(self.part, (And, Or)) else f"not {self.part}"


@dataclass(frozen=True)
class And:
    """All parts hold."""

    parts: tuple[Node, ...]

    def __str__(self) -> str:
        return " and ".join(f"({part})" if isinstance(part, (And, Or)) else str(part) for part in self.parts)


@dataclass(frozen=True)
class Or:
    """At least one part holds."""

    parts: tuple[Node, ...]

    def __str__(self) -> str:
        return " or ".join(f"({part})" if isinstance(part, Or) else str(part) for part in self.parts)


Node = Name | Constant | Compare | Not | And | Or


def unknown_name_remedy(name: str, known: Collection[str]) -> str:
    """'did you mean ...', or the names there are."""
    close = difflib.get_close_matches(name, known, n=1)
    if close:
        return f"did you mean '{close[0]}'?"
    return "known are " + ", ".join(sorted(known)) if known else "none is defined here"
