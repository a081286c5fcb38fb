"""The instruments as the readings of the whole fleet show them: how far each is off, what ties it, what it spoilt."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

import numpy as np
from sqlalchemy.engine import Connection

from collection.errors import fold
from collection.views.drift_columns import Bools, day_text
from collection.views.drift_fit import Fitted, fitted
from collection.views.drift_rows import InstrumentDrift, SetOff


class _Against(NamedTuple):
    """What an instrument is told against, its place or -1; and whether anything is told of it at all."""

    place: int
    told: bool


def instrument_drift(conn: Connection, today: date) -> list[InstrumentDrift]:
    """Return every instrument that was read, one row a measurement and period, by measurement and name."""
    rows = [row for one in fitted(conn, today) for row in offsets_of(one)]
    return sorted(rows, key=lambda row: (fold(row.measurement), fold(row.instrument), row.since))


def offsets_of(one: Fitted) -> list[InstrumentDrift]:
    """Return the instruments of one measurement, in the order of the fleet."""
    return [_row(one, place) for place in range(len(one.periods))]


def _row(one: Fitted, place: int) -> InstrumentDrift:
    period, offsets, ratio = one.periods[place], one.offsets, one.measured.ratio
    against = _against(one, place)
    linked = bool(offsets.to_reference[place])
    offset = low = high = None
    if against.told:
        ends = (float(offsets.offset[place]), float(offsets.low[place]), float(offsets.high[place]))
        offset, low, high = (_shown(each, ratio=ratio) for each in ends)
    repeatability = _shown(float(offsets.repeatability[place]), ratio=ratio) if offsets.free[place] > 0 else None
    other = one.periods[against.place].instrument if against.place >= 0 else ""
    direct = int(one.direct[place, against.place]) if against.place >= 0 else 0
    indirect = _indirect(one, place, against.place)
    return InstrumentDrift(
        instrument=period.instrument,
        measurement=one.measured.name,
        measured_in=one.measured.measured_in,
        since=period.since,
        offset=offset,
        offset_low=low,
        offset_high=high,
        in_percent=ratio,
        against=other,
        repeatability=repeatability,
        reference=period.reference,
        linked=linked,
        direct_pairs=direct,
        indirect=indirect,
        readings=int(one.read[place]),
        set_off=_set_off(one, place) if linked and not period.reference else (),
        sentence="",
    )


def _against(one: Fitted, place: int) -> _Against:
    """Return what an instrument is told against: the most used reference of its group, else its group's first."""
    offsets = one.offsets
    if one.periods[place].reference:
        return _Against(-1, told=True)
    group = np.flatnonzero(offsets.group == offsets.group[place])
    references = [other for other in group.tolist() if one.periods[other].reference]
    fixed = [other for other in group.tolist() if offsets.low[other] == offsets.high[other] == 0]
    chosen = max(references or fixed, key=lambda other: int(one.read[other]), default=-1)
    if chosen == place:
        return _Against(-1, told=len(group) > 1)
    return _Against(chosen, told=chosen >= 0)


def _indirect(one: Fitted, place: int, against: int) -> int:
    """Return how many other instruments read the same things as this one, and as what it is told against."""
    if against < 0:
        return 0
    shared = (one.direct[place] > 0) & _reached(one, against, without=place)
    shared[[place, against]] = False
    return int(shared.sum())


def _reached(one: Fitted, start: int, without: int) -> Bools:
    """Say which instruments readings tie to one of them, leaving one other out."""
    reached = np.zeros(len(one.periods), dtype=bool)
    reached[start] = True
    while True:
        more = reached | (one.direct[reached] > 0).any(axis=0)
        more[without] = False
        if (more == reached).all():
            return reached
        reached = more


def _shown(scaled: float, *, ratio: bool) -> float:
    """Return a difference on the scale as per cent of the reading for a ratio quantity, else in its own unit."""
    return float(100 * np.expm1(scaled / 100)) if ratio else scaled


def _set_off(one: Fitted, place: int) -> tuple[SetOff, ...]:
    """Return the units that were set by this instrument, where its offset is certainly not zero."""
    low, high = float(one.offsets.low[place]), float(one.offsets.high[place])
    if low <= 0 <= high:
        return ()
    sets, found = one.sets, []
    for history in np.flatnonzero((sets.set_with == place) & (sets.unit >= 0) & ~sets.level_lost).tolist():
        unit = one.units[sets.unit[history]]
        nominal = float(one.held.nominal[history])
        ends = sorted(_off_by(each, nominal, ratio=one.measured.ratio) for each in (low, high))
        off = _off_by(float(one.offsets.offset[place]), nominal, ratio=one.measured.ratio)
        day = day_text(int(sets.set_on[history]))
        found.append(SetOff(unit.id, unit.tag, sets.point[history], day, off, *ends))
    return tuple(sorted(found, key=lambda each: (-abs(each.off), fold(each.tag))))


def _off_by(offset: float, nominal: float, *, ratio: bool) -> float:
    """Return how far the true value is from a nominal that an instrument of this offset was made to read."""
    return float(nominal * np.expm1(-offset / 100)) if ratio else -offset
