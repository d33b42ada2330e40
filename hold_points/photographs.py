"""Photographs as they are read: refused when hostile, before anything is kept; and their clean copies.

The hash is of the original bytes. Nothing of the original is ever shown in a page: what people see is decoded
and written anew, without position, camera data and whatever was hung on at the end of the file.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import math
import struct
import warnings
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, BinaryIO

import pi_heif
from django.utils.translation import gettext as _
from PIL import Image, ImageOps

from coordination import clock
from coordination.people.refusals import BadInput

MOST_BYTES = 15 * 1024 * 1024
MOST_PIXELS = 50_000_000
MOST_PIXELS_HEIC = 25_000_000
"""Phones write 12 or 24 megapixels as HEIC. Its decoder works at full size only: much memory."""

SHOWN_EDGE = 2000
"""Longest edge of the copy that is shown, in pixels."""

THUMB_EDGE = 320
"""Longest edge of the small copy that lists show, in pixels."""

WHERE = "photo"
UNREADABLE = (
    *(OSError, SyntaxError, ValueError, EOFError, MemoryError, OverflowError, RuntimeError),
    *(KeyError, IndexError, TypeError, AttributeError, struct.error, zlib.error),
)
"""What decoders raise for damaged and crafted files; any of it means that this is no photograph."""

FORMATS = {
    "image/jpeg": "JPEG",
    "image/png": "PNG",
    "image/webp": "WEBP",
    "image/heic": "HEIF",
}
_TAKEN, _EXIF_BLOCK, _OFFSET, _GPS_BLOCK = 0x9003, 0x8769, 0x9011, 0x8825
_HEIC_BRANDS = (b"heic", b"heix", b"mif1")
_HEIC_SERIES = (b"hevc", b"heim", b"heis", b"hevx", b"msf1")

# A previews' or depth map's bytes are never looked at: fewer bytes of strangers to decode.
pi_heif.register_heif_opener(thumbnails=False, depth_images=False, aux_images=False)


@dataclass(frozen=True)
class Position:
    """Where a photograph was taken, in degrees: north and east are positive."""

    latitude: float
    longitude: float


@dataclass(frozen=True)
class Photograph:
    """A photograph that was read and found harmless; `original` are the bytes as sent."""

    original: bytes
    sha256: str
    media_type: str
    taken_at: dt.datetime | None
    position: Position | None = None
    """As the camera wrote it. Whoever keeps the photograph drops it unless the builder has agreed."""


@dataclass(frozen=True)
class Copies:
    """What is shown of a photograph: JPEGs made of the pixels alone."""

    shown: bytes
    thumb: bytes


def read_photograph(file: BinaryIO, zone_name: str | None = None) -> Photograph:
    """Read a photograph: JPEG, PNG, WebP or HEIC, up to 15 MB, a single picture.

    Up to 50 megapixels (HEIC 25), known from the header before anything is decoded. It is decoded once, so
    that nothing unreadable becomes evidence; the copies are made afterwards (`copies`).
    Cameras write local time; `zone_name` is the builder's. Slow work: call it before the house is locked.

    Raises:
        BadInput: what is wrong with the file and what to do.
    """
    raw = file.read(MOST_BYTES + 1)
    if not raw:
        raise BadInput(WHERE, _("The file is empty. Take the photograph again."))
    if len(raw) > MOST_BYTES:
        raise BadInput(WHERE, _("The photograph has more than 15 MB. Send a smaller one."))
    media_type = _recognise(raw)
    with _opened(raw, media_type) as picture:
        taken_at, position = _read_time(picture, zone_name), _read_position(picture)
        _decode(picture)
    return Photograph(raw, hashlib.sha256(raw).hexdigest(), media_type, taken_at, position)


def make_copies(raw: bytes) -> Copies:
    """Decode a photograph and write what is shown of it anew.

    Raises:
        BadInput: as `read_photograph`.
    """
    with _opened(raw, _recognise(raw)) as picture:
        _decode(picture)
        # Made small before it is turned: a turned picture is a second one in memory.
        picture.thumbnail((SHOWN_EDGE, SHOWN_EDGE))
        clean = _write_clean(ImageOps.exif_transpose(picture))
        shown = _as_jpeg(clean, 85)
        clean.thumbnail((THUMB_EDGE, THUMB_EDGE))
        return Copies(shown, _as_jpeg(clean, 75))


def _recognise(raw: bytes) -> str:
    """The media type by the first bytes, whatever the file is called."""
    if raw.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if raw.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if raw[:4] == b"RIFF" and raw[8:12] == b"WEBP":
        return "image/webp"
    if raw[4:8] == b"ftyp" and raw[8:12] in _HEIC_BRANDS:
        return "image/heic"
    if raw[4:8] == b"ftyp" and raw[8:12] in _HEIC_SERIES:
        raise _animated()
    raise BadInput(WHERE, _("This is no photograph. Send a JPEG, PNG, WebP or HEIC picture."))


@contextmanager
def _opened(raw: bytes, media_type: str) -> Iterator[Image.Image]:
    """The picture with its header read and found within the limits; what decoders raise becomes a refusal."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(raw), formats=(FORMATS[media_type],)) as picture:
                _require_size(picture, media_type)
                yield picture
    except (Image.DecompressionBombWarning, Image.DecompressionBombError) as error:
        raise _too_many_pixels(MOST_PIXELS) from error
    except UNREADABLE as error:
        if media_type == "image/heic":
            raise BadInput(
                WHERE,
                _(
                    "This HEIC picture cannot be read. Set the camera to 'Most compatible' (JPEG) and take "
                    "it again, or send it as JPEG."
                ),
            ) from error
        raise BadInput(
            WHERE, _("The photograph cannot be read; it may be damaged. Take or send it again.")
        ) from error


def _require_size(picture: Image.Image, media_type: str) -> None:
    most = MOST_PIXELS_HEIC if media_type == "image/heic" else MOST_PIXELS
    width, height = picture.size
    if width * height > most:
        raise _too_many_pixels(most)
    # A phone's JPEG may carry a preview behind the picture (MPO); several frames elsewhere are an animation.
    if picture.format != "MPO" and getattr(picture, "n_frames", 1) > 1:
        raise _animated()


def _animated() -> BadInput:
    return BadInput(WHERE, _("This is an animation or a series. Send a single photograph."))


def _too_many_pixels(most: int) -> BadInput:
    return BadInput(
        WHERE,
        _("The picture has more than %(most)d megapixels. Set the camera to fewer, or send a smaller one.")
        % {"most": most // 1_000_000},
    )


def _decode(picture: Image.Image) -> None:
    # A JPEG is decoded at a fraction of its size where that is enough: 50 megapixels then need little memory.
    picture.draft("RGB", (SHOWN_EDGE, SHOWN_EDGE))
    picture.load()


def _write_clean(upright: Image.Image) -> Image.Image:
    """A fresh picture of the pixels alone: no EXIF, position, profile, comment or preview goes along."""
    if "A" in upright.getbands() or "transparency" in upright.info:
        upright = upright.convert("RGBA")
        upright = Image.alpha_composite(Image.new("RGBA", upright.size, "white"), upright)
    clean = Image.new("RGB", upright.size)
    clean.paste(upright.convert("RGB"))
    return clean


def _as_jpeg(picture: Image.Image, quality: int) -> bytes:
    written = io.BytesIO()
    picture.save(written, "JPEG", quality=quality, optimize=True)
    return written.getvalue()


def _read_time(picture: Image.Image, zone_name: str | None) -> dt.datetime | None:
    block = picture.getexif().get_ifd(_EXIF_BLOCK)
    text, offset = str(block.get(_TAKEN, "")).strip("\0 "), str(block.get(_OFFSET, "")).strip("\0 ")
    try:
        # Without a written offset it is the wall clock of the site.
        return dt.datetime.strptime(text + offset, "%Y:%m:%d %H:%M:%S%z")
    except ValueError:
        pass
    try:
        return dt.datetime.strptime(text, "%Y:%m:%d %H:%M:%S").replace(tzinfo=clock.zone(zone_name))
    except ValueError:
        return None


def _read_position(picture: Image.Image) -> Position | None:
    block = picture.getexif().get_ifd(_GPS_BLOCK)
    latitude = _read_degrees(block.get(2), block.get(1), "S", 90)
    longitude = _read_degrees(block.get(4), block.get(3), "W", 180)
    return None if latitude is None or longitude is None else Position(latitude, longitude)


def _read_degrees(parts: Any, side: Any, negative: str, most: int) -> float | None:
    """Degrees, minutes and seconds as one number, to about a metre; None for what makes no sense."""
    try:
        degrees, minutes, seconds = (float(part) for part in parts)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    found = degrees + minutes / 60 + seconds / 3600
    if not math.isfinite(found) or not 0 <= found <= most:
        return None
    return round(-found if str(side).strip("\0 ").upper() == negative else found, 5)
