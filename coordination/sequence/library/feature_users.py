"""What still asks for a feature: rows of a sequence, and what its options add and change."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coordination.sequence.library.entry import Option
from coordination.sequence.library.options import apply_options
from coordination.sequence.library.reading import build_sequence
from coordination.sequence.library.references import BREAKING, find_unknown_names

Tables = Mapping[str, Any]


def find_users(tables: Tables, key: str, file: str) -> list[str]:
    """Rows that would ask for a feature in vain if it were gone, as "check 'airway' (option 'two-storeys')".

    The judgement is that of the lints: what they would say of the tables without the feature, and of the
    tables with each option. Raises SequenceError where the tables cannot be read as they are.
    """
    found = dict.fromkeys(_ask_in_vain(tables, key, file))
    for option in build_sequence(tables, file, "").options:
        named = f"option '{option.key}'"
        if _decides(option, key):
            found[named] = None
        document = apply_options(tables, (option,), file).document
        for row in _ask_in_vain(document, key, file):
            if row not in found:
                found[f"{row} ({named})"] = None
    return list(found)


def _decides(option: Option, key: str) -> bool:
    return key in option.sets or any(row.get("key") == key for row in option.changed.get("feature", ()))


def _ask_in_vain(tables: Tables, key: str, file: str) -> list[str]:
    features = [row for row in tables.get("feature", []) if row.get("key") != key]
    before = set(_unknown(tables, file))
    without = _unknown({**tables, "feature": features}, file)
    rows = dict.fromkeys(row for row, message in without if (row, message) not in before)
    return [row.replace("not_covered", "not covered", 1) for row in rows]


def _unknown(tables: Tables, file: str) -> list[tuple[str, str]]:
    findings = find_unknown_names(build_sequence(tables, file, ""))
    return [(one.entry, one.message) for one in findings if one.lint in BREAKING]
