"""The instruments as the readings of the whole fleet show them: how far each is off, what ties it, what it spoilt."""

from __future__ import annotations

from datetime import date

import numpy as np
from sqlalchemy.engine import Connection

from collection.analysis.drift.links import Tie, ties
from collection.analysis.drift.words import Offset, instrument_sentence, set_off_sentence
from collection.errors import fold
from collection.views.drift_columns import day_text
from collection.views.drift_fit import Fitted, fitted
from collection.views.drift_rows import InstrumentDrift, SetOff


def instrument_drift(conn: Connection, today: date) -> list[InstrumentDrift]:
    """Return every instrument that was read, one row a measurement and period, by measurement and name."""
    rows = [row for one in fitted(conn, today) for row in offsets_of(one)]
    return sorted(rows, key=lambda row: (fold(row.measurement), fold(row.instrument), row.since))


def offsets_of(one: Fitted) -> list[InstrumentDrift]:
    """Return the instruments of one measurement, in the order of the fleet."""
    offsets = one.offsets
    reference = np.array([period.reference for period in one.periods], dtype=bool)
    tied = ties(one.direct, offsets.group, reference, offsets.high - offsets.low, one.read)
    return [_row(one, place, tie) for place, tie in enumerate(tied)]


def _row(one: Fitted, place: int, tie: Tie) -> InstrumentDrift:
    period, offsets, ratio = one.periods[place], one.offsets, one.measured.ratio
    linked = bool(offsets.to_reference[place])
    ends = (float(offsets.offset[place]), float(offsets.low[place]), float(offsets.high[place]))
    offset, low, high = (_shown(each, ratio=ratio) for each in ends)
    other = one.periods[tie.against].instrument if tie.against >= 0 else ""
    known = Offset(
        offset,
        low,
        high,
        "%" if ratio else one.measured.measured_in,
        period.reference,
        linked,
        tie.told,
        len(one.periods) == 1,
        other,
        *_settled_by(one, place),
    )
    return InstrumentDrift(
        instrument=period.instrument,
        measurement=one.measured.name,
        measured_in=one.measured.measured_in,
        since=period.since,
        offset=offset if tie.told else None,
        offset_low=low if tie.told else None,
        offset_high=high if tie.told else None,
        in_percent=ratio,
        against=other,
        repeatability=_shown(float(offsets.repeatability[place]), ratio=ratio) if offsets.free[place] > 0 else None,
        reference=period.reference,
        linked=linked,
        direct_pairs=tie.direct,
        indirect=tie.indirect,
        readings=int(one.read[place]),
        set_off=_set_off(one, place) if linked and not period.reference else (),
        sentence=instrument_sentence(known),
    )


def _settled_by(one: Fitted, place: int) -> tuple[str, str]:
    """Return a reference of the measurement, and the unit read last by an instrument, which that one would tie to it.

    "" where there is none: a unit whose present segment was read by both would tie them.
    """
    references = [each for each, period in enumerate(one.periods) if period.reference]
    if not references:
        return "", ""
    name = one.periods[max(references, key=lambda each: int(one.read[each]))].instrument
    sets = one.sets
    fit = np.flatnonzero((sets.instrument == place) & (sets.unit >= 0) & ~sets.level_lost)
    if not len(fit):
        return name, ""
    return name, one.units[sets.unit[fit[np.argmax(sets.ended[fit])]]].tag


def _shown(scaled: float, *, ratio: bool) -> float:
    """Return a difference on the scale as per cent of the reading for a ratio quantity, else in its own unit."""
    return float(100 * np.expm1(scaled / 100)) if ratio else scaled


def _set_off(one: Fitted, place: int) -> tuple[SetOff, ...]:
    """Return the units that were set by this instrument, where its offset is certainly not zero.

    Who knows what it reads off sets by that: a unit whose reading as left is nearer its nominal once corrected was.
    """
    low, high = float(one.offsets.low[place]), float(one.offsets.high[place])
    if low <= 0 <= high:
        return ()
    sets, found = one.sets, []
    with_it = (sets.set_with == place) & (sets.unit >= 0) & ~sets.level_lost
    allowed_for = np.abs(sets.set_at - float(one.offsets.offset[place])) < np.abs(sets.set_at)
    for history in np.flatnonzero(with_it & ~(allowed_for & np.isfinite(one.held.told))).tolist():
        unit = one.units[sets.unit[history]]
        nominal = float(one.held.nominal[history])
        least, most = sorted(_off_by(each, nominal, ratio=one.measured.ratio) for each in (low, high))
        off = _off_by(float(one.offsets.offset[place]), nominal, ratio=one.measured.ratio)
        day = day_text(int(sets.set_on[history]))
        sentence = set_off_sentence(unit.tag, off, least, most, one.measured.measured_in, day)
        found.append(SetOff(unit.id, unit.tag, sets.point[history], day, off, least, most, sentence))
    return tuple(sorted(found, key=lambda each: (-abs(each.off), fold(each.tag))))


def _off_by(offset: float, nominal: float, *, ratio: bool) -> float:
    """Return how far the true value is from a nominal that an instrument of this offset was made to read."""
    return float(nominal * np.expm1(-offset / 100)) if ratio else -offset
