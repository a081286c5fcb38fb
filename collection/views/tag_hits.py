"""The tags that begin with some letters, read so fast that a shell can offer them while a person types.

SQLAlchemy would take ten times as long to load as this takes in all, so it speaks to SQLite directly. A book on a
server gets no offers.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

from collection.errors import fold

_MOST = 50
_SQL = """
SELECT tag FROM unit WHERE void = 0 AND substr(tag_folded, 1, :length) = :start ORDER BY tag_folded LIMIT :most
"""


def tags_beginning(file: Path, start: str) -> list[str]:
    """Return at most 50 tags that begin with `start` whatever the case; none where there is no book to read."""
    if not file.is_file():
        return []
    begun = fold(start)
    try:
        book = sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True, timeout=0.2)
        try:
            rows = book.execute(_SQL, {"start": begun, "length": len(begun), "most": _MOST})
            return [row[0] for row in rows]
        finally:
            book.close()
    except sqlite3.Error:
        return []
