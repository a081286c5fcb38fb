"""Drift as a pandas DataFrame, in one call, for whoever wants to go on with it in Python.

    from datetime import date
    from collection.exchange.frames import drift_frame, instrument_frame

    fleet = drift_frame("book.sqlite3", today=date.today(), of="spindle speed", by=date(2027, 3, 1))
    fleet.sort_values("slope_per_year")[["tag", "level", "by_low", "by_high", "chance_outside"]]

Columns are the keys of `drift --json` and of `instrument list --json`. What is not known is NaN, NaT or None.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import fields
from datetime import date
from typing import TYPE_CHECKING, Any

from sqlalchemy.engine import Connection

from collection.store.book import open_book
from collection.store.engine import open_engine, reading
from collection.views.drift_keys import KEYS, row_object
from collection.views.drift_rows import InstrumentDrift

if TYPE_CHECKING:
    from pandas import DataFrame

_DAYS = ("by_date", "recheck_by")
_WHOLE = ("readings", "stray", "segments")
_NUMBERS = (
    "level", "level_low", "level_high", "slope_per_year", "slope_low", "slope_high", "by_low", "by_high",
    "chance_outside", "chance_12_months", "nominal", "lower", "upper",
)  # fmt: skip
_OFFSETS = ("offset", "offset_low", "offset_high", "repeatability")
_FIRST = ("instrument", "measurement", *_OFFSETS, "linked")
_OFFSET_KEYS = (*_FIRST, *(each.name for each in fields(InstrumentDrift) if each.name not in (*_FIRST, "set_off")))


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
    engine = open_engine(book)
    try:
        with reading(engine) as connection:
            yield connection
    finally:
        engine.dispose()
