"""The scale of the model: per cent of nominal on a log scale for ratio quantities, plain units for all others."""

from __future__ import annotations

import numpy as np

from collection.analysis.drift.given import Floats


def to_scale(values: Floats, nominal: Floats, ratio: bool) -> Floats:
    """Return values on the scale: 100 ln(value / nominal) of a ratio quantity, else value - nominal.

    values, nominal: in the measurement's own unit, of one shape. A value of a ratio quantity that has not the sign
    of its nominal yields NaN: such a reading can only be wrong.
    """
    if not ratio:
        return values - nominal
    with np.errstate(divide="ignore", invalid="ignore"):
        part = values / nominal
        return np.where(part > 0, 100 * np.log(np.where(part > 0, part, 1.0)), np.nan)


def from_scale(scaled: Floats, nominal: Floats, ratio: bool) -> Floats:
    """Return values in the measurement's own unit; the inverse of `to_scale`."""
    return nominal * np.exp(scaled / 100) if ratio else scaled + nominal


def slope_from_scale(slope: Floats, level: Floats, nominal: Floats, ratio: bool) -> Floats:
    """Return slopes in the measurement's own unit a year, at a level on the scale: dv/dy = v / 100, with its sign."""
    return slope * nominal * np.exp(level / 100) / 100 if ratio else slope
