"""Running along the readings of all segments: forward to whiten them, backward to leave each one out.

Inside a segment the true value is level + slope t + x, where x is a small random walk that starts at 0 with the first
reading. Regressors and values are run through the filter of x alone (a local level model; Durbin and Koopman, Time
Series Analysis by State Space Methods, 2nd ed. 2012, sections 2.2 to 2.4 and 4.4 for the backward run); what comes out
are uncorrelated innovations, so that level, slope and offsets become a plain weighted regression of them. Cost and
memory go with the number of readings.

Shapes: C columns (1, t, one per compared instrument, value), G nodes (settings of the variances that are tried
together), n readings by step, S segments by length.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from collection.analysis.drift.given import Floats
from collection.analysis.drift.layout import Layout


class Forward(NamedTuple):
    """innovation (C, G, n) with its variance (G, n) and the gain (G, n); ends of the filter and sums by segment.

    state (C, G, S): what the filter holds of each column after the last reading, with the variance left (G, S).
    level, trend (C, G, S): sums over a segment of the products with the columns 1 and t, each over its variance.
    """

    innovation: Floats
    variance: Floats
    gain: Floats
    state: Floats
    left: Floats
    level: Floats
    trend: Floats


class Backward(NamedTuple):
    """Per reading: score (C, G, n) and information (G, n) of the reading, and of the step of x that leads to it.

    score: V^-1 times the column; information: the diagonal of V^-1. gap_score, gap_information: the same, summed from
    the reading to the end of its segment, which is what a change of level just before the reading would add to.
    """

    score: Floats
    information: Floats
    gap_score: Floats
    gap_information: Floats


def forward(layout: Layout, columns: Floats, values: Floats, noise: Floats, steps: Floats) -> Forward:
    """Whiten columns (C - 1, n) and values (G, n), given the variances (G, n) of the readings and of the steps of x."""
    nodes, count = noise.shape
    many, segments = len(columns) + 1, layout.segments
    innovation = np.empty((many, nodes, count))
    variance, gain = np.empty((nodes, count)), np.empty((nodes, count))
    state, left = np.zeros((many, nodes, segments)), np.zeros((nodes, segments))
    level, trend = np.zeros((many, nodes, segments)), np.zeros((many, nodes, segments))
    for start, reach in zip(layout.starts, layout.counts, strict=True):
        now = slice(start, start + reach)
        ahead = left[:, :reach] + steps[:, now]
        total = ahead + noise[:, now]
        share = ahead / total
        new, held = innovation[:, :, now], state[:, :, :reach]
        np.subtract(columns[:, None, now], held[:-1], out=new[:-1])
        np.subtract(values[:, now], held[-1], out=new[-1])
        held += share * new
        left[:, :reach] = share * noise[:, now]
        weighted = new / total
        level[:, :, :reach] += new[0] * weighted
        trend[:, :, :reach] += new[1] * weighted
        variance[:, now], gain[:, now] = total, share
    return Forward(innovation, variance, gain, state, left, level, trend)


def backward(layout: Layout, made: Forward) -> Backward:
    """Return what each reading, and each step before it, says of its own, from the end of each segment to its start."""
    many, nodes, count = made.innovation.shape
    score, gap_score = np.empty((many, nodes, count)), np.empty((many, nodes, count))
    information, gap_information = np.empty((nodes, count)), np.empty((nodes, count))
    later, knows = np.zeros((many, nodes, layout.segments)), np.zeros((nodes, layout.segments))
    for start, reach in zip(layout.starts[::-1], layout.counts[::-1], strict=True):
        now = slice(start, start + reach)
        share, once = made.gain[:, now], 1 / made.variance[:, now]
        rest, known = later[:, :, :reach], knows[:, :reach]
        weighted = made.innovation[:, :, now] * once
        score[:, :, now] = weighted - share * rest
        information[:, now] = once + share**2 * known
        rest *= 1 - share
        rest += weighted
        known *= (1 - share) ** 2
        known += once
        gap_score[:, :, now], gap_information[:, now] = rest, known
    return Backward(score, information, gap_score, gap_information)
