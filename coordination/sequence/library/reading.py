"""Reading an entry of the library from its TOML file.

The reader refuses what is malformed: a missing or misspelt field, a wrong kind of value, an id twice, a
condition that cannot be read. What is well-formed but unsound (an unknown id, a cycle, a walk after the
work that buries) is for `linting`, which lists all of it at once.
"""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from coordination.sequence.library import judging_rows, rows
from coordination.sequence.library.entry import Check, Detail, StandardSequence
from coordination.sequence.library.including import DEEPEST, apply_include, read_include
from coordination.sequence.library.options import apply_options
from coordination.sequence.library.refusals import SequenceError
from coordination.sequence.library.tables import Row
from coordination.sequence.library.writing import write_document
from coordination.sequence.library.zoning import name_sections, split_checks

T = TypeVar("T")
Find = Callable[[str], str | None]
"""Gives the text of an entry by its name, or None."""

IN_FILE = "text"
LONGEST_TEXT = 2_000_000


def read_sequence(source: str | Path, file: str | None = None) -> StandardSequence:
    """Read a standard sequence from a path or from its text.

    A `Path` is opened, and what it includes is read from beside it; a `str` is the text itself and stands
    alone. `file` names the text in refusals (default: the path's name, or 'text'). Raises SequenceError
    naming file, entry and remedy. Every option is applied once, alone, so that one that does not fit is
    found now and not on the house that needs it.
    """
    if isinstance(source, Path):
        name = file or source.name
        text = flatten(source, file)
    else:
        name, text = file or IN_FILE, source
    document = read_document(text, name)
    if "include" in document:
        raise SequenceError(
            name,
            "include",
            "a text has no files beside it to include",
            "publish it as a file: manage.py publish_sequence reads what is beside it",
        )
    return _read_whole(document, name, text)


def flatten(source: Path, file: str | None = None) -> str:
    """The text of the entry at `source` with what it includes: a text that stands alone.

    A file that includes nothing is its own text. Otherwise the text is written from the tables, always the
    same for the same files, under the opening comments of all of them. Raises SequenceError, naming the
    included file where the fault is in that one.
    """

    def beside(entry: str) -> str | None:
        base = source.with_name(f"{entry}.toml")
        return _read_text(base, base.name) if base.is_file() else None

    name = file or source.name
    return flatten_text(_read_text(source, name), name, beside, own=source.stem)


def flatten_text(text: str, name: str, find: Find, own: str = "") -> str:
    """The same of a text: `find` gives the text of the entry that is included, or None where there is none.

    Args:
        own: the name by which others include this one, so that a circle is found.
    """
    return _flatten(text, name, find, (own,))


def _flatten(text: str, name: str, find: Find, within: tuple[str, ...]) -> str:
    document = read_document(text, name)
    include = read_include(document, name)
    if include is None:
        return text
    if include.entry in within or len(within) > DEEPEST:
        raise SequenceError(
            name, "include", f"'{include.entry}' is included in a circle or too deep", "include a base entry"
        )
    base_name = f"{include.entry}.toml"
    found = find(include.entry)
    if found is None:
        raise SequenceError(
            name, "include", f"there is no '{base_name}' beside it", "put it there, or mend the name"
        )
    base_text = _flatten(found, base_name, find, (*within, include.entry))
    # Read whole under its own name, so that a fault of the base is not blamed on who includes it.
    base_document = read_document(base_text, base_name)
    _read_whole(base_document, base_name, base_text)
    tables = apply_include(base_document, include, name)
    heading = f"{opening_comment(text)}\n\nIt includes '{include.entry}':\n\n{opening_comment(base_text)}"
    try:
        return write_document(tables, heading)
    except ValueError as error:
        raise SequenceError(name, "file", str(error), "mend that row") from error


def included_by(text: str, name: str) -> str:
    """The name of the entry that a text includes; empty for one that stands alone."""
    include = read_include(read_document(text, name), name)
    return include.entry if include is not None else ""


def _read_text(source: Path, name: str) -> str:
    try:
        return source.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise SequenceError(name, "file", f"cannot be read ({error})", "give a UTF-8 text file") from error


def opening_comment(text: str) -> str:
    """The words of the comment that a file begins with: what it is and where its figures come from."""
    lines: list[str] = []
    for line in text.splitlines():
        if not line.startswith("#"):
            break
        lines.append(line[1:].removeprefix(" "))
    return "\n".join(lines)


def count_comments(text: str) -> int:
    """Lines of comment behind the opening one: writing the tables anew from boxes would leave them out."""
    lines = text.splitlines()
    opening = next((at for at, line in enumerate(lines) if not line.startswith("#")), len(lines))
    return sum(line.lstrip().startswith("#") for line in lines[opening:])


def _read_whole(document: dict[str, Any], name: str, text: str) -> StandardSequence:
    sequence = build_sequence(document, name, text)
    for option in sequence.options:
        build_sequence(apply_options(document, (option,), name).document, name, text)
    return sequence


def read_document(text: str, file: str) -> dict[str, Any]:
    """The tables of the file, a fresh copy; raises SequenceError with the line that TOML cannot read."""
    if len(text) > LONGEST_TEXT:
        raise SequenceError(file, "file", f"longer than {LONGEST_TEXT} characters", "split the entry in two")
    try:
        return copy.deepcopy(_parse(text))
    except tomllib.TOMLDecodeError as error:
        raise SequenceError(file, "file", f"is no TOML: {error}", "mend that line") from error


@lru_cache(maxsize=4)
def _parse(text: str) -> dict[str, Any]:
    """A sequence is judged over its options, the same text each time: reading it is a third of the work."""
    return tomllib.loads(text)


def build_sequence(document: Mapping[str, Any], file: str, text: str) -> StandardSequence:
    """Records from the file's tables."""
    top = Row(file, "file", document)
    zones = _read_all(top, "zone", "key", rows.read_named)
    activities = tuple(
        name_sections(activity, zones, file)
        for activity in _read_all(top, "activity", "id", rows.read_activity)
    )
    details = _read_all(top, "detail", "id", judging_rows.read_detail)
    sequence = StandardSequence(
        key=rows.read_key(top, "key"),
        number=top.whole("number", least=1),
        name=top.text("name"),
        description=top.text("description", ""),
        file=file,
        text=text,
        trades=_read_all(top, "trade", "key", rows.read_trade),
        zones=zones,
        stages=_read_all(top, "stage", "key", rows.read_named),
        features=_read_all(top, "feature", "key", rows.read_feature),
        not_covered=_read_all(top, "not_covered", "feature", rows.read_not_covered, once=False),
        place_kinds=_read_all(top, "place_kind", "key", rows.read_named),
        place_attributes=_read_all(top, "place_attribute", "key", rows.read_attribute),
        places=_read_all(top, "place", "key", rows.read_place),
        visit_names=_read_visit_names(top),
        activities=activities,
        gaps=_read_all(top, "gap", "first", rows.read_gap, once=False),
        details=details,
        checks=split_checks(
            (
                _place_check(check, details)
                for check in _read_all(top, "check", "id", judging_rows.read_check)
            ),
            activities,
        ),
        options=_read_all(top, "option", "key", rows.read_option),
        explained=_read_all(top, "explained", "entry", rows.read_explained, once=False),
    )
    top.finish()
    if not sequence.activities:
        raise top.refuse("no activity", "write at least one [[activity]]")
    return sequence


def _read_all(top: Row, kind: str, name: str, read: Callable[[Row], T], once: bool = True) -> tuple[T, ...]:
    found: list[T] = []
    seen: set[str] = set()
    for number, table in enumerate(top.rows(kind), start=1):
        key = table.get(name)
        row = Row(top.file, f"{kind} '{key}'" if isinstance(key, str) else f"{kind} {number}", table)
        found.append(read(row))
        row.finish()
        if once and str(key) in seen:
            raise row.refuse("is there twice", f"give the second another {name}, or join the two")
        seen.add(str(key))
    return tuple(found)


def _read_visit_names(top: Row) -> dict[str, str]:
    names = top.table("visits")
    for key, words in names.items():
        if not rows.KEY.match(key) or not isinstance(words, str) or not 0 < len(words) <= rows.NAME:
            raise top.refuse(
                f"visit '{key}' is {words!r}", f'write key = "name of the visit", in {rows.NAME} characters'
            )
    return names


def _place_check(check: Check, details: tuple[Detail, ...]) -> Check:
    """A check of a detail is judged at the detail's point and in its places, unless it says otherwise."""
    detail = next((one for one in details if one.id == check.detail), None)
    if detail is None:
        return check
    return replace(
        check,
        point=check.point or detail.point,
        section=check.section or (detail.section if not check.point or check.point == detail.point else ""),
        places=check.places or detail.places,
    )
