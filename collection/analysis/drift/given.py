"""What the fit of one measurement is given: the readings of the whole fleet as arrays, on the scale of the model.

The scale of the model: of a ratio quantity (speed, voltage) y = 100 ln(reading / nominal), so that an instrument
that is off by a constant percentage is off by a constant and units of different nominals share one model; of any
other y = reading - nominal in the measurement's own unit. `scale` converts both ways.

A *segment* lies between two services that reset the level; a *run* is one or more segments of one series between two
services that reset the slope (a new belt); a series has one or more runs, the present one is its last. An *instrument*
here is an instrument between two of its own repairs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from collection.errors import Refused

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Fleet:
    """The readings of one measurement, and what they belong to; indices count from 0 without gaps.

    Per reading: years (time in years of 365.25 days from any epoch), values (on the scale of the model), segment,
    instrument. Readings of one segment stand in the order in which they were taken. Per segment: segment_run. Per run:
    run_series (the runs of a series stand in the order of time, so do the segments of a run). Per series:
    series_class. Per class: usual_slope, the size of slope that is nothing unusual, on the scale a year; it may be
    wrong by a factor of several, since the fleet's own slopes soon outweigh it. Per instrument: reference, the others
    are compared with these; resolution and uncertainty (standard), on the scale, 0 where not known. half_width: half
    the width of usual limits on the scale; it says what size of noise, wandering and jump is nothing unusual.
    """

    years: Floats
    values: Floats
    segment: Ints
    instrument: Ints
    segment_run: Ints
    run_series: Ints
    series_class: Ints
    usual_slope: Floats
    reference: Bools
    resolution: Floats
    uncertainty: Floats
    half_width: float

    def __post_init__(self) -> None:
        """Refuse what no fit can use: Refused names the first thing that is wrong."""
        for name in ("years", "values", "usual_slope", "resolution", "uncertainty"):
            if not np.isfinite(getattr(self, name)).all():
                raise Refused(f"Drift: {name} has a value that is no finite number.", "Set that reading aside.")
        if not (np.isfinite(self.half_width) and self.half_width > 0):
            raise Refused(f"Drift: a half width of {self.half_width} is not above zero.", "Give limits with a width.")
        for name, count, places in (
            ("segment", self.segments, self.segment),
            ("instrument", self.instruments, self.instrument),
            ("segment_run", self.runs, self.segment_run),
            ("run_series", self.series, self.run_series),
            ("series_class", self.classes, self.series_class),
        ):
            if places.size and not (places.min() >= 0 and places.max() < count):
                raise Refused(f"Drift: {name} points outside 0 to {count - 1}.", "Number them from 0 without gaps.")

    @property
    def segments(self) -> int:
        """How many segments there are."""
        return len(self.segment_run)

    @property
    def runs(self) -> int:
        """How many runs there are."""
        return len(self.run_series)

    @property
    def series(self) -> int:
        """How many series there are."""
        return len(self.series_class)

    @property
    def classes(self) -> int:
        """How many classes there are."""
        return len(self.usual_slope)

    @property
    def instruments(self) -> int:
        """How many instruments there are, each period between its repairs counted as one."""
        return len(self.reference)
