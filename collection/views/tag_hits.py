"""The tags and names that begin with some letters, read so fast that a shell can offer them while a person types.

SQLAlchemy would take ten times as long to load as this takes in all, so it speaks to SQLite directly. A book on a
server gets no offers.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Literal

from collection.errors import fold

Named = Literal["supply", "procedure", "measurement", "instrument"]

_MOST = 50
_TAGS = """
SELECT tag FROM unit WHERE void = 0 AND substr(tag_folded, 1, :length) = :start ORDER BY tag_folded LIMIT :most
"""
_NAMES: dict[Named, str] = {
    "supply": """
SELECT name FROM supply WHERE void = 0 AND substr(name_folded, 1, :length) = :start ORDER BY name_folded LIMIT :most
""",
    "procedure": """
SELECT name FROM procedure WHERE void = 0 AND substr(name_folded, 1, :length) = :start ORDER BY name_folded LIMIT :most
""",
    "measurement": """
SELECT name FROM measurement WHERE void = 0 AND substr(name_folded, 1, :length) = :start
ORDER BY name_folded LIMIT :most
""",
    "instrument": """
SELECT name FROM instrument WHERE void = 0 AND retired_on IS NULL AND substr(name_folded, 1, :length) = :start
ORDER BY name_folded LIMIT :most
""",
}


def tags_beginning(file: Path, start: str) -> list[str]:
    """Return at most 50 tags that begin with `start` whatever the case; none where there is no book to read."""
    return _beginning(file, _TAGS, start)


def names_beginning(file: Path, what: Named, start: str) -> list[str]:
    """Return at most 50 names of supplies, procedures, measurements or instruments in use, as `tags_beginning`."""
    return _beginning(file, _NAMES[what], start)


def _beginning(file: Path, sql: str, start: str) -> list[str]:
    if not file.is_file():
        return []
    begun = fold(start)
    try:
        book = sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True, timeout=0.2)
        try:
            rows = book.execute(sql, {"start": begun, "length": len(begun), "most": _MOST})
            return [row[0] for row in rows]
        finally:
            book.close()
    except sqlite3.Error:
        return []
