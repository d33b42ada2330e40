"""Check an exported record without the program that wrote it: ``python -m hold_points.verify_record FILE``.

Standard library only. The export has one head line and one line for each entry::

    {"entries":2,"format":"before-the-board record 1","head":"<hash of the last entry>","house":"<key>"}
    <SHA-256 of the text> <canonical text of entry 1>
    <SHA-256 of the text> <canonical text of entry 2>

Each text names its number, its house and the hash before it, so a changed, missing, added or moved entry
breaks the chain at its place. A record that was cut off and given a new head line can only be found by
someone who knows the old head: it stands on the record page; give it with ``--head``. The builder's seals,
sent out by mail once a day, name the heads of all houses: give their file with ``--seals``, and with
``--seal`` the hash of a seal from your own mail.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from hold_points.canonical import NotCanonical, write_canonical

FORMAT = "before-the-board record 1"
NOTHING_BEFORE = "0" * 64
"""Stands in the first entry for the hash of the entry before."""


class DoesNotFit(Exception):
    """The first entry that does not fit (0: the head line), and why.

    Attributes:
        n: number of the entry.
        words: what does not fit.
    """

    def __init__(self, n: int, words: str) -> None:
        super().__init__(f"entry {n}: {words}" if n else f"head line: {words}")
        self.n = n
        self.words = words


def hash_text(text: str) -> str:
    """SHA-256 of the text in UTF-8, in hexadecimal."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def write_export(house: str, entries: Iterable[tuple[str, str]]) -> str:
    """The export of a house's record from its entries' (hash, text), in order."""
    lines = [f"{digest} {text}" for digest, text in entries]
    head = {
        "entries": len(lines),
        "format": FORMAT,
        "head": lines[-1][:64] if lines else NOTHING_BEFORE,
        "house": house,
    }
    return "".join(f"{line}\n" for line in [write_canonical(head), *lines])


def verify_export(raw: bytes, *, expected_head: str = "") -> list[dict[str, Any]]:
    """Every entry of an export, in order.

    Raises:
        DoesNotFit: naming the first entry that does not fit, or the head line.
    """
    lines = raw.split(b"\n")
    head = read_object(lines[0], 0)
    if head.get("format") != FORMAT:
        raise DoesNotFit(0, f"the format is not '{FORMAT}'")
    if set(head) != {"entries", "format", "head", "house"}:
        raise DoesNotFit(0, "it has other fields than entries, format, head, house")
    entries: list[dict[str, Any]] = []
    before = NOTHING_BEFORE
    for n, line in enumerate(lines[1:-1], start=1):
        before = _verify_line(line, n, before, head["house"], entries)
    if lines[-1] or len(lines) < 2:
        raise DoesNotFit(len(entries) + 1, "the file does not end with a whole line")
    if head["entries"] != len(entries):
        raise DoesNotFit(len(entries) + 1, f"the head line counts {head['entries']} entries")
    if head["head"] != before:
        raise DoesNotFit(0, "its hash is not that of the last entry")
    if expected_head and expected_head.lower() != before:
        raise DoesNotFit(
            len(entries) + 1, "the record does not end with the expected hash; entries are missing"
        )
    return entries


def _verify_line(line: bytes, n: int, before: str, house: object, entries: list[dict[str, Any]]) -> str:
    digest, gap, text = line[:64], line[64:65], line[65:]
    if gap != b" ":
        raise DoesNotFit(n, "it is no line of hash and text")
    found = hashlib.sha256(text).hexdigest()
    if digest != found.encode("ascii"):
        raise DoesNotFit(n, f"its text was changed: SHA-256 is {found}, the record says {digest!r}")
    entry = read_object(text, n)
    if entry.get("n") != n:
        raise DoesNotFit(n, f"it says that it is entry {entry.get('n')}; one was removed, added or moved")
    if entry.get("previous") != before:
        raise DoesNotFit(n, "it does not follow from the entry before")
    if entry.get("house") != house:
        raise DoesNotFit(n, f"it belongs to the house {entry.get('house')!r}")
    entries.append(entry)
    return found


def read_object(raw: bytes, n: int) -> dict[str, Any]:
    """An object from its canonical text; `n` is the line's number for the refusal."""
    try:
        text = raw.decode("utf-8")
        found = json.loads(text)
        same = isinstance(found, dict) and write_canonical(found) == text
    except (UnicodeDecodeError, ValueError, RecursionError) as error:
        kind = "no canonical JSON" if isinstance(error, NotCanonical) else "no JSON"
        raise DoesNotFit(n, f"it is {kind}: {error}") from error
    if not same:
        raise DoesNotFit(n, "it is not in canonical form")
    return dict(found)


def photographs_named(entries: Iterable[dict[str, Any]]) -> Iterator[tuple[int, str]]:
    """(entry, SHA-256) of every photograph that an entry names."""

    def search(value: object) -> Iterator[str]:
        if isinstance(value, dict):
            if isinstance(value.get("sha256"), str):
                yield value["sha256"]
            for one in value.values():
                yield from search(one)
        elif isinstance(value, list):
            for one in value:
                yield from search(one)

    for entry in entries:
        for digest in search(entry.get("facts")):
            yield entry["n"], digest


def check_photographs(entries: Iterable[dict[str, Any]], folder: Path) -> None:
    """Refuse when a photograph that the record names is not in the folder, byte for byte."""
    there = {hashlib.sha256(one.read_bytes()).hexdigest() for one in folder.rglob("*") if one.is_file()}
    for n, digest in photographs_named(entries):
        if digest not in there:
            raise DoesNotFit(n, f"no file in {folder} has the SHA-256 {digest} of its photograph")


def main(arguments: list[str] | None = None) -> int:
    """The command: 0 when the record fits, 1 when not, 2 when the file cannot be read."""
    parser = argparse.ArgumentParser(
        prog="python -m hold_points.verify_record", description="Check an exported record."
    )
    parser.add_argument("file", type=Path)
    parser.add_argument("--head", default="", help="hash of the last entry, as printed on the record page")
    parser.add_argument("--photos", type=Path, help="folder with the original photographs")
    parser.add_argument("--seals", type=Path, help="the builder's seals, to check the record against")
    parser.add_argument("--seal", default="", help="hash of a seal as it came by mail")
    given = parser.parse_args(arguments)
    try:
        raw = given.file.read_bytes()
        seals = given.seals.read_bytes() if given.seals else b""
    except OSError as error:
        print(f"{error.filename} cannot be read: {error.strerror}", file=sys.stderr)
        return 2
    try:
        entries = verify_export(raw, expected_head=given.head)
        if given.photos:
            check_photographs(entries, given.photos)
        if given.seals:
            # Here: the module of the seals is built on this one.
            from hold_points.verify_seals import check_against_seals, verify_seals

            house = str(json.loads(raw.split(b"\n", 1)[0])["house"])
            fitting = check_against_seals(entries, house, verify_seals(seals, expected=given.seal))
            print(f"{fitting} seals name this house and fit")
    except DoesNotFit as trouble:
        print(f"{given.file} does not fit: {trouble}")
        return 1
    print(f"{given.file} fits: {len(entries)} entries, head {hash_of_last(entries)}")
    return 0


def hash_of_last(entries: list[dict[str, Any]]) -> str:
    """Hash of the last of verified entries; zeros when there is none."""
    return hash_text(write_canonical(entries[-1])) if entries else NOTHING_BEFORE


if __name__ == "__main__":
    # By its own name: the module of the seals raises this module's DoesNotFit, not that of a second copy.
    from hold_points.verify_record import main as run

    sys.exit(run())
