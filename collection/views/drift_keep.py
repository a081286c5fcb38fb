"""Drift of a large fleet kept from one look to the next: a few new readings renew their own series alone.

What the fleet shares is settled by the readings before the present quarter of the year (see drift_fit.fit), so a
reading of this quarter changes nothing but its own series. Whatever else changed, all is fitted anew.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np
from sqlalchemy.engine import Connection

from collection.analysis.drift import core
from collection.analysis.drift.compare import Groups
from collection.analysis.drift.fit import fit_by
from collection.analysis.drift.found import Classes, Instruments
from collection.analysis.drift.given import Fleet
from collection.analysis.drift.sites import Held
from collection.analysis.drift.summary import Shared
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.drift import rows_of, with_unit, worst_first
from collection.views.drift_columns import Floats, Ints, half_days, number_of_day
from collection.views.drift_fit import fit_settled, fitted_of, quarter_of
from collection.views.drift_instruments import Period
from collection.views.drift_readings import Gathered, gather
from collection.views.drift_rows import DriftRow
from collection.views.mechanisms import mechanisms
from collection.views.procedure_rules import procedure_rules

_LAST_ACT_SQL = "SELECT coalesce(max(act_id), 0) FROM seal"
_CHANGES_SQL = "SELECT table_name, row_id, rows FROM change WHERE act_id > :act"
_UNDONE_SQL = "SELECT 1 FROM undone WHERE by_id > :act LIMIT 1"
_TABLES = frozenset({"reading", "doubt"})
_READ_SQL = f"""
SELECT s.measurement_id, s.unit_id, r.taken_on, r.service_id FROM reading r JOIN series s ON s.id = r.series_id
WHERE r.id BETWEEN :first AND :last AND {counts("r")}
"""


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """What a large fleet of one measurement shares: arrays of the fit, and what its instruments and classes are."""

    measurement: int
    shared: Shared
    half_width: float
    usual_slope: Floats
    resolution: Floats
    uncertainty: Floats
    reference: Floats
    periods: tuple[Period, ...]
    classes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Parts:
    """The rows of a fleet, worst first, with what can be kept for the next look; act: the last one they rest on."""

    rows: list[DriftRow]
    settled: tuple[Settled, ...]
    act: int


def drift_parts(conn: Connection, today: date, by: date | None, measurement: str | None, risk: float) -> Parts:
    """Return the rows that `fleet_drift` returns, with what is settled for each large fleet."""
    only = None if measurement is None else [with_unit(conn, measurement)]
    rules, act = procedure_rules(conn), fetch(conn, _LAST_ACT_SQL)[0][0]
    rows: list[DriftRow] = []
    settled: list[Settled] = []
    for gathered in gather(conn, today, only):
        one, _, shared = fit_settled(gathered)
        rows += rows_of(one, rules, today, by, risk)
        if shared is not None:
            settled.append(_settled(gathered, shared))
    return Parts(sorted(rows, key=worst_first), tuple(settled), act)


def renewed(
    conn: Connection, today: date, by: date | None, risk: float, settled: Sequence[Settled], act: int
) -> tuple[list[DriftRow], int] | None:
    """Return the rows of units that were read since an act, and the last act now; None where more has changed."""
    read = _read_since(conn, today, act)
    known = {one.measurement: one for one in settled}
    if read is None or not set(read) <= set(known) or mechanisms(conn).touched:
        return None
    rules = procedure_rules(conn)
    rows: list[DriftRow] = []
    for measurement, units in read.items():
        for gathered in gather(conn, today, [measurement], units):
            placed = _placed(gathered, known[measurement])
            if placed is None:
                return None
            found = fit_by(placed.fleet, known[measurement].shared)
            rows += rows_of(fitted_of(placed, found), rules, today, by, risk)
    return rows, fetch(conn, _LAST_ACT_SQL)[0][0]


def _read_since(conn: Connection, today: date, act: int) -> Mapping[int, set[int]] | None:
    """Return by measurement the units with new readings of this quarter; None where anything else was written.

    A reading in a service came with the service; one of before this quarter may have settled what all share.
    """
    changes = fetch(conn, _CHANGES_SQL, act=act)
    if fetch(conn, _UNDONE_SQL, act=act) or not {row[0] for row in changes} <= _TABLES:
        return None
    quarter = int(half_days(np.array([number_of_day(quarter_of(today).isoformat())]))[0])
    found: dict[int, set[int]] = defaultdict(set)
    for table, first, rows in changes:
        if table == "reading":
            for measurement, unit, day, service in fetch(conn, _READ_SQL, first=first, last=first + rows - 1):
                if service is not None or int(half_days(np.array([number_of_day(day)]))[0]) < quarter:
                    return None
                found[measurement].add(unit)
    return found


def _settled(gathered: Gathered, shared: Shared) -> Settled:
    fleet, held = gathered.fleet, gathered.held
    seen = held.of_class[gathered.sets.place >= 0]
    names = [""] * fleet.classes
    for place, of_class in zip(gathered.sets.place[gathered.sets.place >= 0].tolist(), seen.tolist(), strict=True):
        names[int(fleet.series_class[place])] = held.classes[of_class]
    return Settled(
        gathered.measured.id,
        shared,
        fleet.half_width,
        fleet.usual_slope,
        fleet.resolution,
        fleet.uncertainty,
        fleet.reference.astype(np.float64),
        gathered.instruments,
        tuple(names),
    )


def _placed(gathered: Gathered, known: Settled) -> Gathered | None:
    """Return readings of some units with the whole fleet's instruments and classes; None where one is new to it.

    None as well where the readings tie instruments that were not tied: then more can be compared in the whole fleet.
    """
    fleet, held, sets = gathered.fleet, gathered.held, gathered.sets
    periods = {period: place for place, period in enumerate(known.periods)}
    classes = {name: place for place, name in enumerate(known.classes)}
    used = sets.place >= 0
    names = {
        int(fleet.series_class[p]): held.classes[c] for p, c in zip(sets.place[used], held.of_class[used], strict=True)
    }
    if not set(gathered.instruments) <= set(periods) or not set(names.values()) <= set(classes):
        return None
    instrument = np.array([periods[each] for each in gathered.instruments], dtype=np.int64)
    of_class = np.array([classes[names[number]] for number in range(fleet.classes)], dtype=np.int64)
    group = known.shared.groups.group[instrument[fleet.instrument]]
    if any(len(np.unique(group[fleet.segment == segment])) > 1 for segment in range(fleet.segments)):
        return None
    placed = Fleet(
        years=fleet.years,
        values=fleet.values,
        segment=fleet.segment,
        instrument=instrument[fleet.instrument],
        segment_run=fleet.segment_run,
        run_series=fleet.run_series,
        series_class=of_class[fleet.series_class],
        usual_slope=known.usual_slope,
        reference=known.reference > 0,
        resolution=known.resolution,
        uncertainty=known.uncertainty,
        half_width=known.half_width,
    )

    def moved(places: Ints) -> Ints:
        return np.where(places >= 0, instrument[places], -1)

    sets = sets._replace(instrument=moved(sets.instrument), set_with=moved(sets.set_with))
    return replace(gathered, fleet=placed, sets=sets, instruments=known.periods)


_INNER: Mapping[str, Any] = {
    "shared": Shared,
    "held": Held,
    "offsets": core.Offsets,
    "groups": Groups,
    "instruments": Instruments,
    "classes": Classes,
}


def plain(settled: Settled) -> dict[str, Any]:
    """Return what is settled in JSON's own values; `from_plain` brings it back to the last bit."""
    return _plain(settled) | {"classes": list(settled.classes), "periods": [list(each) for each in settled.periods]}


def from_plain(kept: Mapping[str, Any]) -> Settled:
    """Return what `plain` wrote."""
    return Settled(
        kept["measurement"],
        _built(Shared, kept["shared"]),
        kept["half_width"],
        _array(kept["usual_slope"]),
        _array(kept["resolution"]),
        _array(kept["uncertainty"]),
        _array(kept["reference"]),
        tuple(Period(*each) for each in kept["periods"]),
        tuple(kept["classes"]),
    )


def _names(thing: Any) -> Sequence[str]:
    return tuple(getattr(thing, "_fields", None) or thing.__dataclass_fields__)


def _plain(thing: Any) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for name in _names(thing):
        value = getattr(thing, name)
        if isinstance(value, np.ndarray):
            made[name] = [str(value.dtype), list(value.shape), value.ravel().tolist()]
        else:
            made[name] = (
                _plain(value) if hasattr(type(value), "_fields") or hasattr(value, "__dataclass_fields__") else value
            )
    return made


def _built(kind: Any, kept: Mapping[str, Any]) -> Any:
    return kind(*(_built(_INNER[name], kept[name]) if name in _INNER else _array(kept[name]) for name in _names(kind)))


def _array(kept: Sequence[Any]) -> Any:
    dtype, shape, values = kept
    return np.array(values, dtype=dtype).reshape(shape)
