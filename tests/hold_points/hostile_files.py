"""Files that are no photographs, or harm whoever reads them: made here, from the formats' own rules."""

from __future__ import annotations

import io
import struct
import zlib

from PIL import Image

from tests.hold_points.pictures import make_animation, make_bomb, make_heic, make_picture

SCRIPT = b"<script>alert(1)</script>"


def png_chunk(name: bytes, body: bytes, wrong: bool = False) -> bytes:
    """A chunk of PNG; `wrong` spoils its checksum."""
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body) ^ wrong)


def make_png(
    width: int, height: int, data: bytes, *, bits: int = 8, colour: int = 2, more: bytes = b""
) -> bytes:
    """A PNG of these fields, whether they make sense or not."""
    header = struct.pack(">IIBBBBB", width, height, bits, colour, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + png_chunk(b"IHDR", header)
        + more
        + png_chunk(b"IDAT", data)
        + png_chunk(b"IEND", b"")
    )


def make_jpeg_of_size(width: int, height: int) -> bytes:
    """A JPEG whose header claims another size than its data has."""
    raw = bytearray(make_picture())
    place = raw.index(b"\xff\xc0")
    raw[place + 5 : place + 9] = struct.pack(">HH", height, width)
    return bytes(raw)


def make_webp_of_size(width: int, height: int) -> bytes:
    """A lossless WebP header with a size of its own and no pixels."""
    bits = (width - 1) | (height - 1) << 14
    body = b"\x2f" + struct.pack("<I", bits)
    chunk = b"VP8L" + struct.pack("<I", len(body)) + body + b"\0"
    return b"RIFF" + struct.pack("<I", 4 + len(chunk)) + b"WEBP" + chunk


def make_apng() -> bytes:
    """Two frames in a PNG."""
    written = io.BytesIO()
    frames = [Image.new("RGB", (20, 20), colour) for colour in ("red", "blue")]
    frames[0].save(written, "PNG", save_all=True, append_images=frames[1:], duration=100)
    return written.getvalue()


def make_heic_of_size(width: int, height: int) -> bytes:
    """A HEIC whose property box (ispe, ISO/IEC 23008-12) claims another size than its data has."""
    raw = bytearray(make_heic())
    place = raw.index(b"ispe")
    raw[place + 8 : place + 16] = struct.pack(">II", width, height)
    return bytes(raw)


def _deflated_zeros(length: int) -> bytes:
    packer = zlib.compressobj(9)
    block = b"\0" * 1_000_000
    parts = [packer.compress(block) for _ in range(length // len(block))]
    return b"".join([*parts, packer.flush()])


def make_hostile_files() -> dict[str, bytes]:
    """Name to bytes of each; some are large, so they are made when asked for."""
    zeros, small = b"a\0\0" + _deflated_zeros(200_000_000), zlib.compress(b"\0" * 310)
    jpeg, png, webp = (make_picture(kind, size=(400, 300)) for kind in ("JPEG", "PNG", "WEBP"))
    bombs = {
        f"bomb of {width} by {height}": make_bomb(width, height)
        for width, height in ((9000, 9000), (13000, 13000), (20000, 20000), (50_000_001, 1))
    }
    return {
        **bombs,
        "bomb one pixel wide": make_png(1, 50_000_001, _deflated_zeros(100_000_002), bits=1, colour=0),
        "nothing": b"",
        "one zero byte": b"\0",
        "zero bytes": b"\0" * 4096,
        "20 megabytes": jpeg + b"\0" * (20 * 1024 * 1024),
        "20 megabytes of zeros": b"\0" * (20 * 1024 * 1024),
        "svg": b'<svg xmlns="http://www.w3.org/2000/svg">' + SCRIPT + b"</svg>",
        "svg with entities": b'<!DOCTYPE svg [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><svg>&b;</svg>',
        "html": b"<!doctype html>" + SCRIPT,
        "html behind a byte order mark": b"\xef\xbb\xbf<html>" + SCRIPT,
        "script that begins like a gif": b"GIF89a/*" + SCRIPT + b"*/=1;",
        "script that begins like a bmp": b"BM/*" + SCRIPT + b"*/",
        "a gif": make_picture("GIF"),
        "a bmp": make_picture("BMP"),
        "a tiff": make_picture("TIFF"),
        "an icon": make_picture("ICO"),
        "a jpeg 2000": b"\0\0\0\x0cjP  \r\n\x87\n" + b"\0" * 80,
        "a postscript": b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n(x) run\n",
        "a pdf": b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj<</JS(app.alert(1))>>",
        "a zip": b"PK\x03\x04" + b"\0" * 100,
        "a program": b"\x7fELF" + b"\0" * 200,
        "a windows program": b"MZ" + b"\0" * 200,
        "a shell script": b"#!/bin/sh\nrm -rf /\n",
        "php": b"<?php system($_GET['c']); ?>",
        "a heic": b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 100,
        "heic cut in the middle": make_heic()[:-40],
        "heic without data": make_heic()[: make_heic().index(b"mdat")],
        "heic that claims 9000 by 9000": make_heic_of_size(9000, 9000),
        "heic that claims 4294967295 by 4294967295": make_heic_of_size(2**32 - 1, 2**32 - 1),
        "heic that claims no width": make_heic_of_size(0, 48),
        "heic series": make_heic(frames=2),
        "heic mark before script": b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + SCRIPT * 20,
        "an avif": b"\0\0\0\x18ftypavif\0\0\0\0mif1avif" + b"\0" * 100,
        "a film": b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom" + b"\0" * 100,
        "jpeg mark alone": b"\xff\xd8\xff",
        "jpeg mark before html": b"\xff\xd8\xff\xe0<html>" + SCRIPT * 20,
        "jpeg without data": jpeg[: jpeg.index(b"\xff\xda")],
        "jpeg cut in the middle": jpeg[: len(jpeg) // 2],
        "jpeg that claims 65500 by 65500": make_jpeg_of_size(65500, 65500),
        "jpeg that claims no width": make_jpeg_of_size(0, 48),
        "png mark alone": b"\x89PNG\r\n\x1a\n",
        "png mark before script": b"\x89PNG\r\n\x1a\n" + SCRIPT,
        "png cut": png[:-40],
        "png with a wrong checksum": png[:40] + b"\0\0\0\0" + png[44:],
        "png without pixels": make_png(100, 100, b""),
        "png of no width": make_png(0, 100, zlib.compress(b"\0" * 100)),
        "png of a colour type that is not": make_png(10, 10, zlib.compress(b"\0" * 400), colour=5),
        "png of 3 bits": make_png(10, 10, zlib.compress(b"\0" * 400), bits=3),
        "png with a text that unpacks to 200 MB": make_png(10, 10, small, more=png_chunk(b"zTXt", zeros)),
        "png with a profile that unpacks to 200 MB": make_png(10, 10, small, more=png_chunk(b"iCCP", zeros)),
        "png animation": make_apng(),
        "webp animation": make_animation(),
        "webp mark before script": b"RIFF\x20\0\0\0WEBP" + SCRIPT,
        "webp cut": webp[:40],
        "webp that claims 16384 by 16384": make_webp_of_size(16384, 16384),
        "sound in riff": b"RIFF\x24\0\0\0WAVEfmt " + b"\0" * 40,
    }
