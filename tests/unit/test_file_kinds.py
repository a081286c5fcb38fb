"""What a file is by its first bytes, and how big it may be."""

import pytest

from collection.analysis.file_kinds import MOST_BYTES, media_type_of
from collection.errors import Refused

JPEG = b"\xff\xd8\xff\xe0"


@pytest.mark.parametrize(
    ("content", "media_type"),
    [
        (b"\x89PNG\r\n\x1a\nrest", "image/png"),
        (JPEG, "image/jpeg"),
        (b"GIF89a", "image/gif"),
        (b"II*\x00rest", "image/tiff"),
        (b"MM\x00*rest", "image/tiff"),
        (b"RIFF\x01\x02\x03\x04WEBPVP8 ", "image/webp"),
        (b"%PDF-1.4", "application/pdf"),
    ],
)
def test_a_file_is_told_by_what_is_in_it(content: bytes, media_type: str) -> None:
    """Its name plays no part: this one claims to be a text. The marks are those of the formats, from memory."""
    assert media_type == media_type_of(content, "notes.txt")


@pytest.mark.parametrize(
    "content", [b"", b"<html>", b"\x89PNG", b"RIFF\x01\x02\x03\x04WAVE", b" %PDF-1.4", b"\xff\xd8"]
)
def test_what_is_no_picture_is_refused_by_its_name(content: bytes) -> None:
    """Nothing, another kind, and a mark cut short, although the name ends as that of a picture."""
    with pytest.raises(Refused, match=r"front\.jpg is"):
        media_type_of(content, "front.jpg")


@pytest.mark.parametrize(("size", "kept"), [(MOST_BYTES - 1, True), (MOST_BYTES, True), (MOST_BYTES + 1, False)])
def test_twenty_megabytes_are_kept_and_a_byte_more_is_not(size: int, kept: bool) -> None:
    """The refusal names both sizes."""
    content = JPEG.ljust(size, b"\0")
    if kept:
        assert "image/jpeg" == media_type_of(content, "a.jpg")
        return
    with pytest.raises(Refused, match="20,000,001 bytes; at most 20,000,000"):
        media_type_of(content, "a.jpg")
