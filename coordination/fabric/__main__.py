"""The command: `python -m coordination.fabric CALCULATION --name value ...`.

`miss.KIND` instead of a calculation says what it costs to leave a detail undone. Prints one JSON document.
Bad input: exit status 2, the input named on standard error, nothing on standard output. Without a
calculation, or with `--help`, it lists what there is.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Sequence
from typing import Any

from coordination.fabric.catalogue import CATALOGUE, find_calculation
from coordination.fabric.inputs import FabricError
from coordination.fabric.misses import MISSES, Miss, MissKind, cost_miss
from coordination.fabric.registry import Definition, Input

MISS = "miss."


def _describe_inputs(inputs: Iterable[Input]) -> list[str]:
    lines = []
    for one in inputs:
        unit = f" [{one.unit}]" if one.unit else ""
        given = "" if one.required else ", may be left out"
        lines.append(f"  --{one.name}{unit}  {one.meaning}{given}")
    return lines


def describe_miss(kind: MissKind) -> str:
    """One kind of miss as the command's help shows it."""
    return "\n".join([f"{MISS}{kind.name}: {kind.what}", *_describe_inputs(kind.takes.values())])


def miss_as_dict(miss: Miss) -> dict[str, Any]:
    """A miss as plain data, for JSON: None where nothing is claimed."""
    result = {
        "rank": str(miss.rank),
        "loss": miss.loss,
        "share": miss.share,
        "temperature": miss.temperature,
        "lowest_safe": miss.lowest_safe,
        "frsi": miss.frsi,
        "mould": miss.mould,
    }
    units = {"loss": "W/K", "share": "share", "temperature": "°C", "lowest_safe": "°C"}
    return {
        "inputs": miss.inputs,
        "result": result,
        "unit": {name: units.get(name, "") for name in result},
        "assumptions": list(miss.assumptions),
    }


def describe(definition: Definition) -> str:
    """One calculation as the command's help shows it."""
    lines = [f"{definition.name}: {definition.question}", *_describe_inputs(definition.inputs)]
    names = ", ".join(f"{one.name} [{one.unit}]" if one.unit else one.name for one in definition.results)
    return "\n".join([*lines, f"  gives {names}"])


def read_options(arguments: Sequence[str]) -> dict[str, object]:
    """`--name value` pairs (or `--name=value`) as a mapping; refuses a repeated or an unfinished one."""
    options: dict[str, object] = {}
    rest = list(arguments)
    while rest:
        word = rest.pop(0)
        if not word.startswith("--") or word == "--":
            raise FabricError(word, "is no option; write --name value")
        name, mark, value = word[2:].partition("=")
        if not mark:
            if not rest:
                raise FabricError(name, "has no value; write --name value")
            value = rest.pop(0)
        if name in options:
            raise FabricError(name, "is given twice; give it once")
        options[name] = value
    return options


def run(arguments: Sequence[str]) -> int:
    """Run the command on `arguments`; returns the exit status."""
    if not arguments or arguments[0] in ("-h", "--help"):
        calculations = (describe(one) for one in CATALOGUE.values())
        text = "\n\n".join([*calculations, *(describe_miss(one) for one in MISSES.values())])
        sys.stdout.write(f"{(__doc__ or '').strip()}\n\n{text}\n")
        return 0
    try:
        sys.stdout.write(_answer(arguments[0], arguments[1:]) + "\n")
    except FabricError as refusal:
        sys.stderr.write(f"{refusal}\n")
        return 2
    return 0


def _answer(name: str, rest: Sequence[str]) -> str:
    """What is printed for one calculation or kind of miss: its help, or its JSON document."""
    wants_help = any(word in ("-h", "--help") for word in rest)
    if name.startswith(MISS):
        kind = name.removeprefix(MISS)
        if wants_help and kind in MISSES:
            return describe_miss(MISSES[kind])
        return json.dumps(miss_as_dict(cost_miss(kind, **read_options(rest))), ensure_ascii=False)
    definition = find_calculation(name)
    if wants_help:
        return describe(definition)
    return json.dumps(definition.calculate(read_options(rest)).as_dict(), ensure_ascii=False)


if __name__ == "__main__":
    sys.exit(run(sys.argv[1:]))
