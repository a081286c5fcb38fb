"""What a person is shown of drift: rows of the fleet, of one unit's readings, and of the instruments.

Values, slopes and ranges stand in the measurement's own unit, days as ISO texts. None stands where nothing can be
said; a number that is there is always finite. `sentence` says the same in words, and why where nothing can be said.
"""

from __future__ import annotations

from dataclasses import dataclass

# What a reading is to the fit: USED, or why it is shown and not used.
USED = ""
SET_ASIDE = "set aside"
COLD = "cold"
WARM = "warm"
NOT_COMPARABLE = "not comparable"
NO_NUMBER = "no number"
STATES = (USED, SET_ASIDE, COLD, WARM, NOT_COMPARABLE, NO_NUMBER)


@dataclass(frozen=True, slots=True)
class DriftRow:
    """A series: what its drift is today and what comes of it.

    unit_id, tag: the unit in which it is now. class_name: of the drives whose slopes its own is held against.
    standing: of the unit today. readings: how many are used, `stray` of them suspected of being stray. segments: in
    how many pieces services cut the series. instruments: their names, as used. first_read, last_read: "" without a
    reading. nominal, lower, upper: of the limit that counts today. corrected: the readings are tied to a reference,
    so that level and range are against it. level: today, with its 95 % range level_low to level_high.
    slope_per_year: with its 95 % interval slope_low to slope_high. chance_12_months: of the true value to lie outside
    its limits twelve months from today, with no service in between. by_date: the day asked for; the true value lies
    then between by_low and by_high with 90 %, its middle is by_value, and chance_outside the chance of being outside
    its limits then. recheck_by: a day, or None; recheck_rule: the word of the rule that set it, "" without one.
    rests_on: what all this rests on. missing: the one fact that would help most, or "".
    """

    unit_id: int
    tag: str
    measurement: str
    point: str
    measured_in: str
    class_name: str
    standing: str
    readings: int
    stray: int
    segments: int
    instruments: tuple[str, ...]
    first_read: str
    last_read: str
    nominal: float | None
    lower: float | None
    upper: float | None
    corrected: bool
    level: float | None
    level_low: float | None
    level_high: float | None
    slope_per_year: float | None
    slope_low: float | None
    slope_high: float | None
    chance_12_months: float | None
    by_date: str
    by_value: float | None
    by_low: float | None
    by_high: float | None
    chance_outside: float | None
    recheck_by: str | None
    recheck_rule: str
    sentence: str
    rests_on: str
    missing: str


@dataclass(frozen=True, slots=True)
class DriftReading:
    """A reading of a series, raw and corrected.

    taken_on: a (partial) day as it was entered. value: None where it was only graded. corrected: less the offset of
    its instrument where that is tied to a reference, else the value; None for one that is not used. stage: as found,
    as left, between. state: "" where it is used, else why not. stray: the probability that it is a stray reading.
    jump: the probability that the level jumped since the reading before it in its segment; jump_size: how far, if it
    did. segment: its number from 0 in the series; run: the number of the run of segments between two new slopes. z:
    the error of predicting it from those before it, as standard deviations of a normal; None where nothing
    foretells it. All of these None where it is not used. in_unit: the tag of the unit in which it was read, where the
    mechanism sat in another then; else "".
    """

    taken_on: str
    value: float | None
    corrected: float | None
    instrument: str
    stage: str
    state: str
    stray: float | None
    jump: float | None
    jump_size: float | None
    segment: int | None
    run: int | None
    z: float | None
    in_unit: str = ""


@dataclass(frozen=True, slots=True)
class DriftSegment:
    """A piece of a series between two services that reset its level.

    since: the day from which it counts, "" for the first one; until: the day it ended, "" while it lasts. reset_by:
    the names of the procedures (or the part) that began it, "" for the first. new_slope: what began it began a new
    slope too. readings: how many of it are used.
    """

    since: str
    until: str
    reset_by: str
    new_slope: bool
    readings: int


@dataclass(frozen=True, slots=True)
class PathPoint:
    """The true value on a day: its middle and 90 % range low to high. ahead: after the last reading of the series."""

    day: str
    middle: float
    low: float
    high: float
    segment: int
    ahead: bool


@dataclass(frozen=True, slots=True)
class SeriesDrift:
    """One series in full: its row, every reading in the order of taking, its segments, and its path for a plot.

    path: nothing where no level is known. crossing: a sentence about when it leaves its limits, or None. ranks: its
    trend by ranks alone in words, "" where one instrument has not read one segment often enough.
    """

    row: DriftRow
    readings: tuple[DriftReading, ...]
    segments: tuple[DriftSegment, ...]
    path: tuple[PathPoint, ...]
    crossing: str | None
    ranks: str = ""


@dataclass(frozen=True, slots=True)
class SetOff:
    """A unit whose level was set, and not reset since, by a reading of an instrument that reads off.

    off: how far the true value therefore was from what was read that day, in the measurement's unit, with its 95 %
    interval; below zero where it was set too low.
    """

    unit_id: int
    tag: str
    point: str
    set_on: str
    off: float
    off_low: float
    off_high: float
    sentence: str


@dataclass(frozen=True, slots=True)
class InstrumentDrift:
    """An instrument in one period between its own repairs, as its readings of one measurement show it.

    since: the first day of the period, "" from the beginning. offset: how far it reads off, with its 95 % interval:
    above zero reads high; per cent of the reading where in_percent, else in the measurement's unit. against: the name
    of what it is compared with: the reference, or another instrument where there is none; "" where it is that itself
    or nothing ties it to any. repeatability: the standard deviation of its readings of one steady thing, in per cent
    or units as the offset. reference: it is one. linked: readings tie it to a reference. direct_pairs: how often it
    and what it is compared with read the same thing in the same segment; indirect: over how many other instruments
    readings tie it otherwise. readings: how many are used. set_off: the units that were set by it and are off by what
    it is off, the most first.
    """

    instrument: str
    measurement: str
    measured_in: str
    since: str
    offset: float | None
    offset_low: float | None
    offset_high: float | None
    in_percent: bool
    against: str
    repeatability: float | None
    reference: bool
    linked: bool
    direct_pairs: int
    indirect: int
    readings: int
    set_off: tuple[SetOff, ...]
    sentence: str
