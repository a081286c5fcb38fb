"""Computed results that are slow, kept in a local file that may be deleted at any time; never part of the book.

A result is valid while every counter it rests on stands where it stood, and only for the program version that made it.
Each act that raises a counter gives it a new key as well, so a restored book whose counters happen to reach the same
numbers again is told apart.
"""

import json
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from sqlalchemy.engine import Connection

from collection import __version__
from collection.store.engine import fetch


class Cache:
    """The results kept for one book in ``folder``; None keeps nothing.

    A file has its key in the first line and a digest of the rest in the second: what a failing disk or a hand changed
    is computed anew.
    """

    def __init__(self, folder: Path | None, book: str) -> None:
        self._folder = folder / book if folder else None

    def load(self, name: str, key: str) -> Any:
        """The result saved under ``name`` if it was made for just this ``key``; else None."""
        kept = self._read(f"{name}.json", key)
        return None if kept is None else json.loads(kept)

    def save(self, name: str, key: str, result: Any) -> None:
        """Keep a result of plain JSON values; a place that cannot be written keeps none."""
        self._write(f"{name}.json", key, json.dumps(result))

    def load_text(self, name: str, key: str) -> str | None:
        """The text saved under ``name`` if it was made for just this ``key``; else None."""
        kept = self._read(f"{name}.txt", key)
        return None if kept is None else kept.decode("utf-8")

    def save_text(self, name: str, key: str, text: str) -> None:
        """Keep a long text as it is printed; a key has one line."""
        self._write(f"{name}.txt", key, text)

    def _read(self, name: str, key: str) -> bytes | None:
        if self._folder is None:
            return None
        try:
            kept_key, _, rest = (self._folder / name).read_bytes().partition(b"\n")
        except OSError:
            return None
        digest, _, content = rest.partition(b"\n")
        return content if (kept_key, digest) == (key.encode("utf-8"), _digest(content)) else None

    def _write(self, name: str, key: str, text: str) -> None:
        if self._folder is None:
            return
        from collection.store.place import beside  # what is kept is mostly read

        file, content = self._folder / name, text.encode("utf-8")
        with suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            with beside(file) as temporary:
                temporary.write_bytes(b"\n".join((key.encode("utf-8"), _digest(content), content)))
                temporary.replace(file)


def _digest(content: bytes) -> bytes:
    from hashlib import sha256

    return sha256(content).hexdigest().encode("ascii")


def state_key(connection: Connection, subjects: Sequence[str], *more: object) -> str:
    """What a result rests on: the counters of whole subjects, anything else it depends on, the program version."""
    sql = "SELECT subject, key FROM counter WHERE row_id = 0 ORDER BY subject"
    counters = [f"{subject}:{key}" for subject, key in fetch(connection, sql) if subject in subjects]
    return "|".join([__version__, *counters, *map(str, more)])
