"""Tags as a scanner or a person leaves them: a text with one tag a line."""

from __future__ import annotations

from pathlib import Path

from collection.errors import Refused

_MOST_BYTES = 4_000_000


def read_tags(file: Path) -> list[str]:
    """Return the lines of a text file that are not empty. Raises Refused where it cannot be read or is no text."""
    try:
        if file.stat().st_size > _MOST_BYTES:
            raise Refused(f"{file} has {file.stat().st_size} bytes, too many for a list of tags.", "Name a text file.")
        return tags_in(file.read_bytes(), str(file))
    except OSError as error:
        raise Refused(f"{file} cannot be read: {error.strerror}.", "Name a text with one tag a line.") from None


def tags_in(content: bytes, source: str) -> list[str]:
    """Return the lines of a text that are not empty, without blanks around them. Raises Refused for no UTF-8."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Refused(f"{source} is no text in UTF-8.", "Save it as text, one tag a line.") from None
    return [line.strip() for line in text.splitlines() if line.strip()]
