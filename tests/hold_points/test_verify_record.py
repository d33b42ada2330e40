"""The chain, judged by hashlib alone, and tampers of every sort."""

import hashlib
import json
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hold_points.canonical import write_canonical
from hold_points.verify_record import (
    NOTHING_BEFORE,
    DoesNotFit,
    check_photographs,
    verify_export,
    write_export,
)


def make_export(count: int = 6, house: str = "lot-7") -> bytes:
    """An export chained with hashlib only, without the code under test."""
    entries, before = [], NOTHING_BEFORE
    for n in range(1, count + 1):
        facts = {"value": f"{n}.5", "words": "Décke, ≥ 25 mm", "photographs": [{"sha256": f"{n:064d}"}]}
        text = json.dumps(
            {"facts": facts, "house": house, "kind": "outcome", "n": n, "previous": before},
            ensure_ascii=False,
            sort_keys=True,
            separators=(",", ":"),
        )
        before = hashlib.sha256(text.encode()).hexdigest()
        entries.append((before, text))
    return write_export(house, entries).encode()


RECORD = make_export()


def test_an_untouched_record_fits():
    entries = verify_export(RECORD)
    assert [entry["n"] for entry in entries] == [1, 2, 3, 4, 5, 6]


def test_an_empty_record_fits():
    assert verify_export(make_export(0)) == []


@settings(max_examples=400)
@given(st.integers(0, len(RECORD) - 1), st.integers(1, 255))
def test_any_changed_byte_is_found_and_its_entry_named(place, change):
    changed = bytearray(RECORD)
    changed[place] ^= change
    with pytest.raises(DoesNotFit) as found:
        verify_export(bytes(changed))
    line = RECORD[:place].count(b"\n")
    # A byte of line n breaks entry n; a byte of the head may only show when the entries are counted.
    assert found.value.n in ({line, line + 1} if line else {0, 1, 7})


@settings(max_examples=200)
@given(st.data())
def test_removed_swapped_repeated_and_inserted_entries_are_found(data):
    head, *lines = RECORD.splitlines(keepends=True)
    act = data.draw(st.sampled_from(["remove", "swap", "repeat", "foreign"]))
    first = data.draw(st.integers(0, len(lines) - 1))
    if act == "remove":
        del lines[first]
    elif act == "swap":
        second = data.draw(st.integers(0, len(lines) - 1).filter(lambda one: one != first))
        lines[first], lines[second] = lines[second], lines[first]
    elif act == "repeat":
        lines.insert(first, lines[first])
    else:
        lines[first] = make_export(6, "lot-8").splitlines(keepends=True)[first + 1]
    with pytest.raises(DoesNotFit):
        verify_export(b"".join([head, *lines]))


@given(st.integers(0, len(RECORD) - 1))
def test_a_cut_off_tail_is_found(length):
    with pytest.raises(DoesNotFit):
        verify_export(RECORD[:length])


def test_a_record_rewritten_from_an_entry_on_is_found_by_its_old_head():
    old_head = json.loads(RECORD.splitlines()[0])["head"]
    shorter = make_export(4)
    assert len(verify_export(shorter)) == 4, "a whole rewrite fits in itself"
    with pytest.raises(DoesNotFit):
        verify_export(shorter, expected_head=old_head)
    assert verify_export(RECORD, expected_head=old_head.upper())


def test_a_hash_that_was_recomputed_for_a_changed_text_breaks_the_next_entry():
    head, *lines = RECORD.decode().splitlines()
    text = lines[2][65:].replace("3.5", "9.5")
    lines[2] = hashlib.sha256(text.encode()).hexdigest() + " " + text
    with pytest.raises(DoesNotFit) as found:
        verify_export("\n".join([head, *lines, ""]).encode())
    assert found.value.n == 4


def test_a_missing_photograph_is_named_with_its_entry(tmp_path):
    photograph = b"bytes of a photograph"
    (tmp_path / "any name.jpg").write_bytes(photograph)
    digest = hashlib.sha256(photograph).hexdigest()
    check_photographs([{"n": 1, "facts": {"photographs": [{"sha256": digest}]}}], tmp_path)
    with pytest.raises(DoesNotFit) as found:
        check_photographs(
            [{"n": 9, "facts": {"checks": [{"photographs": [{"sha256": "0" * 64}]}]}}], tmp_path
        )
    assert found.value.n == 9


def test_the_command_runs_without_django_and_names_the_entry(tmp_path):
    file = tmp_path / "record.txt"
    file.write_bytes(RECORD)
    command = [sys.executable, "-X", "importtime", "-m", "hold_points.verify_record", str(file)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, "6 entries" in done.stdout) == (0, True)
    assert "django" not in done.stderr
    file.write_bytes(RECORD.replace(b"4.5", b"4.6"))
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, "entry 4" in done.stdout) == (1, True)
    file.unlink()
    assert subprocess.run(command, capture_output=True, check=False).returncode == 2


def test_deep_nesting_is_refused_and_does_not_crash():
    deep = b'{"a":' + b"[" * 100_000 + b"]" * 100_000 + b"}"
    with pytest.raises(DoesNotFit):
        verify_export(deep + b"\n")


def test_the_head_line_is_canonical():
    first = RECORD.decode().splitlines()[0]
    assert write_canonical(json.loads(first)) == first
