"""Appended rows against the digests that their acts noted: the journal is walked once, every table beside it."""

import json
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator
from operator import itemgetter

from sqlalchemy.engine import Connection

from collection.schema import APPEND_ONLY, TABLES
from collection.store.chain import canonical, rows_digest
from collection.store.engine import fetch
from collection.store.stream import Row, batches, rows_of
from collection.views.broken import Broken

JOURNAL = frozenset({"act", "change", "seal"})
_AT_ONCE, _LARGE = 5_000, 10  # rows that may hold 20 MB each
Pick = Callable[[Row], Row]
_ID = itemgetter(0)
_ALL: Pick = itemgetter(slice(2, None))


def appended_rows_are_as_written(connection: Connection) -> Iterator[Broken]:
    """Appended rows have the number and the digest that their act noted, and no row stands beside them."""
    sql = "SELECT act_id, table_name, row_id, after, rows, digest FROM change WHERE kind = 'append' ORDER BY id"
    tables = {name: _Appended(connection, name) for name in sorted(APPEND_ONLY - JOURNAL)}
    for act_id, name, first, columns, rows, digest in rows_of(connection, sql):
        if name not in tables:
            yield Broken("appended rows stay as written", "change", None, f"act {act_id} appended to {name}")
            continue
        found, count = tables[name].digest(act_id, first, rows, columns)
        if (found, count) != (digest, rows):
            says = f"act {act_id} appended {rows} rows; {count} are there" + ("" if count != rows else ", altered")
            yield Broken("appended rows stay as written", name, first, says)
    for name, table in tables.items():
        present = fetch(connection, f"SELECT count(*) FROM {name}")[0][0]
        if present != table.described:
            says = f"{present} rows are there, the journal knows {table.described}"
            yield Broken("no row without an act", name, None, says)


class _Appended:
    """A table that is read once in the order of its ids, as far as the runs that are asked for go."""

    def __init__(self, connection: Connection, table: str) -> None:
        self.described = 0
        self._connection = connection
        self._columns = [column.name for column in TABLES[table].c if column.name not in ("id", "act_id")]
        self._select = f"SELECT id, act_id, {', '.join(self._columns)} FROM {table}"
        self._at_once = _LARGE if table == "attachment_content" else _AT_ONCE
        self._picks: dict[str, Pick] = {canonical(self._columns): _ALL}
        self._batches = batches(connection, f"{self._select} ORDER BY id", self._at_once)
        self._rows: list[Row] = []
        self._place = self._read_to = 0

    def digest(self, act_id: int, first: int, rows: int, columns: str) -> tuple[str, int]:
        """The digest of what an act appended from the id ``first`` on, and how many rows of it are there."""
        self.described += rows
        pick, count = self._pick(columns), 0

        def own() -> Iterator[list[Row]]:
            nonlocal count
            for some in self._pieces(first, first + rows):
                mine = [pick(row) for row in some if row[1] == act_id]
                count += len(mine)
                yield mine

        return rows_digest(own()), count

    def _pieces(self, first: int, end: int) -> Iterable[list[Row]]:
        """The rows with ids from first to before end."""
        behind, self._read_to = first <= self._read_to, max(self._read_to, end - 1)
        if behind:
            return self._again(first, end)
        rows, start, stop = self._rows, self._place, self._place + end - first
        if start < stop <= len(rows) and rows[start][0] == first and rows[stop - 1][0] == end - 1:
            self._place = stop  # the usual case: one act after the other, without a gap
            return (rows[start:stop],)
        return self._ahead(first, end)

    def _ahead(self, first: int, end: int) -> Iterator[list[Row]]:
        while True:
            rows = self._rows
            start = bisect_left(rows, first, self._place, key=_ID)
            stop = bisect_left(rows, end, start, key=_ID)
            self._place = stop
            yield rows[start:stop]
            if stop < len(rows):
                return
            self._rows, self._place = next(self._batches, []), 0
            if not self._rows:
                return

    def _again(self, first: int, end: int) -> Iterator[list[Row]]:
        """The same for rows that were passed already, as only a spoilt journal names them."""
        sql = f"{self._select} WHERE id BETWEEN :a AND :b ORDER BY id"
        for start in range(first, end, self._at_once):
            yield fetch(self._connection, sql, a=start, b=min(start + self._at_once, end) - 1)

    def _pick(self, columns: str) -> Pick:
        """What takes out of a row the columns that an act noted; those of a spoilt note come out as they are named."""
        if columns not in self._picks:
            self._picks[columns] = _pick_of(columns, self._columns)
        return self._picks[columns]


def _pick_of(columns: str, known: list[str]) -> Pick:
    places = [known.index(name) + 2 if name in known else None for name in json.loads(columns)]
    return lambda row: tuple(None if place is None else row[place] for place in places)
