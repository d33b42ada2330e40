"""What a condition means for given values, and whether it suits the names that it uses."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from coordination.sequence.conditions.grammar import (
    And,
    Compare,
    Comparison,
    ConditionError,
    Constant,
    Kind,
    Name,
    Node,
    Not,
    Or,
    Value,
    unknown_name_remedy,
)

COMPARE_IT = "compare it with something"
LIKE_WITH_LIKE = "compare like with like"

_COMPARISONS: dict[str, Callable[[float, float], bool]] = {
    "<": lambda left, right: left < right,
    "<=": lambda left, right: left <= right,
    ">": lambda left, right: left > right,
    ">=": lambda left, right: left >= right,
}


def names_in(node: Node) -> list[str]:
    match node:
        case Name(name):
            return [name]
        case Constant():
            return []
        case Compare(left, _, right):
            return names_in(left) + names_in(right)
        case Not(part):
            return names_in(part)
        case And(parts) | Or(parts):
            return [name for part in parts for name in names_in(part)]


def _find(text: str, name: str) -> int:
    match = re.search(rf"\b{re.escape(name)}\b", text)
    return match.start() + 1 if match else 1


def _value(text: str, operand: Name | Constant, values: Mapping[str, Value]) -> Value:
    if isinstance(operand, Constant):
        return operand.value
    if operand.name not in values:
        raise ConditionError(
            text,
            _find(text, operand.name),
            f"'{operand.name}' has no value",
            unknown_name_remedy(operand.name, values.keys()),
        )
    return values[operand.name]


def holds(text: str, node: Node, values: Mapping[str, Value]) -> bool:
    match node:
        case Not(part):
            return not holds(text, part, values)
        case And(parts):
            return all(holds(text, part, values) for part in parts)
        case Or(parts):
            return any(holds(text, part, values) for part in parts)
        case Compare(left, sign, right):
            return _compare(text, _value(text, left, values), sign, _value(text, right, values))
        case Name() | Constant():
            value = _value(text, node, values)
            if not isinstance(value, bool):
                raise ConditionError(
                    text,
                    _find(text, str(node)),
                    f"'{node}' is not true or false",
                    COMPARE_IT,
                )
            return value


def _compare(text: str, left: Value, sign: Comparison, right: Value) -> bool:
    kinds = {_kind_of(left).name, _kind_of(right).name}
    if len(kinds) > 1:
        raise ConditionError(
            text,
            _find(text, sign),
            f"{left!r} and {right!r} are of different kinds",
            "compare like with like",
        )
    if sign == "==":
        return left == right
    if sign == "!=":
        return left != right
    if isinstance(left, (bool, str)) or isinstance(right, (bool, str)):
        raise ConditionError(text, _find(text, sign), f"'{sign}' orders numbers only", "use == or !=")
    return _COMPARISONS[sign](left, right)


def _kind_of(value: Value) -> Kind:
    if isinstance(value, bool):
        return Kind("flag")
    return Kind("text") if isinstance(value, str) else Kind("number")


def _kind(text: str, operand: Name | Constant, kinds: Mapping[str, Kind]) -> Kind:
    if isinstance(operand, Constant):
        return _kind_of(operand.value)
    if operand.name not in kinds:
        remedy = unknown_name_remedy(operand.name, kinds.keys())
        raise ConditionError(text, _find(text, operand.name), f"'{operand.name}' is unknown", remedy)
    return kinds[operand.name]


def check(text: str, node: Node, kinds: Mapping[str, Kind]) -> None:
    match node:
        case Not(part):
            check(text, part, kinds)
        case And(parts) | Or(parts):
            for part in parts:
                check(text, part, kinds)
        case Compare(left, sign, right):
            _check_comparison(text, left, sign, right, kinds)
        case Name() | Constant():
            if _kind(text, node, kinds).name != "flag":
                raise ConditionError(
                    text,
                    _find(text, str(node)),
                    f"'{node}' is not true or false",
                    COMPARE_IT,
                )


def _check_comparison(
    text: str, left: Name | Constant, sign: Comparison, right: Name | Constant, kinds: Mapping[str, Kind]
) -> None:
    one, other = _kind(text, left, kinds), _kind(text, right, kinds)
    where = _find(text, str(left)) if isinstance(left, Name) else 1
    if one.name != other.name:
        message = f"'{left}' is a {one.name} and '{right}' a {other.name}"
        raise ConditionError(text, where, message, LIKE_WITH_LIKE)
    if sign not in ("==", "!=") and one.name != "number":
        raise ConditionError(text, where, f"'{sign}' orders numbers only", "use == or !=")
    for kind, operand in ((one, right), (other, left)):
        if kind.choices and isinstance(operand, Constant) and operand.value not in kind.choices:
            message = f"'{operand.value}' is none of the choices"
            raise ConditionError(text, where, message, "choose from " + ", ".join(kind.choices))
