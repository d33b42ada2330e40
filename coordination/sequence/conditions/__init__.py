"""Conditions of a standard sequence: 'not on every house', in words that a builder can read.

    garage_attached and (lintel_depth < stud_depth or bal != "none")

Names of features (of a row's own numbers besides; or of a place's attributes), numbers, quoted text, `true`
and `false`, the comparisons `== != < <= > >=`, `and`, `or`, `not` and parentheses; nothing else, and nothing
of it is run as a program.
Comparisons bind closest, then `not`, then `and`, then `or`.

Kinds are strict: a number is not a flag, text is not a number. A condition is checked against the kinds
of the names it uses when the sequence is read, so that a misspelt choice is found then and not on the
one house that has it.

>>> holds = read_condition("storeys >= 2 and not metal_roof")
>>> holds.true_for({"storeys": 2, "metal_roof": False})
True
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from coordination.sequence.conditions.grammar import ConditionError, Kind, Node, Value, unknown_name_remedy
from coordination.sequence.conditions.meaning import check, holds, names_in
from coordination.sequence.conditions.parsing import parse

__all__ = ["Condition", "ConditionError", "Kind", "Value", "read_condition", "unknown_name_remedy"]


@dataclass(frozen=True)
class Condition:
    """A condition as read: its text and its meaning."""

    text: str
    root: Node

    def __str__(self) -> str:
        return self.text

    @property
    def names(self) -> frozenset[str]:
        """Names of features or attributes that the condition asks."""
        return frozenset(names_in(self.root))

    def true_for(self, values: Mapping[str, Value]) -> bool:
        """Whether the condition holds for `values`; a missing name or a wrong kind raises ConditionError."""
        return holds(self.text, self.root, values)

    def check_against(self, kinds: Mapping[str, Kind]) -> None:
        """Refuse names that are not in `kinds`, operands of different kinds and texts that are no choice."""
        check(self.text, self.root, kinds)


def read_condition(text: str) -> Condition:
    """Read a condition; raises ConditionError naming text, position and remedy."""
    return Condition(text, parse(text))
