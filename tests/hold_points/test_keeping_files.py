"""Files kept: whole or not there, whatever was cut off before or is cut off now."""

import hashlib
import io
import os
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import InMemoryStorage, default_storage

from hold_points import copies, keeping_files, pack_files
from hold_points.evidence import Shows, accept
from hold_points.keeping_files import keep_file
from hold_points.pack import read_pack
from hold_points.pack_sheets import Reader
from tests.hold_points.pictures import make_picture

NAME = "evidence/originals/ab/abcd.jpg"
WHOLE = bytes(range(256)) * 400


@pytest.fixture
def folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


def plant(name, content):
    """What a process left that was cut off while it wrote straight under the name."""
    path = Path(default_storage.path(name))
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)


def read(name):
    with default_storage.open(name) as file:
        return file.read()


@pytest.mark.parametrize("left", [b"", WHOLE[:40_000], WHOLE[:-1] + b"\x00", WHOLE + b"more"])
def test_what_was_left_half_written_is_replaced(folder, left):
    plant(NAME, left)
    assert keep_file(NAME, WHOLE) == NAME
    assert read(NAME) == WHOLE
    assert os.listdir(folder / "evidence/originals/ab") == ["abcd.jpg"]


def test_what_stands_whole_is_not_written_again(folder):
    keep_file(NAME, WHOLE)
    before = os.stat(folder / NAME).st_ino
    assert keep_file(NAME, WHOLE) == NAME
    assert os.stat(folder / NAME).st_ino == before


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_disk_that_fails_leaves_nothing_under_the_name_and_nothing_beside_it(folder, monkeypatch, step):
    def fail(*_given):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, step, fail)
        with pytest.raises(OSError, match="No space left"):
            keep_file(NAME, WHOLE)
    assert not default_storage.exists(NAME)
    assert os.listdir(folder / "evidence/originals/ab") == []
    keep_file(NAME, WHOLE)
    assert read(NAME) == WHOLE


def test_all_bytes_are_on_the_disk_before_the_name_is_given(folder, monkeypatch):
    seen = []
    flush, rename = os.fsync, os.replace

    def note_flush(handle):
        seen.append("flush")
        flush(handle)

    def note_name(old, new):
        seen.append("name")
        rename(old, new)

    monkeypatch.setattr(os, "fsync", note_flush)
    monkeypatch.setattr(os, "replace", note_name)
    keep_file(NAME, WHOLE)
    assert seen == ["flush", "name", "flush"]


def test_a_store_without_folders_replaces_what_is_something_else(monkeypatch):
    elsewhere = InMemoryStorage()
    monkeypatch.setattr(keeping_files, "default_storage", elsewhere)
    elsewhere.save(NAME, ContentFile(WHOLE[:40_000]))
    for _turn in range(2):
        assert keep_file(NAME, WHOLE) == NAME
        with elsewhere.open(NAME) as file:
            assert file.read() == WHOLE
    assert elsewhere.listdir("evidence/originals/ab") == ([], ["abcd.jpg"])


def send(site, raw):
    check = site.check("pipe-off")
    return accept(
        io.BytesIO(raw), site.house, Shows(inspection=check.inspection, check=check, by=site.supervisor)
    )


def test_a_photograph_whose_writing_was_cut_off_is_whole_evidence_when_it_is_sent_again(site):
    raw = make_picture(size=(400, 300))
    digest = hashlib.sha256(raw).hexdigest()
    name = f"evidence/originals/{digest[:2]}/{digest}.jpg"
    # The crash came before the row was committed: the file is there, and nobody knows of it.
    plant(name, raw[: len(raw) // 2])
    kept = send(site, raw)
    assert kept.original.name == name
    assert read(name) == raw
    assert kept.original.size == kept.size == len(raw)


def test_a_copy_whose_writing_was_cut_off_is_made_whole_by_the_next_try(site):
    kept = send(site, make_picture(size=(400, 300)))
    shown = f"evidence/shown/{kept.sha256[:2]}/{kept.sha256}.jpg"
    plant(shown, b"\xff\xd8\xff")
    assert copies.prepare(kept.pk)
    kept.refresh_from_db()
    assert kept.shown.name == shown
    assert read(shown)[-2:] == b"\xff\xd9", "the mark at a JPEG's end (ITU-T T.81, B.1.1.3)"


def test_a_pack_whose_writing_was_cut_off_is_not_offered_and_made_anew(site):
    pack = read_pack(site.house, Reader.BUILDER)
    plant(pack_files.name_of(pack), b"%PDF-1.7 the beginning of a pa")
    assert not pack_files.is_made(pack)
    name = pack_files.make(
        site.house.pk, Reader.BUILDER, "en-au", lambda _pack: b"%PDF-1.7 all of it %%EOF\n"
    )
    assert read(name).endswith(b"%%EOF\n")
