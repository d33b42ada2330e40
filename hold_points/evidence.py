"""Photographs as evidence: refused when hostile, kept as they came under their hash, shown as a clean copy.

The hash is of the original bytes. Nothing of the original is ever shown in a page: what people see is decoded
and written anew, without position, camera data and whatever was hung on at the end of the file.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import struct
import warnings
import zlib
from dataclasses import dataclass
from typing import BinaryIO

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction
from django.utils.translation import gettext as _
from PIL import Image, ImageOps

from coordination import clock
from coordination.people.models import Crew, Person
from coordination.people.refusals import BadInput
from coordination.sequence.locking import lock_house
from coordination.sequence.models import Detail, House, Place
from hold_points.models import Check, Evidence, Inspection, Nonconformity, Outcome

MOST_BYTES = 15 * 1024 * 1024
MOST_PIXELS = 50_000_000
SHOWN_EDGE = 2000
"""Longest edge of the copy that is shown, in pixels."""

WHERE = "photo"
UNREADABLE = (
    *(OSError, SyntaxError, ValueError, EOFError, MemoryError, OverflowError),
    *(KeyError, IndexError, TypeError, AttributeError, struct.error, zlib.error),
)
"""What decoders raise for damaged and crafted files; any of it means that this is no photograph."""

_TAKEN, _EXIF_BLOCK, _OFFSET = 0x9003, 0x8769, 0x9011
_HEIC_BRANDS = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1")


@dataclass(frozen=True)
class Photograph:
    """A photograph that was read and found harmless; `original` are the bytes as sent."""

    original: bytes
    shown: bytes
    sha256: str
    media_type: str
    taken_at: dt.datetime | None


def read_photograph(file: BinaryIO, zone_name: str | None = None) -> Photograph:
    """Read a photograph: JPEG, PNG or WebP, up to 15 MB and 50 megapixels, a single picture.

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
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(raw), formats=("JPEG", "PNG", "WEBP")) as picture:
                return _copy(raw, media_type, picture, zone_name)
    except (Image.DecompressionBombWarning, Image.DecompressionBombError) as error:
        raise _too_many_pixels() from error
    except UNREADABLE as error:
        raise BadInput(
            WHERE, _("The photograph cannot be read; it may be damaged. Take or send it again.")
        ) from error


def _recognise(raw: bytes) -> str:
    if raw.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if raw.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if raw[:4] == b"RIFF" and raw[8:12] == b"WEBP":
        return "image/webp"
    if raw[4:8] == b"ftyp" and raw[8:12] in _HEIC_BRANDS:
        raise BadInput(
            WHERE,
            _(
                "HEIC pictures cannot be read here. Set the camera to 'Most compatible' (JPEG), "
                "or send the picture as JPEG."
            ),
        )
    raise BadInput(WHERE, _("This is no photograph. Send a JPEG, PNG or WebP picture."))


def _too_many_pixels() -> BadInput:
    return BadInput(WHERE, _("The picture has more than 50 megapixels. Send a smaller one."))


def _copy(raw: bytes, media_type: str, picture: Image.Image, zone_name: str | None) -> Photograph:
    # The size stands in the header: nothing is decoded yet.
    width, height = picture.size
    if width * height > MOST_PIXELS:
        raise _too_many_pixels()
    # A phone's JPEG may carry a preview behind the picture (MPO); several frames elsewhere are an animation.
    if picture.format != "MPO" and getattr(picture, "n_frames", 1) > 1:
        raise BadInput(WHERE, _("This is an animation. Send a single photograph."))
    taken_at = _read_time(picture, zone_name)
    # A JPEG is decoded at a fraction of its size where that is enough: 50 megapixels then need little memory.
    picture.draft("RGB", (SHOWN_EDGE, SHOWN_EDGE))
    upright = ImageOps.exif_transpose(picture)
    upright.thumbnail((SHOWN_EDGE, SHOWN_EDGE))
    if "A" in upright.getbands() or "transparency" in upright.info:
        upright = upright.convert("RGBA")
        ground = Image.new("RGBA", upright.size, "white")
        upright = Image.alpha_composite(ground, upright)
    # A fresh picture of the pixels alone: no EXIF, position, profile, comment or preview goes along.
    clean = Image.new("RGB", upright.size)
    clean.paste(upright.convert("RGB"))
    written = io.BytesIO()
    clean.save(written, "JPEG", quality=85, optimize=True)
    return Photograph(raw, written.getvalue(), hashlib.sha256(raw).hexdigest(), media_type, taken_at)


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


def keep_photograph(
    photograph: Photograph,
    *,
    house: House,
    inspection: Inspection | None = None,
    check: Check | None = None,
    outcome: Outcome | None = None,
    nonconformity: Nonconformity | None = None,
    detail: Detail | None = None,
    place: Place | None = None,
    by: Person | None = None,
    crew: Crew | None = None,
    words: str = "",
) -> Evidence:
    """Store a photograph once per house; sending it again for the same thing returns the row that is there.

    The caller holds the house's lock.

    Raises:
        BadInput: the very same picture already stands as evidence of something else.
    """
    if check is not None:
        detail, place = detail or check.detail, place or check.place
    there = Evidence.objects.filter(house=house, sha256=photograph.sha256).first()
    if there is not None:
        shows = (there.inspection_id, there.detail_id, there.place_id, there.check_shown_id)
        asked = (
            inspection and inspection.pk,
            detail and detail.pk,
            place and place.pk,
            check and check.pk,
        )
        if shows != asked or there.nonconformity_id != (nonconformity and nonconformity.pk):
            raise BadInput(
                WHERE,
                _("This very picture already shows something else (%(what)s). Take a photograph of this.")
                % {"what": there.words or there.check_shown or there.place or there.house},
            )
        return there
    folder, name = photograph.sha256[:2], photograph.sha256
    ending = photograph.media_type.removeprefix("image/").replace("jpeg", "jpg")
    return Evidence.objects.create(
        house=house,
        inspection=inspection,
        check_shown=check,
        outcome=outcome,
        nonconformity=nonconformity,
        detail=detail,
        place=place,
        sha256=photograph.sha256,
        size=len(photograph.original),
        media_type=photograph.media_type,
        original=_store(f"evidence/originals/{folder}/{name}.{ending}", photograph.original),
        shown=_store(f"evidence/shown/{folder}/{name}.jpg", photograph.shown),
        taken_at=photograph.taken_at,
        received_at=clock.now(),
        by=by,
        crew=crew,
        words=words[:200],
    )


def _store(name: str, content: bytes) -> str:
    """Write a file under its generated name; the same content is there once, whoever sent it."""
    return name if default_storage.exists(name) else default_storage.save(name, ContentFile(content))


def accept(
    file: BinaryIO,
    *,
    house: House,
    inspection: Inspection | None = None,
    check: Check | None = None,
    nonconformity: Nonconformity | None = None,
    detail: Detail | None = None,
    place: Place | None = None,
    by: Person | None = None,
    crew: Crew | None = None,
    words: str = "",
) -> Evidence:
    """Read and keep a photograph; see `read_photograph` and `keep_photograph` for what is refused."""
    photograph = read_photograph(file, house.builder.time_zone)
    with transaction.atomic():
        return keep_photograph(
            photograph,
            house=lock_house(house.pk),
            inspection=inspection,
            check=check,
            nonconformity=nonconformity,
            detail=detail,
            place=place,
            by=by,
            crew=crew,
            words=words,
        )
