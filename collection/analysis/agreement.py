"""How far two instruments agree: the figures of a difference plot.

Bland and Altman, Lancet 1986, i: 307-310: bias, limits of agreement, and how well each is known. A correlation says
nothing of agreement and is not given.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
import numpy.typing as npt

from collection.analysis.distributions import t_quantile
from collection.analysis.lines import straight_line

Floats = npt.NDArray[np.float64]

FEWEST_FOR_LIMITS = 6
USUAL_MULTIPLE = 1.96
_FEWEST_FOR_SIZE, _RANGE_FOR_SIZE = 10, 10.0


@dataclass(frozen=True, slots=True, eq=False)
class Agreement:
    """Differences a - b of pairs against their means, and their figures; intervals hold 95 %.

    lower, upper: limits between which 95 % of differences lie, with their intervals; None below six pairs. sd: None of
    a single pair. with_size: how much the difference grows per unit of the mean, with its interval, where there are
    ten pairs over a wide enough range to tell; else None and the difference is taken to be the same everywhere.
    """

    means: Floats
    differences: Floats
    bias: float
    bias_range: tuple[float, float] | None
    sd: float | None
    lower: float | None
    upper: float | None
    lower_range: tuple[float, float] | None
    upper_range: tuple[float, float] | None
    with_size: tuple[float, float, float] | None

    @property
    def pairs(self) -> int:
        """How many pairs there are."""
        return len(self.differences)

    @property
    def grows(self) -> bool:
        """Say whether the difference changes with the size of what is measured."""
        return self.with_size is not None and not self.with_size[1] <= 0 <= self.with_size[2]


def agreement(a: Floats, b: Floats, multiple: float = USUAL_MULTIPLE) -> Agreement:
    """Return the figures of pairs read with a and b, at least one pair; what drifted between them is corrected before.

    limits = bias -+ multiple sd; SE(bias) = sd / sqrt(n); SE(limit) = sqrt(3 sd^2 / n), as the paper has it.
    """
    means, differences = (a + b) / 2, a - b
    count, bias = len(differences), float(differences.mean())
    if count < 2:
        return Agreement(means, differences, bias, None, None, None, None, None, None, None)
    sd = float(differences.std(ddof=1))
    wide = float(t_quantile(0.975, count - 1))
    reach = wide * sd / sqrt(count)
    bias_range = (bias - reach, bias + reach)
    if count < FEWEST_FOR_LIMITS:
        return Agreement(means, differences, bias, bias_range, sd, None, None, None, None, None)
    lower, upper = bias - multiple * sd, bias + multiple * sd
    around = wide * sd * sqrt(3 / count)
    return Agreement(
        means,
        differences,
        bias,
        bias_range,
        sd,
        lower,
        upper,
        (lower - around, lower + around),
        (upper - around, upper + around),
        _with_size(means, differences, sd),
    )


def _with_size(means: Floats, differences: Floats, sd: float) -> tuple[float, float, float] | None:
    if len(means) < _FEWEST_FOR_SIZE or not np.ptp(means) > _RANGE_FOR_SIZE * sd:
        return None
    line = straight_line(means, differences)
    reach = float(t_quantile(0.975, line.free)) * line.slope_error
    return line.slope, line.slope - reach, line.slope + reach
