"""Reading more rows than memory need hold."""

from collections.abc import Iterator
from itertools import chain, count, groupby
from operator import itemgetter
from typing import Any

from sqlalchemy.engine import Connection

from collection.store.engine import fetch

Row = tuple[Any, ...]
_AT_ONCE = 5_000
_CURSORS = count(1)


def batches(connection: Connection, sql: str, at_once: int = _AT_ONCE) -> Iterator[list[Row]]:
    """Raw rows of a SELECT without parameters, so many at a time.

    PostgreSQL would send a result as a whole; a cursor of its own keeps it there ("DECLARE", PostgreSQL manual).
    """
    if connection.dialect.name == "sqlite":
        result = connection.exec_driver_sql(sql)
        while rows := list(result.cursor.fetchmany(at_once)):
            yield rows
        result.close()
        return
    name = f"rows_{next(_CURSORS)}"
    connection.exec_driver_sql(f"DECLARE {name} NO SCROLL CURSOR FOR {sql}")
    while rows := fetch(connection, f"FETCH {int(at_once)} FROM {name}"):
        yield rows
    connection.exec_driver_sql(f"CLOSE {name}")


def rows_of(connection: Connection, sql: str) -> Iterator[Row]:
    """The same rows one by one."""
    return chain.from_iterable(batches(connection, sql))


class Beside:
    """Rows that are walked beside others, both in the order of the whole number that stands first in them."""

    def __init__(self, rows: Iterator[Row]) -> None:
        self._groups = groupby(rows, key=itemgetter(0))
        self._next = next(self._groups, None)

    def of(self, number: int) -> list[Row]:
        """The rows of this number, which is greater than at the call before; those in between are passed over."""
        while self._next is not None and self._next[0] < number:
            self._next = next(self._groups, None)
        if self._next is None or self._next[0] != number:
            return []
        found = list(self._next[1])
        self._next = next(self._groups, None)
        return found
