"""Every list as a pandas DataFrame, in one call, for whoever wants to go on with it in Python.

    from datetime import date
    from collection.exchange.frames import drift_frame, list_frame, list_names

    units = list_frame("book.sqlite3", "units", today=date.today())
    fleet = drift_frame("book.sqlite3", today=date.today(), of="spindle speed", by=date(2027, 3, 1))
    fleet.sort_values("slope_per_year")[["tag", "level", "by_low", "by_high", "chance_outside"]]

Columns are those of the CSV folder and the keys of --json. docs/frames.md walks through it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import fields
from datetime import date
from typing import TYPE_CHECKING, Any

from sqlalchemy.engine import Connection

from collection.exchange import frames_read
from collection.exchange.frames_read import list_columns, list_names, list_rows
from collection.quantity import Money
from collection.store.book import open_book
from collection.store.engine import opened, reading
from collection.views.drift_keys import KEYS, row_object
from collection.views.drift_rows import InstrumentDrift

if TYPE_CHECKING:
    from pandas import DataFrame

__all__ = ("drift_frame", "instrument_frame", "list_frame", "list_names")
_TYPES = {
    frames_read.TEXT: "string",
    frames_read.DAY: "datetime64[s]",
    frames_read.INSTANT: "datetime64[us, UTC]",
    frames_read.NUMBER: "float64",
    frames_read.WHOLE: "Int64",
    frames_read.YES_NO: "boolean",
    frames_read.LIST: "object",
}
_DAYS = ("by_date", "recheck_by")
_WHOLE = ("readings", "stray", "segments")
_NUMBERS = (
    "level", "level_low", "level_high", "slope_per_year", "slope_low", "slope_high", "by_low", "by_high",
    "chance_outside", "chance_12_months", "nominal", "lower", "upper",
)  # fmt: skip
_OFFSETS = ("offset", "offset_low", "offset_high", "repeatability")
_FIRST = ("instrument", "measurement", *_OFFSETS, "linked")
_OFFSET_KEYS = (*_FIRST, *(each.name for each in fields(InstrumentDrift) if each.name not in (*_FIRST, "set_off")))


def list_frame(book: str, name: str, *, today: date) -> DataFrame:
    """Return a list of the book as a frame, in the order in which the program lists it.

    book: its file or database URL. name: one of `list_names()`. today: the day as of which it is told.
    Days are datetime64[s]. One of which only the month or the year is known is its first day; what is known of it
    stands in `frame.attrs["partial_days"]`, by column and row. Numbers are float64, in the unit that `in` or
    `measured_in` names, sums of money in whole units of `currency`; whole numbers Int64, yes and no boolean, texts
    string. What is not known is missing. Raises NoBook, and Refused for an unknown list.
    """
    from pandas import DataFrame, Series

    columns = list_columns(name)
    with _viewed(book) as conn:
        rows = list(list_rows(conn, name, today))
    partial: dict[str, dict[int, str]] = {}
    made: dict[str, Series[Any]] = {}
    for column, kind in columns.items():
        values = [row.get(column) for row in rows]
        if kind == frames_read.DAY:
            known = {at: str(day) for at, day in enumerate(values) if day and len(str(day)) < _FULL_DAY}
            partial |= {column: known} if known else {}
        made[column] = Series(list(map(_VALUES[kind], values)), dtype=_TYPES[kind])
    frame = DataFrame(made, columns=list(columns))
    frame.attrs["partial_days"] = partial
    return frame


def _day(value: Any) -> str | None:
    """Return a day as ISO text, the first of a month or a year."""
    return f"{value}{_FIRST_OF[len(str(value)) - _YEAR :]}" if value else None


def _number(value: Any) -> float | None:
    """Return an exact number, money or the text of either as a float."""
    if value is None or value == "":
        return None
    return float(value.text if isinstance(value, Money) else value)


def _whole(value: Any) -> int | None:
    return None if value is None or value == "" else int(value)


def _yes_no(value: Any) -> bool | None:
    return value == "yes" if isinstance(value, str) and value else value if isinstance(value, bool) else None


_YEAR, _FULL_DAY, _FIRST_OF = len("2026"), len("2026-03-01"), "-01-01"
_VALUES: dict[str, Callable[[Any], Any]] = {
    frames_read.TEXT: lambda value: value or None,
    frames_read.DAY: _day,
    frames_read.INSTANT: lambda value: value or None,
    frames_read.NUMBER: _number,
    frames_read.WHOLE: _whole,
    frames_read.YES_NO: _yes_no,
    frames_read.LIST: lambda value: list(value or ()),
}


def drift_frame(
    book: str, *, today: date, of: str | None = None, by: date | None = None, risk: float | None = None
) -> DataFrame:
    """Return every series of the fleet, the worst first, as one row each.

    book: its file or database URL. today: the day on which `level` is told. of: one measurement alone. by: the day of
    by_low, by_high and chance_outside, twelve months from today unless given. risk: the accepted one, the book's
    unless given. Days are datetime64[s], numbers float64. Raises NoBook, and Refused for an unknown or graded
    measurement.
    """
    from collection.views.drift import fleet_drift

    with _viewed(book) as conn:
        accepted = open_book(conn).settings.risk if risk is None else risk
        rows = [row_object(row) for row in fleet_drift(conn, today, by, of, accepted)]
    frame = _frame(rows, KEYS, _NUMBERS)
    whole = dict.fromkeys(_WHOLE, "int64")
    return frame.astype({**dict.fromkeys(_DAYS, "datetime64[s]"), **whole, "corrected": "bool"})


def instrument_frame(book: str, *, today: date) -> DataFrame:
    """Return how far each instrument reads off, one row a measurement and period between its own repairs.

    book, today: as in `drift_frame`. Offsets and repeatability are float64, in per cent where in_percent. Raises
    NoBook.
    """
    from collection.views.drift_offsets import instrument_drift

    with _viewed(book) as conn:
        rows = [{key: getattr(row, key) for key in _OFFSET_KEYS} for row in instrument_drift(conn, today)]
    whole = dict.fromkeys(("direct_pairs", "indirect", "readings"), "int64")
    return _frame(rows, _OFFSET_KEYS, _OFFSETS).astype(whole)


def _frame(rows: Sequence[dict[str, Any]], columns: Sequence[str], numbers: Sequence[str]) -> DataFrame:
    from pandas import DataFrame

    return DataFrame(rows, columns=list(columns)).astype(dict.fromkeys(numbers, "float64"))


@contextmanager
def _viewed(book: str) -> Iterator[Connection]:
    with opened(book) as engine, reading(engine) as connection:
        yield connection
