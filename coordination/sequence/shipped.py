"""The library that comes with the tool: sequences to publish as they are, or to begin one's own from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.conf import settings
from django.utils.translation import gettext as _

from coordination.people.refusals import BadInput
from coordination.sequence.library.reading import flatten_text, opening_comment, read_document


@dataclass(frozen=True)
class Shipped:
    """One sequence of the library.

    Attributes:
        entry: name of its file without ending; what another file includes it by.
        key: key of the sequence, the same as of the versions published from it.
        words: what it is for, the first paragraph of its own comment.
    """

    entry: str
    key: str
    name: str
    words: str


def folder() -> Path:
    """Where the files lie."""
    return Path(settings.BASE_DIR) / "fixtures" / "sequences"


@cache
def list_shipped() -> tuple[Shipped, ...]:
    """Every sequence of the library by name. Read once: the files come with the program."""
    found = []
    for path in sorted(folder().glob("*.toml")):
        text = path.read_text(encoding="utf-8")
        document = read_document(text, path.name)
        words = " ".join(opening_comment(text).split("\n\n")[0].split())
        words = words.removeprefix("Standard sequence: ")
        found.append(Shipped(path.stem, document["key"], document["name"], words[:1].upper() + words[1:]))
    return tuple(sorted(found, key=lambda one: one.name))


def read_shipped(entry: str) -> str | None:
    """The text of the library's entry of that name; None where there is none."""
    # Only names of the list are opened, so that no name leads to another folder.
    if entry not in {one.entry for one in list_shipped()}:
        return None
    return (folder() / f"{entry}.toml").read_text(encoding="utf-8")


def choose_shipped(entry: str) -> dict[str, str]:
    """An entry as a file that somebody sent, by its name.

    Raises:
        BadInput: the library has no such entry.
    """
    text = read_shipped(entry)
    if text is None:
        words = _("The library has no sequence of that name. Choose one of the list.")
        raise BadInput(entry or _("sequence"), words)
    return {f"{entry}.toml": text}


@cache
def shipped_text(key: str) -> str:
    """The library's sequence of that key as one text that stands alone; empty where there is none."""
    entry = next((one.entry for one in list_shipped() if one.key == key), "")
    text = read_shipped(entry)
    return flatten_text(text, f"{entry}.toml", read_shipped, own=entry) if text is not None else ""
