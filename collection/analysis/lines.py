"""A straight line by least squares, what it foretells, and when it reaches a value."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt

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

    def error_at(self, x: float) -> float:
        """Return the standard error of the line's value at x: slope and height together (JCGM 100:2008, H.3.4)."""
        return self.sd * sqrt(1 / self.count + (x - self.middle) ** 2 / self.square_sum)


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


def reached(line: Line, value: float, t: float, *, single: bool = False) -> tuple[float, float]:
    """Return the set of x at which the band of a line holds a value, by inverting the band.

    t: the quantile of Student's t for the wanted chance. single: the band of a single new value, not of the line; then
    this is the interval of an inverse prediction (NIST/SEMATECH e-Handbook, 4.5.2.1; Fieller, J. Roy. Statist. Soc. B
    16 (1954) 175). An end without bound is infinite: the slope may be zero, and there is no date.
    """
    apart = value - line.height
    extra = 1.0 if single else 0.0
    wide = (t * line.sd) ** 2
    square = line.slope**2 - wide / line.square_sum
    linear = -2 * apart * line.slope
    rest = apart**2 - wide * (extra + 1 / line.count)
    if square > 0:
        root = sqrt(max(linear**2 - 4 * square * rest, 0.0))
        return line.middle + (-linear - root) / (2 * square), line.middle + (-linear + root) / (2 * square)
    inside = linear**2 - 4 * square * rest
    if square == 0 or inside <= 0:
        return -inf, inf
    # Two rays: the one on the side to which the line goes has its beginning, and no end.
    ends = sorted((line.middle + (-linear + sign * sqrt(inside)) / (2 * square)) for sign in (-1, 1))
    return (ends[1], inf) if apart * line.slope > 0 else (-inf, ends[0])
