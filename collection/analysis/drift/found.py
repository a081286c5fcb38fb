"""What the fit of one measurement finds: per reading, per series, per instrument, per class, all on the scale."""

from __future__ import annotations

from dataclasses import dataclass

from collection.analysis.drift.given import Bools, Floats, Ints


@dataclass(frozen=True, slots=True, eq=False)
class Paths:
    """Where the true value of each series is and goes: a mixture of straight lines with their uncertainty.

    Arrays of series times components, but `start` of series alone. start: the time of the last reading in years.
    weight: sums to 1 over the components. level: at `start`; slope: a year. var_level, var_slope and cov: their
    variances and covariance. wander: what a small random walk adds to the variance each year after `start`. The
    normal of component m at time T has mean level + slope (T - start) and variance
    var_level + 2 cov (T - start) + var_slope (T - start)^2 + wander |T - start|.
    A series without any reading has weights but no level: `level` is NaN there, and only there.
    """

    start: Floats
    weight: Floats
    level: Floats
    slope: Floats
    var_level: Floats
    cov: Floats
    var_slope: Floats
    wander: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Instruments:
    """What each instrument reads against the reference, on the scale; one element each.

    group: instruments of one group can be compared, since readings of one segment tie them together, directly or by
    way of others. to_reference: the group has a reference. offset within its 95 % interval low..high: against the
    reference of the group, else against the instrument of the group with the most readings; 0 for what it is compared
    with itself.
    repeatability: the standard deviation of its readings of one steady thing, with the number of readings it rests
    on beyond what the levels took (free).
    """

    group: Ints
    to_reference: Bools
    offset: Floats
    low: Floats
    high: Floats
    repeatability: Floats
    free: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Classes:
    """The slopes of the units of each class, on the scale a year: middle and the range that holds 95 % of units.

    share (classes, components of `slopes`): the weights of the mixture. runs: how many it rests on.
    """

    share: Floats
    middle: Floats
    low: Floats
    high: Floats
    runs: Ints


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """What is found of the readings and the series of a fleet, or of a part of it.

    Per reading, in the order given: stray (the probability that it is a stray reading), jump (the probability that the
    level jumped since the reading before it in the same segment) and jump_size (how far, if it did). smooth and
    smooth_sd: the true value at that time, corrected as the reading is, by all readings, and its standard deviation.
    Per series: paths.
    """

    stray: Floats
    jump: Floats
    jump_size: Floats
    smooth: Floats
    smooth_sd: Floats
    paths: Paths


@dataclass(frozen=True, slots=True, eq=False)
class Found(Told):
    """The whole of what is found: what is told of each series by itself, and what belongs to the fleet.

    corrected, per reading: the value less the offset of its instrument, where its group has a reference; else the
    value. Per series: own (the share from 0 to 1 of what is known of its slope that comes from its own readings, not
    from what its class does); corrected_series: its last readings are tied to a reference.
    """

    corrected: Floats
    own: Floats
    corrected_series: Bools
    instruments: Instruments
    classes: Classes
