"""How a file's rows are read: one statement, and what turns its raw values into the text of cells."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import text
from sqlalchemy.engine import Connection

from collection.quantity import Money, from_steps, show_number

Row = list[Any]
Finish = Callable[[Row], Row]

_CHUNK = 5_000


@dataclass(frozen=True, slots=True)
class Select:
    """The statement of one file: columns id, key, the file's cells in order, then what `finish` needs besides.

    The statement ends in a WHERE, to which " AND ..." and ORDER BY id (of alias `t`) are added. unit: the column
    that holds the unit a row is about, for reading the rows of some units only. show: by position, how a value that
    is no text becomes one. finish: made anew for each reading, handed every row.
    """

    sql: str
    unit: str | None = None
    show: tuple[tuple[int, Callable[[Any], str]], ...] = ()
    finish: Callable[[Connection, date], Finish] | None = None
    order: str = "t.id"
    group: str = ""


def rows_of(conn: Connection, select: Select, day: date, unit_ids: Sequence[int] | None = None) -> Iterator[Row]:
    """Yield [id, key, cell, cell, ...] of a file's rows, of all units or of some, in the order they came."""
    only = ""
    if unit_ids is not None and select.unit is not None:
        only = f" AND {select.unit} IN ({', '.join(map(str, unit_ids)) or 'NULL'})"
    sql = f"{select.sql}{only}{select.group} ORDER BY {select.order}"
    finish = select.finish(conn, day) if select.finish else None
    result = conn.execute(text(sql))
    while chunk := result.cursor.fetchmany(_CHUNK):
        for raw in chunk:
            row = ["" if value is None else value for value in raw]
            for place, show in select.show:
                if row[place] != "":
                    row[place] = show(row[place])
            yield finish(row) if finish else row
    result.close()


def show_real(value: float) -> str:
    """A stored measure as plain digits that read back as the same number."""
    return show_number(Decimal(repr(value)))


def show_yes(value: int) -> str:
    """A stored boolean."""
    return "yes" if value else "no"


def money(amount: int, currency: int) -> Callable[[Connection, date], Finish]:
    """Turn minor units at one place into a sum in the currency at another, the book's own where none is kept."""

    def make(conn: Connection, _day: date) -> Finish:
        own = conn.execute(text("SELECT currency FROM book")).scalar_one()

        def finish(row: Row) -> Row:
            if row[amount] != "":
                row[currency] = row[currency] or own
                row[amount] = Money(row[amount], row[currency]).text
            return row

        return finish

    return make


def quantity(place: int) -> Callable[[Connection, date], Finish]:
    """Turn steps at one place into a number in the supply's unit; the smallest step stands last and is dropped."""

    def finish(row: Row) -> Row:
        if row[place] != "":
            row[place] = show_number(from_steps(row[place], Decimal(row[-1])))
        del row[-1]
        return row

    return lambda _conn, _day: finish


def both(
    first: Callable[[Connection, date], Finish], second: Callable[[Connection, date], Finish]
) -> Callable[[Connection, date], Finish]:
    """Do one thing to a row, then another."""

    def make(conn: Connection, day: date) -> Finish:
        one, other = first(conn, day), second(conn, day)
        return lambda row: other(one(row))

    return make


def unlike(names: dict[int, str]) -> dict[int, str]:
    """Return other names for those that several records bear: in a folder a name ties rows to one record only."""
    taken: set[str] = set()
    counts: dict[str, int] = {}  # up to which number a name is taken: thousands of services may bear one day's name
    others: dict[int, str] = {}
    for record, name in names.items():
        shown, count = name, counts.get(name, 1)
        while shown in taken:
            count += 1
            shown = f"{name} ({count})"
        counts[name] = count
        taken.add(shown)
        if shown != name:
            others[record] = shown
    return others


def rename(place: int, record: int, sql: str) -> Callable[[Connection, date], Finish]:
    """Show the name at `place` so that it belongs to one record alone; the record's id stands at `record`.

    sql lists id and name of all such records. The id is left for a later step to drop.
    """

    def make(conn: Connection, _day: date) -> Finish:
        others = unlike({record: name for record, name in conn.execute(text(sql))})  # noqa: C416  rows, not pairs

        def finish(row: Row) -> Row:
            row[place] = others.get(row[record], row[place])
            return row

        return finish if others else lambda row: row

    return make


def drop_last(count: int) -> Callable[[Connection, date], Finish]:
    """Drop what was read for the other steps only."""

    def finish(row: Row) -> Row:
        del row[-count:]
        return row

    return lambda _conn, _day: finish
