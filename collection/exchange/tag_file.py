"""Tags as a scanner or a person leaves them: a text with one tag a line."""

from __future__ import annotations

from pathlib import Path
from typing import BinaryIO

from collection.errors import Refused

_MOST_BYTES = 4_000_000


def read_tags(file: Path) -> list[str]:
    """Return the tags of a text file, as `tags_from`. Raises Refused where it cannot be read, too."""
    try:
        with file.open("rb") as stream:
            return tags_from(stream, str(file))
    except OSError as error:
        raise Refused(f"{file} cannot be read: {error.strerror}.", "Name a text with one tag a line.") from None


def tags_from(stream: BinaryIO, source: str) -> list[str]:
    """Return the lines of a text that are not empty, without blanks around them.

    source: what it is called in a refusal. Raises Refused for more than 4,000,000 bytes, and for what is no UTF-8.
    """
    content = stream.read(_MOST_BYTES + 1)
    if len(content) > _MOST_BYTES:
        raise Refused(f"{source} has more than {_MOST_BYTES} bytes, too many for a list of tags.", "Name a text file.")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Refused(f"{source} is no text in UTF-8.", "Save it as text, one tag a line.") from None
    return [line.strip() for line in text.splitlines() if line.strip()]
