"""Appended rows against the digests that their acts noted: the journal is walked once, every table beside it."""

import json
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from operator import itemgetter

from sqlalchemy.engine import Connection

from collection.schema import APPEND_ONLY, TABLES
from collection.store.chain import canonical, row_texts, texts_digest
from collection.store.engine import fetch
from collection.store.stream import Row, batches
from collection.views.broken import Broken

_JOURNAL = frozenset({"act", "change", "seal"})
_AT_ONCE, _LARGE = 5_000, 1  # a row that may hold 20 MB
Piece = tuple[list[Row], list[str]]
_ID = itemgetter(0)
_AS_WRITTEN = "appended rows stay as written"


class Appended:
    """Appended rows have the number and the digest that their act noted, and no row stands beside them."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._tables = {name: _Table(connection, name) for name in sorted(APPEND_ONLY - _JOURNAL)}

    def see(self, changes: Sequence[Row]) -> Iterator[Broken]:
        """Compare what an act appended; its changes begin with the act, kind, table and first row."""
        for act_id, kind, name, first, _, _, columns, rows, digest in changes:
            if kind != "append":
                continue
            if name not in self._tables:
                yield Broken(_AS_WRITTEN, "change", None, f"act {act_id} appended to {name}")
                continue
            found, count = self._tables[name].digest(act_id, first, rows, columns)
            if (found, count) != (digest, rows):
                says = f"act {act_id} appended {rows} rows; {count} are there" + ("" if count != rows else ", altered")
                yield Broken(_AS_WRITTEN, name, first, says)

    def end(self) -> Iterator[Broken]:
        """Compare how many rows there are with how many were appended."""
        for name, table in self._tables.items():
            present = fetch(self._connection, f"SELECT count(*) FROM {name}")[0][0]
            if present != table.described:
                says = f"{present} rows are there, the journal knows {table.described}"
                yield Broken("no row without an act", name, None, says)


class _Table:
    """A table that is read once in the order of its ids, as far as the runs that are asked for go."""

    def __init__(self, connection: Connection, table: str) -> None:
        self.described = 0
        self._connection = connection
        self._columns = [column.name for column in TABLES[table].c if column.name not in ("id", "act_id")]
        self._all = canonical(self._columns)
        self._select = f"SELECT id, act_id, {', '.join(self._columns)} FROM {table}"
        self._at_once = _LARGE if table == "attachment_content" else _AT_ONCE
        self._batches = batches(connection, f"{self._select} ORDER BY id", self._at_once)
        self._rows: list[Row] = []
        self._texts: list[str] = []
        self._place = self._read_to = 0

    def digest(self, act_id: int, first: int, rows: int, columns: str) -> tuple[str, int]:
        """The digest of what an act appended from the id ``first`` on, and how many rows of it are there."""
        self.described += rows
        count = 0

        def own() -> Iterator[list[str]]:
            nonlocal count
            for some, texts in self._pieces(first, first + rows):
                noted = texts if columns == self._all else row_texts(_picked(some, columns, self._columns))
                mine = [text for row, text in zip(some, noted, strict=True) if row[1] == act_id]
                count += len(mine)
                yield mine

        return texts_digest(own()), count

    def _pieces(self, first: int, end: int) -> Iterable[Piece]:
        """The rows with ids from first to before end, with their texts."""
        behind, self._read_to = first <= self._read_to, max(self._read_to, end - 1)
        if behind:
            return self._again(first, end)
        rows, start, stop = self._rows, self._place, self._place + end - first
        if start < stop <= len(rows) and rows[start][0] == first and rows[stop - 1][0] == end - 1:
            self._place = stop  # the usual case: one act after the other, without a gap
            return ((rows[start:stop], self._texts[start:stop]),)
        return self._ahead(first, end)

    def _ahead(self, first: int, end: int) -> Iterator[Piece]:
        while True:
            rows = self._rows
            start = bisect_left(rows, first, self._place, key=_ID)
            stop = bisect_left(rows, end, start, key=_ID)
            self._place = stop
            yield rows[start:stop], self._texts[start:stop]
            if stop < len(rows):
                return
            self._rows, self._place = next(self._batches, []), 0
            self._texts = row_texts(row[2:] for row in self._rows)
            if not self._rows:
                return

    def _again(self, first: int, end: int) -> Iterator[Piece]:
        """The same for rows that were passed already, as only a spoilt journal names them."""
        sql = f"{self._select} WHERE id BETWEEN :a AND :b ORDER BY id"
        for start in range(first, end, self._at_once):
            rows = fetch(self._connection, sql, a=start, b=min(start + self._at_once, end) - 1)
            yield rows, row_texts(row[2:] for row in rows)


def _picked(rows: list[Row], columns: str, known: list[str]) -> Iterator[Row]:
    """The columns of rows that an act noted, fewer than there are now; one that is not known is empty."""
    places = [known.index(name) + 2 if name in known else None for name in json.loads(columns)]
    return (tuple(None if place is None else row[place] for place in places) for row in rows)
