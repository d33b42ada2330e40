"""Pictures for the tests, harmless and hostile."""

import io
import struct
import zlib

import pillow_heif
from PIL import Image


def make_picture(
    kind: str = "JPEG", size: tuple[int, int] = (64, 48), colour: str | tuple[int, int, int] = "grey", **save
) -> bytes:
    """A small photograph; another colour or size makes another hash."""
    written = io.BytesIO()
    Image.new("RGB", size, colour).save(written, kind, **save)
    return written.getvalue()


def make_heic(
    size: tuple[int, int] = (64, 48), colour: str | tuple[int, int, int] = "grey", frames: int = 1, **save
) -> bytes:
    """A HEIC picture as a phone writes it, by an encoder that the program itself does not have."""
    written = io.BytesIO()
    heif = pillow_heif.HeifFile()
    for _frame in range(frames):
        heif.add_from_pillow(Image.new("RGB", size, colour))
    heif.save(written, quality=70, **save)
    return written.getvalue()


def make_picture_with_camera_data(kind: str = "JPEG") -> bytes:
    """A picture that says when and where it was taken and lies on its side."""
    exif = Image.Exif()
    exif[0x0112] = 6  # orientation: turn by 90 degrees
    exif.get_ifd(0x8769)[0x9003] = "2026:03:17 14:10:05"
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2], gps[3], gps[4] = "S", (42.0, 52.0, 1.0), "E", (147.0, 19.0, 1.0)
    if kind == "JPEG":
        return make_picture(size=(80, 40), exif=exif)
    written = io.BytesIO()
    heif = pillow_heif.from_pillow(Image.new("RGB", (80, 40), "grey"))
    # A HEIC is turned by its own box, which the encoder writes from this tag.
    heif.save(written, exif=exif.tobytes())
    return written.getvalue()


def make_bomb(width: int, height: int) -> bytes:
    """A PNG of few bytes that declares width by height pixels of one bit."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    row = b"\0" * (1 + (width + 7) // 8)
    packer = zlib.compressobj(9)
    body = b"".join(packer.compress(row) for _ in range(height)) + packer.flush()
    header = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


def make_animation() -> bytes:
    """Two frames of WebP."""
    written = io.BytesIO()
    frames = [Image.new("RGB", (20, 20), colour) for colour in ("red", "blue")]
    frames[0].save(written, "WEBP", save_all=True, append_images=frames[1:], duration=100)
    return written.getvalue()
