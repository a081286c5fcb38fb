"""A straight line by least squares."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
import numpy.typing as npt

from collection.errors import Refused

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Line:
    """y = height + slope (x - middle), with free = n - 2 degrees of freedom.

    sd: of the residuals. The height at the middle of the x and the slope are uncorrelated. count, square_sum: number
    of points and sum of the squares of x - middle.
    """

    middle: float
    height: float
    slope: float
    sd: float
    count: int
    square_sum: float

    @property
    def free(self) -> int:
        """Degrees of freedom."""
        return self.count - 2

    @property
    def slope_error(self) -> float:
        """Standard error of the slope."""
        return self.sd / sqrt(self.square_sum)

    def at(self, x: float) -> float:
        """Return the line's value at x."""
        return self.height + self.slope * (x - self.middle)


def straight_line(x: Floats, y: Floats) -> Line:
    """Return the least squares line of at least three points that are not all at one x; else Refused."""
    if len(x) < 3:
        raise Refused(f"A line through {len(x)} points leaves nothing to judge it by.", "Three are needed.")
    middle, height = float(x.mean()), float(y.mean())
    away = x - middle
    square_sum = float(away @ away)
    if square_sum == 0:
        raise Refused("All points of the line stand at one place.", "Two places are needed.")
    slope = float(away @ (y - height)) / square_sum
    rest = y - height - slope * away
    return Line(middle, height, slope, sqrt(float(rest @ rest) / (len(x) - 2)), len(x), square_sum)
