"""Names that the book or the folder has given, and the records they lead to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from collection.errors import Refused, fold, nearest

_MOST_SUGGESTIONS = 100  # looking for near names is slow; a folder with more wrong ones has another trouble


class Names:
    """The names of one kind of record; each leads to a row of the book, or below zero to a new one."""

    def __init__(self, missing: str, file: str, rows: Iterable[tuple[str, str, int]]) -> None:
        self.missing = missing
        self.file = file
        self._refs: dict[str, int] = {}
        self._spelt: dict[str, str] = {}
        self._suggested = 0
        for folded, spelt, ref in rows:
            self._refs[folded] = ref
            self._spelt[folded] = spelt

    def find(self, name: str) -> int | None:
        """Return what a name leads to, or None."""
        return self._refs.get(fold(name))

    def add(self, name: str, ref: int) -> None:
        """Let a name lead to a record."""
        folded = fold(name)
        self._refs[folded] = ref
        self._spelt[folded] = name

    def need(self, name: str) -> int:
        """Return what a name leads to. Raises Refused with up to three near names and where to add it."""
        ref = self._refs.get(fold(name))
        if ref is None:
            raise Refused(self.missing, self.advice(name))
        return ref

    def advice(self, name: str) -> str:
        """Return what to do about an unknown name."""
        self._suggested += 1
        near = nearest(name, self._spelt.values()) if self._suggested <= _MOST_SUGGESTIONS else []
        add = f"add it to {self.file}"
        return f"nearest: {', '.join(near)}; correct it or {add}" if near else add

    def items(self) -> Iterator[tuple[str, int]]:
        """Yield folded names with what they lead to."""
        return iter(self._refs.items())
