"""The command: `python -m coordination.fabric CALCULATION --name value ...`.

Prints one JSON document. Bad input: exit status 2, the input named on standard error, nothing on
standard output. Without a calculation, or with `--help`, it lists what there is.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence

from coordination.fabric.catalogue import CATALOGUE, find_calculation
from coordination.fabric.inputs import FabricError
from coordination.fabric.registry import Definition


def describe(definition: Definition) -> str:
    """One calculation as the command's help shows it."""
    lines = [f"{definition.name}: {definition.question}"]
    for one in definition.inputs:
        unit = f" [{one.unit}]" if one.unit else ""
        given = "" if one.required else ", may be left out"
        lines.append(f"  --{one.name}{unit}  {one.meaning}{given}")
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
        text = "\n\n".join(describe(one) for one in CATALOGUE.values())
        sys.stdout.write(f"{(__doc__ or '').strip()}\n\n{text}\n")
        return 0
    try:
        definition = find_calculation(arguments[0])
        if any(word in ("-h", "--help") for word in arguments[1:]):
            sys.stdout.write(describe(definition) + "\n")
            return 0
        done = definition.calculate(read_options(arguments[1:]))
    except FabricError as refusal:
        sys.stderr.write(f"{refusal}\n")
        return 2
    sys.stdout.write(json.dumps(done.as_dict(), ensure_ascii=False) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(run(sys.argv[1:]))
