"""Random tampers of an exported record: ``python -m tests.races.tampering --tampers 10000``.

Builds a record with `hashlib` alone, damages it in every way of `TAMPERS`, and asks the verifier. Each damage
must be found; the untouched record must never be. Then it verifies a long record and prints the rate.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from hold_points.verify_record import (
    NOTHING_BEFORE,
    DoesNotFit,
    check_photographs,
    verify_export,
    write_export,
)

Dice = random.Random
PHOTOGRAPHS = 4


def photograph(n: int) -> bytes:
    """The bytes of one of the invented photographs."""
    return f"photograph {n % PHOTOGRAPHS}".encode()


def make_record(count: int, house: str = "lot-7", words: str = "Décke, ≥ 25 mm") -> bytes:
    """An export chained with hashlib, of about 360 bytes an entry."""
    entries, before = [], NOTHING_BEFORE
    for n in range(1, count + 1):
        digest = hashlib.sha256(photograph(n)).hexdigest()
        facts = {"value": f"{n}.5", "words": words, "photographs": [{"sha256": digest}]}
        text = json.dumps(
            {"facts": facts, "house": house, "kind": "outcome", "n": n, "previous": before},
            ensure_ascii=False,
            sort_keys=True,
            separators=(",", ":"),
        )
        before = hashlib.sha256(text.encode()).hexdigest()
        entries.append((before, text))
    return write_export(house, entries).encode()


def _lines(raw: bytes) -> list[bytes]:
    return raw.splitlines(keepends=True)


def flip_bit(raw: bytes, dice: Dice) -> bytes:
    """One bit anywhere."""
    changed = bytearray(raw)
    changed[dice.randrange(len(raw))] ^= 1 << dice.randrange(8)
    return bytes(changed)


def drop_entry(raw: bytes, dice: Dice) -> bytes:
    """One entry missing."""
    lines = _lines(raw)
    del lines[dice.randrange(1, len(lines))]
    return b"".join(lines)


def swap_entries(raw: bytes, dice: Dice) -> bytes:
    """Two entries in each other's place."""
    lines = _lines(raw)
    first, second = dice.sample(range(1, len(lines)), 2)
    lines[first], lines[second] = lines[second], lines[first]
    return b"".join(lines)


def insert_entry(raw: bytes, dice: Dice) -> bytes:
    """An entry of another record in between."""
    lines, others = _lines(raw), _lines(make_record(8, words="from elsewhere"))
    lines.insert(dice.randrange(1, len(lines) + 1), dice.choice(others[1:]))
    return b"".join(lines)


def _rewrite(raw: bytes, place: int, old: str, new: str) -> bytes:
    """One text changed and its own hash made to fit again."""
    lines = _lines(raw)
    text = lines[place][65:-1].decode().replace(old, new, 1)
    lines[place] = f"{hashlib.sha256(text.encode()).hexdigest()} {text}\n".encode()
    return b"".join(lines)


def swap_photograph(raw: bytes, dice: Dice) -> bytes:
    """Another photograph named in one entry, its own hash made to fit. The last entry's is in the head."""
    place = dice.randrange(1, len(_lines(raw)))
    old = hashlib.sha256(photograph(place)).hexdigest()
    return _rewrite(raw, place, old, hashlib.sha256(photograph(place + 1)).hexdigest())


def change_value(raw: bytes, dice: Dice) -> bytes:
    """A value made better, the entry's own hash made to fit."""
    return _rewrite(raw, dice.randrange(1, len(_lines(raw))), '.5"', '.6"')


def cut_tail(raw: bytes, dice: Dice) -> bytes:
    """The last entries gone and the head line written anew: only who knows the old head can tell."""
    lines = [line[:-1].decode() for line in _lines(raw)[1:]]
    kept = lines[: dice.randrange(len(lines))]
    return write_export("lot-7", [(line[:64], line[65:]) for line in kept]).encode()


def rewrite_whole(raw: bytes, dice: Dice) -> bytes:
    """The whole chain made anew with one other word: fits in itself, not to the old head."""
    return make_record(len(_lines(raw)) - 1, words=f"all well {dice.random()}")


TAMPERS: dict[str, Callable[[bytes, Dice], bytes]] = {
    one.__name__.replace("_", " "): one
    for one in (
        *(flip_bit, drop_entry, swap_entries, insert_entry),
        *(swap_photograph, change_value, cut_tail, rewrite_whole),
    )
}


@dataclass
class Found:
    """What a run found."""

    tried: Counter[str] = field(default_factory=Counter)
    missed: Counter[str] = field(default_factory=Counter)
    false_alarms: int = 0
    photographs_missed: int = 0


def tamper(times: int, seed: int = 1) -> Found:
    """Tamper `times` times in turn; swapped photographs of the folder and untouched records in between."""
    dice, found = Dice(seed), Found()
    raw = make_record(40)
    head = json.loads(_lines(raw)[0])["head"]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for n in range(PHOTOGRAPHS):
            (folder / f"{n}.jpg").write_bytes(photograph(n))
        for turn in range(times):
            words = list(TAMPERS)[turn % len(TAMPERS)]
            damaged = TAMPERS[words](raw, dice)
            if damaged == raw:
                continue
            found.tried[words] += 1
            try:
                verify_export(damaged, expected_head=head)
                found.missed[words] += 1
            except DoesNotFit:
                pass
            if turn % 20 == 0:
                found.false_alarms += not _fits(raw, head, folder)
                found.photographs_missed += _miss_of_swapped_file(raw, folder, dice)
    return found


def _fits(raw: bytes, head: str, folder: Path) -> bool:
    try:
        check_photographs(verify_export(raw, expected_head=head), folder)
    except DoesNotFit:
        return False
    return True


def _miss_of_swapped_file(raw: bytes, folder: Path, dice: Dice) -> bool:
    """Whether another picture under the name of one of them goes unseen."""
    file = folder / f"{dice.randrange(PHOTOGRAPHS)}.jpg"
    kept = file.read_bytes()
    file.write_bytes(b"another picture")
    try:
        check_photographs(verify_export(raw), folder)
    except DoesNotFit:
        return False
    finally:
        file.write_bytes(kept)
    return True


def measure_verifying(entries: int) -> tuple[float, float]:
    """Seconds of the processor to verify a record of so many entries, and to hash its lines alone.

    Not of the clock on the wall: others may use the machine at the same time.
    """
    raw = make_record(entries)
    start = time.process_time()
    count = len(verify_export(raw))
    took = time.process_time() - start
    if count != entries:
        raise AssertionError(f"{count} entries of {entries} were read")
    start = time.process_time()
    for line in raw.split(b"\n"):
        hashlib.sha256(line).hexdigest()
    return took, time.process_time() - start


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tampers", type=int, default=10_000)
    parser.add_argument("--entries", type=int, default=100_000)
    given = parser.parse_args()
    found = tamper(given.tampers)
    tried, missed = sum(found.tried.values()), sum(found.missed.values())
    out = sys.stdout.write
    out(f"tampers {tried}, not found {missed}, false alarms {found.false_alarms}, ")
    out(f"swapped photographs not found {found.photographs_missed}\n")
    out("".join(f"  {words}: {count}\n" for words, count in sorted(found.tried.items())))
    took, alone = measure_verifying(given.entries)
    out(f"{given.entries} entries verified in {took:.2f} s of the processor, ")
    out(f"{took / alone:.1f} times hashing alone\n")
    return int(bool(missed or found.false_alarms or found.photographs_missed or took >= 5))


if __name__ == "__main__":
    sys.exit(main())
