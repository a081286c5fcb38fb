"""Control charts: of standardised prediction errors with an exponentially weighted mean, and of plain individuals.

Signal lines say when a process has changed; they are never the limits that a measurement must keep. Only two rules
signal, a point beyond three standard deviations and the weighted mean beyond its line: run rules multiply false alarms
for someone who watches a dozen units at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

BEYOND = 3.0
WEIGHT, WIDTH = 0.2, 2.86  # of the weighted mean: one false signal in about 377 readings
MOVING_D2 = 1.128  # mean range of two, as printed in NIST/SEMATECH e-Handbook, 6.3.2.2
_FALSE_ALARMS = 0.0027 + 1 / 377  # of one reading in control, both rules together: 2 Phi(-3), and the run length above
_FEWEST, _MOST_GAP = 10, 3.0


@dataclass(frozen=True, slots=True, eq=False)
class ErrorChart:
    """Per prediction error z: the weighted mean of z with its line to both sides, and whether each rule signals.

    NaN errors (which nothing foretold) have NaN beside them and signal nothing.
    """

    z: Floats
    mean: Floats
    line: Floats
    beyond: Bools
    drifted: Bools


@dataclass(frozen=True, slots=True, eq=False)
class IndividualsChart:
    """The classic chart of single values and their moving ranges: centre, signal lines and mean range."""

    centre: float
    lower: float
    upper: float
    mean_range: float
    signals: Bools


def error_chart(z: Floats, begins: Bools, weight: float = WEIGHT, width: float = WIDTH) -> ErrorChart:
    """Return the chart of prediction errors in order of time; begins: where a segment begins, the mean starts anew.

    E_i = w z_i + (1 - w) E_(i-1) with lines +-L sqrt(w / (2 - w) (1 - (1 - w)^(2 i))): NIST/SEMATECH e-Handbook,
    6.3.2.4; ISO 7870-6. weight, width: w and L.
    """
    mean, line = np.full(len(z), np.nan), np.full(len(z), np.nan)
    held, taken = 0.0, 0
    for place, error in enumerate(z):
        if begins[place]:
            held, taken = 0.0, 0
        if np.isnan(error):
            continue
        taken += 1
        held = weight * float(error) + (1 - weight) * held
        mean[place] = held
        line[place] = width * sqrt(weight / (2 - weight) * (1 - (1 - weight) ** (2 * taken)))
    with np.errstate(invalid="ignore"):
        return ErrorChart(z, mean, line, np.abs(z) > BEYOND, np.abs(mean) > line)


def individuals_chart(values: Floats) -> IndividualsChart:
    """Return the chart of at least two single values: mean -+ 2.659 mean moving range.

    NIST/SEMATECH e-Handbook, 6.3.2.2, whose 3 / 1.128 is 2.6596.
    """
    centre = float(values.mean())
    mean_range = float(np.abs(np.diff(values)).mean())
    reach = 3 / MOVING_D2 * mean_range
    lower, upper = centre - reach, centre + reach
    signals = (values < lower) | (values > upper)
    return IndividualsChart(centre, lower, upper, mean_range, signals)


def why_no_individuals(days: Floats, *, instruments: int, segments: int, slope_low: float, slope_high: float) -> str:
    """Return why the classic chart would mislead here, in a sentence; "" where its conditions hold.

    days: of the readings in order. The conditions are those under which single values scatter about one mean.
    """
    if instruments > 1:
        return f"No classic chart: it cannot tell {instruments} instruments from a change of the unit."
    if segments > 1:
        return f"No classic chart: the level was set anew between the readings ({segments} segments)."
    if len(days) < _FEWEST:
        return f"No classic chart: {len(days)} readings, and fewer than {_FEWEST} give too many false signals."
    if not slope_low <= 0 <= slope_high:
        return "No classic chart: it would signal the drift that is known already."
    gaps = np.diff(days)
    middle = float(np.median(gaps))
    if float(gaps.max()) > _MOST_GAP * max(middle, 1.0):
        return "No classic chart: a gap between readings is over three times the usual one."
    return ""


def false_alarms_a_year(series: int, readings_a_year: float) -> float:
    """Return how many signals to expect in a year with nothing wrong anywhere."""
    return series * readings_a_year * _FALSE_ALARMS
