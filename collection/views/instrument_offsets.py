"""The instruments with what each is used for, and how far it reads off there."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from sqlalchemy.engine import Connection

from collection.analysis.measures import GRADED
from collection.errors import fold
from collection.views.drift_rows import InstrumentDrift, SetOff
from collection.views.instrument_list import InstrumentRow, Use, instrument_rows


@dataclass(frozen=True, slots=True)
class InstrumentFor:
    """An instrument and one measurement, in one period between its own repairs.

    reference: it is one for this measurement. since: the first day of the period, "" from the beginning. present: it
    is the present one. drift: what its readings in it show, None where there are none in a unit of measure. sentence:
    that in words, or why there is nothing; short: a word for the latter.
    """

    row: InstrumentRow
    measurement: str
    reference: bool
    since: str
    present: bool
    drift: InstrumentDrift | None
    sentence: str
    short: str = ""


def as_plain(drifts: Iterable[InstrumentDrift]) -> list[dict[str, Any]]:
    """Return what instruments read off in JSON's own values."""
    return [asdict(each) for each in drifts]


def from_plain(rows: Iterable[dict[str, Any]]) -> list[InstrumentDrift]:
    """Return what `as_plain` was given."""
    return [InstrumentDrift(**row | {"set_off": tuple(SetOff(**each) for each in row["set_off"])}) for row in rows]


def instruments_for_each(conn: Connection, today: date, drifts: Iterable[InstrumentDrift]) -> list[InstrumentFor]:
    """Return every instrument, by name, with each measurement it is used or was read for.

    drifts: what they read off.
    """
    found: dict[str, dict[str, list[InstrumentDrift]]] = defaultdict(lambda: defaultdict(list))
    for drift in drifts:
        found[fold(drift.instrument)][drift.measurement].append(drift)
    return [each for row in instrument_rows(conn, today) for each in _of(row, found[fold(row.name)])]


def _of(row: InstrumentRow, found: dict[str, list[InstrumentDrift]]) -> Iterator[InstrumentFor]:
    """Yield the measurements of an instrument; of each the present period first, then those before it, latest first."""
    for measurement in dict.fromkeys([*row.present, *found]):
        use = row.present.get(measurement)
        periods = sorted(found.get(measurement, []), key=lambda each: each.since, reverse=True)
        if use is not None and (not periods or periods[0].since != use.from_date):
            yield InstrumentFor(row, measurement, use.reference, use.from_date, True, None, *_nothing(use, periods))
            yield from (_read(row, drift, present=False) for drift in periods)
        else:
            yield from (_read(row, drift, present=place == 0) for place, drift in enumerate(periods))


def _read(row: InstrumentRow, drift: InstrumentDrift, *, present: bool) -> InstrumentFor:
    return InstrumentFor(row, drift.measurement, drift.reference, drift.since, present, drift, drift.sentence)


def _nothing(use: Use, before: list[InstrumentDrift]) -> tuple[str, str]:
    if use.measured_in == GRADED:
        return "graded: no offset can be told", "graded"
    return ("not read since its repair" if before else "not read yet"), "not read"
