"""Readings less what their instruments are known to read off, as the fit of drift has it."""

from __future__ import annotations

from collections.abc import Callable, Collection
from datetime import date
from math import exp
from typing import TYPE_CHECKING

from sqlalchemy.engine import Connection

from collection.store.engine import fetch

if TYPE_CHECKING:
    from collection.views.drift_fit import Fitted

_NUMBERS_SQL = """
SELECT id FROM measurement m WHERE EXISTS (
  SELECT 1 FROM series s JOIN reading r ON r.series_id = s.id WHERE s.measurement_id = m.id AND r.value IS NOT NULL)
"""

Corrected = Callable[[int, str, str, float], float]


def corrections(conn: Connection, today: date, wanted: Collection[int]) -> Corrected:
    """Return what makes a reading (measurement, instrument, day, value) a corrected one.

    It stays as it was read where nothing ties its instrument to a reference.
    """
    numbers = {row[0] for row in fetch(conn, _NUMBERS_SQL)} & set(wanted)
    if not numbers:
        return lambda _measurement, _instrument, _day, value: value
    from collection.views.drift_fit import fitted

    of = {one.measured.id: _Offsets(one) for one in fitted(conn, today, numbers)}

    def corrected(measurement_id: int, instrument: str, day: str, value: float) -> float:
        return of[measurement_id].corrected(instrument, day, value) if measurement_id in of else value

    return corrected


class _Offsets:
    """How far each instrument reads off one measurement, in each time between its own repairs."""

    def __init__(self, one: Fitted) -> None:
        self._ratio = one.measured.ratio
        self._of: dict[str, list[tuple[str, float]]] = {}
        for period, tied, off in zip(one.periods, one.offsets.to_reference, one.offsets.offset, strict=True):
            self._of.setdefault(period.instrument, []).append((period.since, float(off) if tied else 0.0))

    def corrected(self, instrument: str, day: str, value: float) -> float:
        """Return a value less the offset that counts on its day."""
        since = [each for each in self._of.get(instrument, ()) if each[0] <= day]
        off = max(since)[1] if since else 0.0
        if off == 0:
            return value
        return value * exp(-off / 100) if self._ratio else value - off
