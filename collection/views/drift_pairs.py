"""Where two instruments read the same thing: pairs of readings with nothing set anew in between."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

import numpy as np
from sqlalchemy.engine import Connection

from collection.analysis.agreement import Agreement, agreement
from collection.analysis.agreement_words import agreement_sentence, in_per_cent, nearest_pairs
from collection.analysis.drift.found import Found
from collection.analysis.drift.scale import from_scale
from collection.analysis.measures import GRADED
from collection.errors import Refused, fold
from collection.store.engine import fetch
from collection.views.drift import with_unit
from collection.views.drift_columns import Floats, Ints, day_text
from collection.views.drift_fit import fit
from collection.views.drift_readings import Gathered, gather
from collection.views.instrument_list import find_instrument_row
from collection.views.readings import reading_counts

_SUSPECTED = 0.5
_BOTH_SQL = f"""
SELECT m.id, m.name FROM measurement m WHERE m.void = 0 AND m.measured_in <> '{GRADED}'
AND EXISTS (SELECT 1 FROM reading r JOIN series s ON s.id = r.series_id
  WHERE s.measurement_id = m.id AND r.instrument_id = :a AND {reading_counts("r")})
AND EXISTS (SELECT 1 FROM reading r JOIN series s ON s.id = r.series_id
  WHERE s.measurement_id = m.id AND r.instrument_id = :b AND {reading_counts("r")})
ORDER BY m.name_folded
"""


class Pair(NamedTuple):
    """One thing read with both: tag, point, day and value (own unit) of each, and a less b (see Comparison)."""

    tag: str
    point: str
    a_on: str
    a_value: float
    b_on: str
    b_value: float
    difference: float


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """How far two instruments agree, in the present period of each.

    in_percent: differences are per cent of the reading, else in the measurement's unit. pairs: in the order of tags
    and days; what drifted between the two days is taken out of the difference. found: their figures on the scale of
    the fit, None without a pair. stray: how many pairs were left out for a likely stray reading. sentence: what it
    says.
    """

    a: str
    b: str
    measurement: str
    measured_in: str
    in_percent: bool
    pairs: tuple[Pair, ...]
    found: Agreement | None
    stray: int
    sentence: str

    def shown(self, scaled: float) -> float:
        """Return a figure of `found` as differences are shown."""
        return in_per_cent(scaled, ratio=self.in_percent)


def compare(conn: Connection, a: str, b: str, today: date, measurement: str | None = None) -> Comparison:
    """Return how far two instruments agree on a measurement, which may be left out where both read only one.

    Raises Refused for unknown names, a graded measurement, one instrument twice, and where it is not clear which
    measurement is meant.
    """
    one, other = (find_instrument_row(conn, name, today) for name in (a, b))
    if one.id == other.id:
        raise Refused(
            f'"{one.name}" is compared with itself.', "Name two instruments; see: spindlebook instrument list"
        )
    asked = None if measurement is None else with_unit(conn, measurement)
    known = dict(fetch(conn, _BOTH_SQL, a=one.id, b=other.id))
    if asked is None and len(known) > 1:
        raise Refused(f"{one.name} and {other.name} both read {', '.join(known.values())}.", 'Add --of "MEASUREMENT".')
    wanted = next(iter(known), None) if asked is None else asked
    gathered = next(gather(conn, today, [wanted]), None) if wanted in known and wanted is not None else None
    if gathered is None:
        what = f'"{measurement}"' if measurement else "one measurement in a unit of measure"
        raise Refused(f"{one.name} and {other.name} did not both read {what}.", "See: spindlebook instrument list")
    return _compared(gathered, fit(gathered)[1], one.name, other.name)


def _compared(gathered: Gathered, found: Found, a: str, b: str) -> Comparison:
    fleet, ratio = gathered.fleet, gathered.measured.ratio
    mine, others = (_readings(gathered, name) for name in (a, b))
    days = fleet.years * 365.25
    places = nearest_pairs(fleet.segment[mine], days[mine], fleet.segment[others], days[others])
    at_a = mine[[place for place, _ in places]] if places else mine[:0]
    at_b = others[[place for _, place in places]] if places else others[:0]
    sound = np.maximum(found.stray[at_a], found.stray[at_b]) < _SUSPECTED
    at_a, at_b = at_a[sound], at_b[sound]
    level = _levels(gathered, found)
    drifted = level[at_a] - level[at_b]
    figures = agreement(fleet.values[at_a] - drifted, fleet.values[at_b]) if len(at_a) else None
    pairs = _pairs(gathered, at_a, at_b, [] if figures is None else figures.differences.tolist())
    unit = "%" if ratio else gathered.measured.measured_in
    units = len({pair.tag for pair in pairs})
    sentence = agreement_sentence(a, b, figures, units, unit, ratio=ratio)
    return Comparison(
        a,
        b,
        gathered.measured.name,
        gathered.measured.measured_in,
        ratio,
        tuple(pairs),
        figures,
        int((~sound).sum()),
        sentence,
    )


def _levels(gathered: Gathered, found: Found) -> Floats:
    """Return the true value at each reading, told against one instrument even where nothing is corrected."""
    fleet = gathered.fleet
    taken_out = fleet.values - found.corrected
    return np.asarray(found.smooth - (found.instruments.offset[fleet.instrument] - taken_out))


def _readings(gathered: Gathered, name: str) -> Ints:
    """Return the used readings of an instrument in its last period."""
    periods = gathered.instruments
    mine = [place for place, period in enumerate(periods) if fold(period.instrument) == fold(name)]
    if not mine:
        return np.zeros(0, dtype=np.int64)
    return np.flatnonzero(gathered.fleet.instrument == max(mine, key=lambda place: periods[place].since))


def _pairs(gathered: Gathered, at_a: Ints, at_b: Ints, differences: list[float]) -> list[Pair]:
    use, fleet, sets = gathered.use, gathered.fleet, gathered.sets
    first = {int(use.in_fleet[place]): place for place in np.flatnonzero(use.in_fleet >= 0)[::-1].tolist()}
    found = []
    for a, b, scaled in zip(at_a.tolist(), at_b.tolist(), differences, strict=True):
        history = int(use.history[first[a]])
        home = int(sets.unit[history])
        nominal = gathered.held.nominal[history]
        days = [day_text(int(gathered.taken.day[gathered.cut.order[first[place]]])) for place in (a, b)]
        values = [float(from_scale(fleet.values[place], nominal, gathered.measured.ratio)) for place in (a, b)]
        difference = in_per_cent(scaled, ratio=gathered.measured.ratio)
        tag = gathered.units[home].tag if home >= 0 else ""
        found.append((home, Pair(tag, sets.point[history], days[0], values[0], days[1], values[1], difference)))
    return [pair for _, pair in sorted(found, key=lambda each: (each[0], each[1].point, each[1].a_on))]
