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
from hold_points import photographs
from hold_points.photographs import MOST_PIXELS_HEIC, Position, make_copies, read_photograph
from tests.hold_points.pictures import (
    make_animation,
    make_bomb,
    make_heic,
    make_picture,
    make_picture_with_camera_data,
)


def read(raw: bytes):
    return read_photograph(io.BytesIO(raw), "Australia/Hobart")


def shown_of(raw: bytes) -> bytes:
    return make_copies(raw).shown


MAKERS = {
    "image/jpeg": lambda: make_picture("JPEG"),
    "image/png": lambda: make_picture("PNG"),
    "image/webp": lambda: make_picture("WEBP"),
    "image/heic": make_heic,
}


@pytest.mark.parametrize("media_type", MAKERS)
def test_photographs_of_four_kinds_are_taken_and_shown_as_jpeg(media_type):
    raw = MAKERS[media_type]()
    photograph = read(raw)
    assert photograph.media_type == media_type
    assert photograph.original == raw
    assert photograph.sha256 == hashlib.sha256(raw).hexdigest()
    with Image.open(io.BytesIO(shown_of(raw))) as shown:
        assert (shown.format, shown.size) == ("JPEG", (64, 48))


@pytest.mark.parametrize("kind", ["JPEG", "HEIC"])
def test_time_is_read_and_position_and_camera_are_not_shown(kind):
    raw = make_picture_with_camera_data(kind)
    photograph = read(raw)
    # 14:10 on a camera in Hobart, daylight saving, is 3:10 in UTC.
    assert photograph.taken_at == dt.datetime(2026, 3, 17, 3, 10, 5, tzinfo=dt.UTC)
    # 42 degrees, 52 minutes, 1 second south; 147 degrees, 19 minutes, 1 second east.
    assert photograph.position == Position(-42.86694, 147.31694)
    with Image.open(io.BytesIO(photograph.original)) as original:
        assert original.getexif().get_ifd(0x8825)
    for copy in (make_copies(raw).shown, make_copies(raw).thumb):
        with Image.open(io.BytesIO(copy)) as shown:
            assert not shown.getexif()
            assert shown.size == (40, 80), "it was turned upright before the camera's word was dropped"
        assert b"Exif" not in copy


@pytest.mark.parametrize(
    "parts",
    [(91.0, 0.0, 0.0), (42.0, 0.0), ("x", 0.0, 0.0), (float("nan"), 0.0, 0.0), (-1.0, 0.0, 0.0), 7, None],
)
def test_a_position_that_makes_no_sense_is_none(parts):
    assert photographs._read_degrees(parts, "S", "S", 90) is None


def test_a_large_photograph_is_shown_smaller():
    copies = make_copies(make_picture(size=(4000, 1000)))
    with Image.open(io.BytesIO(copies.shown)) as shown, Image.open(io.BytesIO(copies.thumb)) as thumb:
        assert (shown.size, thumb.size) == ((2000, 500), (320, 80))


def test_what_hangs_on_at_the_end_of_a_file_is_not_shown():
    raw = make_picture() + b"<script>alert(1)</script>PK\x03\x04"
    assert read(raw).original == raw
    assert b"script" not in shown_of(raw)
    assert b"PK\x03\x04" not in shown_of(raw)


def test_comments_in_a_file_are_not_shown():
    assert b"<html" not in shown_of(make_picture(comment=b"<html><script>"))


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


@settings(max_examples=150)
@given(st.sampled_from(sorted(MAKERS)), st.lists(st.tuples(st.integers(0, 500), st.binary(min_size=1))))
def test_a_damaged_file_is_read_or_refused_and_never_anything_else(kind, damages):
    raw = bytearray(MAKERS[kind]())
    for place, damage in damages:
        raw[place % len(raw) : place % len(raw) + len(damage)] = damage
    with contextlib.suppress(BadInput):
        read(bytes(raw))
        assert shown_of(bytes(raw)).startswith(b"\xff\xd8\xff")


def test_heic_that_cannot_be_read_is_refused_with_the_remedy():
    for raw in (HOSTILE["heic"], make_heic()[:400], make_heic()[:-30]):
        with pytest.raises(BadInput, match="Most compatible"):
            read(raw)


def test_heic_has_a_limit_of_its_own_that_is_read_from_its_header(monkeypatch):
    monkeypatch.setattr(photographs, "MOST_PIXELS_HEIC", 64 * 48)
    raw = make_heic()
    assert read(raw).media_type == "image/heic"
    monkeypatch.setattr(photographs, "MOST_PIXELS_HEIC", 64 * 48 - 1)
    monkeypatch.setattr(Image.Image, "load", lambda self: pytest.fail("pixels were decoded"))
    with pytest.raises(BadInput, match="megapixels"):
        read(raw)
    assert MOST_PIXELS_HEIC == 25_000_000


def test_several_pictures_in_one_heic_are_a_series(monkeypatch):
    with pytest.raises(BadInput, match="series"):
        read(make_heic(frames=2))


def test_a_bomb_is_refused_from_its_header_alone(monkeypatch):
    monkeypatch.setattr(Image.Image, "load", lambda self: pytest.fail("pixels were decoded"))
    for name in ("bomb of 81 megapixels", "bomb of 169 megapixels", "bomb of 400 megapixels"):
        with pytest.raises(BadInput, match="50 megapixels"):
            read(HOSTILE[name])


@pytest.mark.parametrize(("over", "taken"), [(-1, True), (0, True), (1, False)])
def test_fifteen_megabytes_is_the_most(over, taken):
    raw = make_picture()
    raw += b"\0" * (photographs.MOST_BYTES - len(raw) + over)
    if taken:
        assert len(read(raw).original) == photographs.MOST_BYTES + over
    else:
        with pytest.raises(BadInput, match="15 MB"):
            read(raw)
