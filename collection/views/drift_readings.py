"""From the book to the fit: the readings of each measurement as a fleet, and what names its parts."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

import numpy as np
from sqlalchemy.engine import Connection

from collection.analysis.drift.given import Fleet
from collection.analysis.measures import GRADED
from collection.errors import fold
from collection.store.engine import fetch
from collection.views.drift_columns import (
    Floats,
    Ints,
    Resets,
    Taken,
    resets_of,
    taken,
    work_done,
)
from collection.views.drift_fleet import USED, Sets, fleet_of, put_together, repeats_apart, sets_of, states
from collection.views.drift_histories import Owners
from collection.views.drift_instruments import Period, periods
from collection.views.drift_segments import Cut, cut
from collection.views.drift_series import Held, Measured, held, measured_of
from collection.views.limits import Limits
from collection.views.mechanisms import goes_along, listed, mechanisms
from collection.views.units import Unit, unit_list, unit_on

_SPEED = "spindle speed"
_SPEED_KEY = "measurement-spindle-speed"
_MEASUREMENTS_SQL = f"""
SELECT id, name, measured_in, ratio, points, seed_key FROM measurement
WHERE void = 0 AND measured_in <> '{GRADED}' ORDER BY name_folded
"""
_SERIES_SQL = "SELECT id, unit_id, measurement_id, point FROM series{only} ORDER BY id"


class Use(NamedTuple):
    """What became of each reading, in the order of `cut`.

    history: the place in Sets. state: USED, or why not. scaled: its value on the scale, NaN for no number. in_fleet:
    the place of the reading that it went into, -1 for one that is not used.
    """

    history: Ints
    state: Ints
    scaled: Floats
    in_fleet: Ints


@dataclass(frozen=True, slots=True, eq=False)
class Gathered:
    """One measurement of the whole fleet; units in the order of their tags.

    read_in: the place of the unit in which each reading of `taken` was read. names: of instruments, procedures: of
    what `resets` are, both by id.
    """

    today: date
    measured: Measured
    units: tuple[Unit, ...]
    fleet: Fleet
    sets: Sets
    held: Held
    instruments: tuple[Period, ...]
    taken: Taken
    cut: Cut
    resets: Resets
    use: Use
    read_in: Ints
    names: Mapping[int, str]
    procedures: Mapping[int, str]


def gather(
    conn: Connection, today: date, only: Collection[int] | None = None, of_units: Collection[int] | None = None
) -> Iterator[Gathered]:
    """Yield every measurement of a unit of measure that has a reading, by name; `only`: of these measurements.

    of_units: of these units alone, by id, none of which gave or got a mechanism.
    """
    book = _Book(conn, today, only, of_units)
    for measured in book.measured.values():
        found = book.one(measured)
        if found is not None:
            yield found


class _Book:
    """What is read once for all measurements."""

    def __init__(
        self, conn: Connection, today: date, only: Collection[int] | None, of_units: Collection[int] | None
    ) -> None:
        self.today = today
        measured = measured_of(fetch(conn, _MEASUREMENTS_SQL))
        self.measured = {id_: each for id_, each in measured.items() if only is None or id_ in only}
        conditions = [] if only is None else [f"measurement_id IN ({listed(self.measured)})"]
        conditions += [] if of_units is None else [f"unit_id IN ({listed(of_units)})"]
        where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
        series = fetch(conn, _SERIES_SQL.format(only=where))
        if of_units is None:
            self.units = tuple(unit_list(conn, today))
        else:
            self.units = tuple(unit_on(conn, unit_id, today) for unit_id in sorted(of_units))
        self.limits = Limits(conn)
        self.periods = periods(conn)
        self.done = work_done(conn, of_units)
        self.taken = taken(conn, where)
        moved = mechanisms(conn)
        self.along = goes_along(conn) if moved.touched else frozenset()
        points: dict[str, int] = {}
        codes = [points.setdefault(row[3], len(points)) for row in series]
        self.points = tuple(points)
        self.series = np.array([row[:3] for row in series], dtype=np.int64).reshape(-1, 3)
        self.point_of = np.array(codes, dtype=np.int64)
        self.owners = Owners(moved, {unit.id: place for place, unit in enumerate(self.units)})

    def one(self, measured: Measured) -> Gathered | None:
        """Return the fleet of one measurement, None without a reading."""
        row = np.searchsorted(self.series[:, 0], self.taken.series)
        row = np.minimum(row, len(self.series) - 1)
        mine = np.flatnonzero(self.series[row, 2] == measured.id) if len(self.series) else np.zeros(0, np.int64)
        mine = mine[np.isin(self.series[row[mine], 1], [unit.id for unit in self.units])]
        if not len(mine):
            return None
        return self._gathered(measured, self.taken.some(mine), row[mine])

    def _gathered(self, measured: Measured, read: Taken, row: Ints) -> Gathered:
        along = measured.id in self.along
        speed = measured.seed_key == _SPEED_KEY or fold(measured.name) == _SPEED
        resets = resets_of(self.done, fold(measured.name), belts=speed)
        histories = self.owners.histories(self.series[row, 1], self.point_of[row], read, along=along)
        made = cut(read, histories.of_reading, resets, *self.owners.resets(histories, resets, along=along))
        points = tuple(self.points[code] for code in histories.point.tolist())
        by = held(measured, [self.units[place] for place in histories.shown.tolist()], points, self.limits, self.today)
        counting = ~read.aside
        by = by.with_medians(histories.of_reading[counting], read.value[counting])
        state, scaled = states(measured, read, made, histories, by)
        used = np.flatnonzero(state == USED)
        from_period, found = self.periods.tell(
            measured.id, read.instrument[made.order[used]], read.half[made.order[used]]
        )
        lot = put_together(read, made, histories, used, scaled[used], from_period, repeats_apart(measured, by))
        fleet = fleet_of(measured, by, lot, found)
        in_fleet = np.full(len(state), -1)
        in_fleet[used] = lot.of_used
        return Gathered(
            today=self.today,
            measured=measured,
            units=self.units,
            fleet=fleet,
            sets=sets_of(read, made, histories, used, lot, points),
            held=by,
            instruments=found,
            taken=read,
            cut=made,
            resets=resets,
            use=Use(histories.of_reading[made.order], state, scaled, in_fleet),
            read_in=self.owners.places(self.series[row, 1]),
            names=self.periods.names,
            procedures=self.done.names,
        )
