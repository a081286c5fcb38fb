"""Pairs of readings of two instruments, and what they say in words."""

from __future__ import annotations

from math import expm1

import numpy as np

from collection.analysis.agreement import FEWEST_FOR_LIMITS, Agreement
from collection.analysis.drift.given import Floats, Ints
from collection.analysis.drift.shown import as_known, as_range

# How far apart in time two readings may be and still be held against each other (common practice, no source).
WINDOW_DAYS = 7.0


def nearest_pairs(a_segment: Ints, a_day: Floats, b_segment: Ints, b_day: Floats) -> list[tuple[int, int]]:
    """Return the pairs (place in a, place in b) of one segment within the window, the nearest in time first taken.

    No reading is in two pairs. In the order of a.
    """
    offered = []
    order = np.argsort(b_segment, kind="stable")
    begins = np.searchsorted(b_segment[order], a_segment, "left")
    ends = np.searchsorted(b_segment[order], a_segment, "right")
    for place, (begin, end) in enumerate(zip(begins.tolist(), ends.tolist(), strict=True)):
        for other in order[begin:end].tolist():
            apart = abs(float(a_day[place] - b_day[other]))
            if apart <= WINDOW_DAYS:
                offered.append((apart, place, other))
    found: dict[int, int] = {}
    taken: set[int] = set()
    for _, place, other in sorted(offered):
        if place not in found and other not in taken:
            found[place] = other
            taken.add(other)
    return sorted(found.items())


def in_per_cent(scaled: float, *, ratio: bool) -> float:
    """Return a difference on the scale as per cent for a ratio quantity, else as it is."""
    return 100 * expm1(scaled / 100) if ratio else scaled


def agreement_sentence(a: str, b: str, found: Agreement | None, units: int, measured_in: str, *, ratio: bool) -> str:
    """Return what pairs say; units: on how many units they were read; measured_in: "%" for a ratio quantity."""
    if found is None:
        return (
            f"{a} and {b} never read the same unit within {WINDOW_DAYS:.0f} days with nothing set anew in between:"
            " read one unit with both on the same day, before it is adjusted. What ties them by way of others:"
            " spindlebook instrument list"
        )
    count = "1 pair" if found.pairs == 1 else f"{found.pairs} pairs"
    rests = f"{count} on {'1 unit' if units == 1 else f'{units} units'}"
    bias = in_per_cent(found.bias, ratio=ratio)
    way = "higher" if bias > 0 else "lower"
    if found.bias_range is None:
        return f"{a} read {abs(bias):.3g} {measured_in} {way} than {b}, once: too few to say more"
    low, high = (in_per_cent(end, ratio=ratio) for end in found.bias_range)
    if low <= 0 <= high:
        said = f"no difference seen between {a} and {b}: {as_range(low, high)} {measured_in} ({rests})"
    else:
        near, far = sorted((abs(low), abs(high)))
        said = (
            f"{a} reads {as_known(abs(bias), near, far)} {measured_in} {way} than {b} ({as_range(near, far)}; {rests})"
        )
    if found.lower is None or found.upper is None:
        return f"{said}; fewer than {FEWEST_FOR_LIMITS} pairs tell no limits of agreement"
    least, most = (in_per_cent(end, ratio=ratio) for end in (found.lower, found.upper))
    said += f"; 95 % of differences lie between {as_range(least, most).replace(' to ', ' and ')} {measured_in}"
    return said + ("; the difference grows with the size of what is read" if found.grows else "")
