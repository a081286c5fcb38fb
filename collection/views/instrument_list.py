"""The instruments of the book: what each is used for and since when, how much was read with it, its checks."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.checks import Check, check_due
from collection.errors import Refused, fold, nearest
from collection.store.engine import fetch
from collection.views.counts import counts

_SQL = """
SELECT i.id, i.version, i.name, i.kind, u.tag, i.host, i.made_version, i.note, i.check_every_months, i.retired_on,
       i.retired_reason
FROM instrument i LEFT JOIN unit u ON u.id = i.unit_id WHERE i.void = 0 ORDER BY i.name_folded
"""
_USES_SQL = """
SELECT t.instrument_id, m.id, m.name, m.measured_in, coalesce(t.from_date, ''), t.reference, t.resolution,
       t.uncertainty, t.id
FROM instrument_use t JOIN measurement m ON m.id = t.measurement_id
WHERE t.void = 0 ORDER BY m.name, coalesce(t.from_date, ''), t.id
"""
_READ_SQL = f"""
SELECT r.instrument_id, count(*), max(r.taken_on) FROM reading r WHERE {counts("r")} GROUP BY r.instrument_id
"""
CHECKS_SQL = f"""
SELECT k.{{what}}_id, k.checked_on, k.result FROM inspection k
WHERE k.{{what}}_id IS NOT NULL AND {counts("k")} ORDER BY k.checked_on, k.id
"""


class Use(NamedTuple):
    """A period in which an instrument is used for a measurement, from a (partial) day or "" on."""

    measurement_id: int
    measurement: str
    measured_in: str
    from_date: str
    reference: bool
    resolution: float | None
    uncertainty: float | None
    id: int


@dataclass(frozen=True, slots=True)
class InstrumentRow:
    """An instrument; "" for what is not known. from_date: of its present period, since its last repair.

    readings, last_read: how often it was read, and the last (partial) day. check_due: None where no check is asked
    for, and once it is retired.
    """

    id: int
    version: int
    name: str
    kind: str
    unit: str
    host: str
    made_version: str
    note: str
    check_every_months: int | None
    retired_on: str
    retired_reason: str
    uses: tuple[Use, ...]
    readings: int
    last_read: str
    last: Check | None
    check_due: date | None

    @property
    def present(self) -> dict[str, Use]:
        """The present period of each measurement, by name."""
        return {use.measurement: use for use in self.uses}

    @property
    def from_date(self) -> str:
        """The first day of the present period, "" where none is known."""
        return max((use.from_date for use in self.uses), default="")


def instrument_rows(conn: Connection, today: date) -> list[InstrumentRow]:
    """Return every instrument, by name."""
    uses: dict[int, list[Use]] = defaultdict(list)
    for row in fetch(conn, _USES_SQL):
        uses[row[0]].append(Use._make([*row[1:5], bool(row[5]), *row[6:]]))
    checks = last_checks(conn, "instrument")
    read = {row[0]: row[1:] for row in fetch(conn, _READ_SQL)}
    return [
        _row(row, tuple(uses[row[0]]), read.get(row[0], (0, "")), checks.get(row[0]), today)
        for row in fetch(conn, _SQL)
    ]


def find_instrument_row(conn: Connection, name: str, today: date) -> InstrumentRow:
    """Return the instrument of this name. Raises Refused, naming the nearest."""
    rows = instrument_rows(conn, today)
    for row in rows:
        if fold(row.name) == fold(name):
            return row
    near = nearest(name, (row.name for row in rows))
    hint = f"Nearest: {', '.join(near)}." if near else "Type: spindlebook instrument list"
    raise Refused(f'There is no instrument "{name}".', hint)


def last_checks(conn: Connection, what: str) -> dict[int, Check]:
    """Return the last check of every instrument or medium that has one, by its id."""
    return {row[0]: Check(*row[1:]) for row in fetch(conn, CHECKS_SQL.format(what=what))}


def _row(
    row: tuple[Any, ...], uses: tuple[Use, ...], read: tuple[Any, ...], last: Check | None, today: date
) -> InstrumentRow:
    from_date = max((use.from_date for use in uses), default="")
    known: list[Any] = ["" if value is None else value for value in row]
    known[8] = row[8]
    due = None if row[9] else check_due(row[8], last, from_date, today)
    known += [uses, *read, last, due]
    return InstrumentRow(*known)
