"""What a file is by its first bytes, whatever its name says.

The marks are those of the formats' own documents, from memory: PNG (ISO/IEC 15948, signature), JPEG (ITU-T T.81,
start of image), GIF (GIF89a, header), TIFF (revision 6.0, section 2), WebP (RFC 9649, section 2.3), PDF (ISO 32000-1,
7.5.2).
"""

from __future__ import annotations

from collection.errors import Refused

MOST_BYTES = 20_000_000
_MARKS = (
    (b"\x89PNG\r\n\x1a\n", "image/png"),
    (b"\xff\xd8\xff", "image/jpeg"),
    (b"GIF87a", "image/gif"),
    (b"GIF89a", "image/gif"),
    (b"II*\x00", "image/tiff"),
    (b"MM\x00*", "image/tiff"),
    (b"%PDF-", "application/pdf"),
)


def media_type_of(content: bytes, name: str) -> str:
    """Return the media type of a file by its first bytes; name: what it is called in a refusal.

    Raises Refused for an empty file, one above 20 MB, and one that is neither a picture nor a PDF.
    """
    if not content:
        raise Refused(f"{name} is empty.", "Name the file with the picture in it.")
    refuse_size(len(content), name)
    kind = kind_of(content)
    if kind:
        return kind
    raise Refused(
        f"{name} is no picture by what is in it, whatever its name says.",
        "PNG, JPEG, GIF, TIFF, WebP and PDF are kept.",
    )


def kind_of(content: bytes) -> str:
    """Return the media type that the first bytes of a file tell, "" for none that is kept."""
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    return next((media_type for mark, media_type in _MARKS if content.startswith(mark)), "")


def refuse_size(size: int, name: str) -> None:
    """Refuse more than 20 MB: the bytes are kept in the book and go along in each of its backups."""
    if size > MOST_BYTES:
        raise Refused(f"{name} has {size:,} bytes; at most {MOST_BYTES:,} are kept.", "Save it smaller and try again.")
