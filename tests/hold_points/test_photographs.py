"""Photographs: what is taken, what is refused, and what the shown copy still carries."""

import contextlib
import datetime as dt
import hashlib
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from coordination.people.refusals import BadInput
from hold_points import evidence
from hold_points.evidence import read_photograph
from tests.hold_points.pictures import (
    make_animation,
    make_bomb,
    make_picture,
    make_picture_with_camera_data,
)


def read(raw: bytes):
    return read_photograph(io.BytesIO(raw), "Australia/Hobart")


@pytest.mark.parametrize(
    ("kind", "media_type"), [("JPEG", "image/jpeg"), ("PNG", "image/png"), ("WEBP", "image/webp")]
)
def test_photographs_of_three_kinds_are_taken_and_shown_as_jpeg(kind, media_type):
    raw = make_picture(kind)
    photograph = read(raw)
    assert photograph.media_type == media_type
    assert photograph.original == raw
    assert photograph.sha256 == hashlib.sha256(raw).hexdigest()
    with Image.open(io.BytesIO(photograph.shown)) as shown:
        assert (shown.format, shown.size) == ("JPEG", (64, 48))


def test_time_is_read_and_position_and_camera_are_not_shown():
    photograph = read(make_picture_with_camera_data())
    # 14:10 on a camera in Hobart, daylight saving, is 3:10 in UTC.
    assert photograph.taken_at == dt.datetime(2026, 3, 17, 3, 10, 5, tzinfo=dt.UTC)
    with Image.open(io.BytesIO(photograph.original)) as original:
        assert original.getexif().get_ifd(0x8825)
    with Image.open(io.BytesIO(photograph.shown)) as shown:
        assert not shown.getexif()
        assert shown.size == (40, 80), "it was turned upright before the camera's word was dropped"
    assert b"Exif" not in photograph.shown


def test_a_large_photograph_is_shown_smaller():
    with Image.open(io.BytesIO(read(make_picture(size=(4000, 1000))).shown)) as shown:
        assert shown.size == (2000, 500)


def test_what_hangs_on_at_the_end_of_a_file_is_not_shown():
    raw = make_picture() + b"<script>alert(1)</script>PK\x03\x04"
    photograph = read(raw)
    assert photograph.original == raw
    assert b"script" not in photograph.shown
    assert b"PK\x03\x04" not in photograph.shown


def test_comments_in_a_file_are_not_shown():
    assert b"<html" not in read(make_picture(comment=b"<html><script>")).shown


HOSTILE = {
    "nothing": b"",
    "one zero byte": b"\0",
    "zero bytes": b"\0" * 4096,
    "svg": b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>',
    "svg after a declaration": b'<?xml version="1.0"?><svg onload="alert(1)"/>',
    "html": b"<!doctype html><script>alert(1)</script>",
    "html that begins like a gif": b"GIF89a/*<script>*/=1;alert(1)",
    "a gif": make_picture("GIF"),
    "a bmp": make_picture("BMP"),
    "a tiff": make_picture("TIFF"),
    "a zip": b"PK\x03\x04" + b"\0" * 100,
    "a pdf": b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n",
    "a program": b"\x7fELF" + b"\0" * 200,
    "only the mark of a jpeg": b"\xff\xd8\xff",
    "jpeg mark before html": b"\xff\xd8\xff\xe0<html><script>alert(1)</script>" * 20,
    "only the mark of a png": b"\x89PNG\r\n\x1a\n",
    "png mark before script": b"\x89PNG\r\n\x1a\n<script>alert(1)</script>",
    "webp mark before script": b"RIFF\x20\0\0\0WEBP<script>alert(1)</script>",
    "riff that is sound": b"RIFF\x24\0\0\0WAVEfmt " + b"\0" * 40,
    "an animation": make_animation(),
    "truncated jpeg": make_picture(size=(400, 300))[:-400],
    "truncated png": make_picture("PNG", size=(400, 300))[:-40],
    "truncated webp": make_picture("WEBP", size=(400, 300))[:40],
    "png with a wrong checksum": make_picture("PNG")[:40] + b"\0\0\0\0" + make_picture("PNG")[44:],
    "bomb of 81 megapixels": make_bomb(9000, 9000),
    "bomb of 169 megapixels": make_bomb(13000, 13000),
    "bomb of 400 megapixels": make_bomb(20000, 20000),
    "bomb one pixel high": make_bomb(50_000_001, 1),
    "heic": b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 100,
    "a film": b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom" + b"\0" * 100,
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_file_is_refused_with_words(name):
    with pytest.raises(BadInput) as refusal:
        read(HOSTILE[name])
    assert refusal.value.where == "photo"
    assert refusal.value.words.endswith(".")


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from(["JPEG", "PNG", "WEBP"]), st.lists(st.tuples(st.integers(0, 500), st.binary(min_size=1)))
)
def test_a_damaged_file_is_read_or_refused_and_never_anything_else(kind, damages):
    raw = bytearray(make_picture(kind))
    for place, damage in damages:
        raw[place % len(raw) : place % len(raw) + len(damage)] = damage
    with contextlib.suppress(BadInput):
        assert read(bytes(raw)).shown.startswith(b"\xff\xd8\xff")


def test_heic_is_refused_with_the_remedy():
    with pytest.raises(BadInput, match="Most compatible"):
        read(HOSTILE["heic"])


def test_a_bomb_is_refused_from_its_header_alone(monkeypatch):
    monkeypatch.setattr(Image.Image, "load", lambda self: pytest.fail("pixels were decoded"))
    for name in ("bomb of 81 megapixels", "bomb of 169 megapixels", "bomb of 400 megapixels"):
        with pytest.raises(BadInput, match="50 megapixels"):
            read(HOSTILE[name])


@pytest.mark.parametrize(("over", "taken"), [(-1, True), (0, True), (1, False)])
def test_fifteen_megabytes_is_the_most(over, taken):
    raw = make_picture()
    raw += b"\0" * (evidence.MOST_BYTES - len(raw) + over)
    if taken:
        assert len(read(raw).original) == evidence.MOST_BYTES + over
    else:
        with pytest.raises(BadInput, match="15 MB"):
            read(raw)
