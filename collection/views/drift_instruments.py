"""Instruments as the fit sees them: one more after each of its own repairs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from sqlalchemy.engine import Connection

from collection.store.engine import fetch
from collection.views.drift_columns import Ints

_NAMES_SQL = "SELECT id, name FROM instrument"
_USES_SQL = """
SELECT t.measurement_id, t.instrument_id, coalesce(t.from_date, ''), t.reference, t.resolution, t.uncertainty
FROM instrument_use t WHERE t.void = 0 ORDER BY coalesce(t.from_date, ''), t.id
"""
_EVER = np.iinfo(np.int64).min


class Period(NamedTuple):
    """An instrument from a day on, until its next repair; since: "" from the beginning.

    resolution and uncertainty (standard) in the measurement's own unit, 0 where not known.
    """

    instrument: str
    since: str
    reference: bool = False
    resolution: float = 0.0
    uncertainty: float = 0.0


class Periods:
    """The periods of every instrument for every measurement."""

    def __init__(self, names: Mapping[int, str], uses: Mapping[tuple[int, int], list[Period]]) -> None:
        self.names, self._uses = names, uses

    def tell(self, measurement_id: int, instrument: Ints, half: Ints) -> tuple[Ints, tuple[Period, ...]]:
        """Return the periods that readings fall into, and which one each reading does.

        instrument, half: of each reading, the day in half days. A period begins with the first day that its
        (partial) day can mean; what was read before the first one is a period of its own, of which nothing is known.
        """
        number = np.zeros(len(instrument), dtype=np.int64)
        found: list[Period] = []
        for id_ in np.unique(instrument).tolist():
            mine = np.flatnonzero(instrument == id_)
            known = self._known(measurement_id, id_)
            starts = np.array([_first_half(period.since) for period in known])
            which = np.searchsorted(starts, half[mine], "right") - 1
            for each in np.unique(which).tolist():
                number[mine[which == each]] = len(found)
                found.append(known[each])
        return number, tuple(found)

    def _known(self, measurement_id: int, instrument_id: int) -> list[Period]:
        name = self.names.get(instrument_id, "")
        known = [period._replace(instrument=name) for period in self._uses.get((measurement_id, instrument_id), ())]
        return known if known and not known[0].since else [Period(name, ""), *known]


def periods(conn: Connection) -> Periods:
    """Return the periods of the whole book; of several that begin on one day the last entered counts."""
    uses: dict[tuple[int, int], list[Period]] = defaultdict(list)
    for measurement_id, instrument_id, since, reference, resolution, uncertainty in fetch(conn, _USES_SQL):
        mine = uses[measurement_id, instrument_id]
        if mine and mine[-1].since == since:
            mine.pop()
        mine.append(Period("", since, bool(reference), resolution or 0.0, uncertainty or 0.0))
    return Periods(dict(fetch(conn, _NAMES_SQL)), uses)


def _first_half(since: str) -> int:
    """Return the first half day that a (partial) day can mean."""
    if not since:
        return int(_EVER)
    first = since + "-01-01"[len(since) - 10 :] if len(since) < len("2024-01-01") else since
    return int(2 * np.datetime64(first, "D").astype(np.int64))
