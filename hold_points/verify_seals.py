"""Check the seals of a builder, and a record against them, without the program that wrote them.

``python -m hold_points.verify_record RECORD --seals SEALS`` uses it; standard library only. The seals have
the form of a record: a head line, then one line of hash and canonical text for each. A seal names, for each
house, the number and the hash of its last entry at that moment: a record that does not hold this entry was
written anew or cut off.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from typing import Any

from hold_points.canonical import write_canonical
from hold_points.verify_record import NOTHING_BEFORE, DoesNotFit, hash_text, read_object

FORMAT = "before-the-board seals 1"


def write_seals(builder: str, seals: Iterable[tuple[str, str]]) -> str:
    """The export of a builder's seals from their (hash, text), in order."""
    lines = [f"{digest} {text}" for digest, text in seals]
    head = {
        "builder": builder,
        "format": FORMAT,
        "head": lines[-1][:64] if lines else NOTHING_BEFORE,
        "seals": len(lines),
    }
    return "".join(f"{line}\n" for line in [write_canonical(head), *lines])


def verify_seals(raw: bytes, *, expected: str = "") -> list[dict[str, Any]]:
    """Every seal of an export, in order.

    Args:
        expected: hash of any seal, as it was sent out by mail; it must be among them.

    Raises:
        DoesNotFit: naming the first seal that does not fit, or the head line.
    """
    lines = raw.split(b"\n")
    head = read_object(lines[0], 0)
    if head.get("format") != FORMAT or set(head) != {"builder", "format", "head", "seals"}:
        raise DoesNotFit(0, f"the format is not '{FORMAT}'")
    if lines[-1] or len(lines) < 2:
        raise DoesNotFit(0, "the file does not end with a whole line")
    seals: list[dict[str, Any]] = []
    before, hashes = NOTHING_BEFORE, {NOTHING_BEFORE}
    for n, line in enumerate(lines[1:-1], start=1):
        digest, gap, text = line[:64], line[64:65], line[65:]
        found = hashlib.sha256(text).hexdigest()
        if gap != b" " or digest != found.encode("ascii"):
            raise DoesNotFit(n, "the text of this seal was changed")
        one = read_object(text, n)
        if (one.get("n"), one.get("previous"), one.get("builder")) != (n, before, head["builder"]):
            raise DoesNotFit(n, "it does not follow from the seal before; one was removed, added or moved")
        seals.append(one)
        before = found
        hashes.add(found)
    if head["seals"] != len(seals) or head["head"] != before:
        raise DoesNotFit(0, "it does not name the last seal")
    if expected and expected.lower() not in hashes:
        raise DoesNotFit(len(seals) + 1, "the seal that was sent out is not among them")
    return seals


def check_against_seals(
    entries: Sequence[dict[str, Any]], house: str, seals: Sequence[dict[str, Any]]
) -> int:
    """How many seals name this house and fit its verified entries.

    Raises:
        DoesNotFit: naming the entry that a seal knows otherwise.
    """
    fitting = 0
    hashes = [hash_text(write_canonical(entry)) for entry in entries]
    for one in seals:
        for head in one["facts"]["heads"]:
            if head["house"] != house:
                continue
            n = head["n"]
            if n > len(hashes):
                raise DoesNotFit(len(hashes) + 1, f"seal {one['n']} names entry {n}; the record was cut off")
            if hashes[n - 1] != head["head"]:
                raise DoesNotFit(n, f"seal {one['n']} names another hash; the record was written anew")
            fitting += 1
    return fitting
