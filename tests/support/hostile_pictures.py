"""Pictures that declare more than they hold, swell when unpacked, break off, or are something else besides.

Marks, chunks and tags: PNG (ISO/IEC 15948, 5.3, 11.3), GIF89a (18, 20), JPEG (ITU-T T.81, B.2.2), TIFF 6.0 (sections 2
and 8), WebP (RFC 9649, 2.6); all from memory.
"""

from __future__ import annotations

import struct
import zlib

_PIXELS = "at most 50,000,000 are shown"
_DAMAGED = "breaks off or is damaged"
_SCRIPT = b"<script>alert(1)</script>"
_MEGABYTES = 64


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def declared_png(width: int, height: int, *, before: bytes = b"", rows: bytes = b"\0") -> bytes:
    """Return a PNG that declares a size in black and white; before: chunks ahead of its rows, of which it has few."""
    head = _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + before + _chunk(b"IDAT", zlib.compress(rows, 1)) + _chunk(b"IEND", b"")


def _gif(width: int, height: int) -> bytes:
    screen = struct.pack("<HHBBB", width, height, 0x80, 0, 0) + bytes(6)
    return b"GIF89a" + screen + b"," + struct.pack("<HHHHB", 0, 0, width, height, 0) + b"\x02\x02\x4c\x01\x00;"


def _jpeg(width: int, height: int) -> bytes:
    frame = struct.pack(">BHHB", 8, height, width, 1) + b"\x01\x11\x00"
    return b"\xff\xd8\xff\xc0" + struct.pack(">H", len(frame) + 2) + frame + b"\xff\xd9"


def _tiff(width: int, height: int, *, values: int = 1) -> bytes:
    """Return a TIFF of grey bytes with no strip; values: how many its strips are said to be."""
    tags = (
        (256, 4, 1, width),
        (257, 4, 1, height),
        (258, 3, 1, 8),
        (259, 3, 1, 1),
        (262, 3, 1, 1),
        (273, 4, values, 8),
    )
    entries = b"".join(struct.pack("<HHII", *tag) for tag in (*tags, (278, 4, 1, height), (279, 4, values, 8)))
    return b"II*\0" + struct.pack("<IH", 8, 8) + entries + struct.pack("<I", 0)


def _webp(width: int, height: int) -> bytes:
    bits = (width - 1) | (height - 1) << 14
    data = b"\x2f" + struct.pack("<I", bits)
    body = b"WEBPVP8L" + struct.pack("<I", len(data)) + data + b"\0"
    return b"RIFF" + struct.pack("<I", len(body)) + body


# Each with the words in which it is refused, "" where it is shown.
HOSTILE_PICTURES: dict[str, tuple[bytes, str]] = {
    "vast.png": (declared_png(60_000, 60_000), _PIXELS),
    "vast.gif": (_gif(60_000, 60_000), _PIXELS),
    "vast.jpg": (_jpeg(60_000, 60_000), _PIXELS),
    "vast.tif": (_tiff(60_000, 60_000), _PIXELS),
    "vast.webp": (_webp(16_000, 16_000), _PIXELS),
    "swells.png": (declared_png(8, 8, rows=bytes(_MEGABYTES << 20)), ""),
    "swollen text.png": (
        declared_png(
            8, 8, rows=bytes(16), before=_chunk(b"zTXt", b"a\0\0" + zlib.compress(bytes(_MEGABYTES << 20), 1))
        ),
        _DAMAGED,
    ),
    "strips without end.tif": (_tiff(64, 64, values=0xFFFFFFF), _DAMAGED),
    "no end.png": (declared_png(64, 64)[:60], _DAMAGED),
    "no picture.png": (b"\x89PNG\r\n\x1a\n" + _SCRIPT, _DAMAGED),
    "page.gif": (_gif(1, 1) + _SCRIPT, ""),
    "page.jpg": (b"\xff\xd8\xff\xe0" + _SCRIPT, _DAMAGED),
    "acting.pdf": (b"%PDF-1.7\n1 0 obj<</OpenAction<</S/JavaScript/JS(app.alert(1))>>>>endobj", "is a PDF"),
}
