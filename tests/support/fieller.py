"""The band of a straight line and its inversion in closed form (Fieller), to hold the crossings of forecasts to."""

from __future__ import annotations

from math import inf, sqrt

from collection.analysis.lines import Line


def error_at(line: Line, x: float) -> float:
    """Return the standard error of the line's value at x: slope and height together (JCGM 100:2008, H.3.4)."""
    return line.sd * sqrt(1 / line.count + (x - line.middle) ** 2 / line.square_sum)


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
