"""Writing the tables of an entry as TOML text: the same tables always give the same text."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any

BARE = re.compile(r"[A-Za-z0-9_-]+\Z")
# What can stand between single quotes as it is: conditions, which name choices in double ones.
LITERAL = re.compile(r"[^'\\\x00-\x1f\x7f]*\Z")
WIDTH = 110
# Tables of an option whose rows are written one below the other.
ROW_LISTS = ("added", "changed")


def write_document(document: Mapping[str, Any], heading: str = "") -> str:
    """TOML text of an entry's tables, with `heading` as its comment.

    Raises:
        ValueError: a value that no entry can hold (a date), named by its key.
    """
    blocks = [_comment(heading)] if heading else []
    plain = {key: value for key, value in document.items() if not _has_header(value)}
    if plain:
        blocks.append(_fields(plain))
    for key, value in document.items():
        if isinstance(value, Mapping):
            blocks.append(f"[{_key(key)}]\n{_fields(value)}")
        elif _has_header(value):
            blocks += [_row(_key(key), table) for table in value]
    return "\n".join(blocks)


def _has_header(value: Any) -> bool:
    return isinstance(value, Mapping) or _is_rows(value)


def _is_rows(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(one, Mapping) for one in value)


def _comment(words: str) -> str:
    return "".join(f"# {line}".rstrip() + "\n" for line in words.splitlines())


def _row(header: str, table: Mapping[str, Any]) -> str:
    lists = {
        name: table[name]
        for name in ROW_LISTS
        if isinstance(table.get(name), Mapping) and table[name] and all(map(_is_rows, table[name].values()))
    }
    text = f"[[{header}]]\n" + _fields({key: value for key, value in table.items() if key not in lists})
    for name, kinds in lists.items():
        for kind, rows in kinds.items():
            text += "".join("\n" + _row(f"{header}.{name}.{_key(kind)}", row) for row in rows)
    return text


def _fields(table: Mapping[str, Any]) -> str:
    return "".join(f"{_key(key)} = {_value(key, value)}\n" for key, value in table.items())


def _key(key: str) -> str:
    return key if BARE.match(key) else _text(key)


def _text(text: str) -> str:
    if '"' in text and LITERAL.match(text):
        return f"'{text}'"
    # The escapes of JSON are all known to TOML, which also wants DEL escaped.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(key: str, value: Any) -> str:
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            return _text(value)
        case int() | float():
            return repr(value)
        case list():
            return _list(key, value)
        case Mapping():
            return "{" + ", ".join(f"{_key(name)} = {_value(name, one)}" for name, one in value.items()) + "}"
    raise ValueError(f"'{key}' is {value!r}; give a text, a number, true, false, a list or a table")


def _list(key: str, values: list[Any]) -> str:
    written = [_value(key, one) for one in values]
    line = "[" + ", ".join(written) + "]"
    if len(line) <= WIDTH and not _is_rows(values):
        return line
    return "[\n" + "".join(f"  {one},\n" for one in written) + "]"
