"""The linear mixed model with given variances, solved exactly: levels, slopes and offsets of a whole fleet.

value = level(segment) + slope(run) t + x + offset(instrument) + noise; levels and offsets are free (flat), slopes have
a normal prior each, x is a random walk. Levels are eliminated by their 1 x 1 blocks, then slopes, and what is left is
a small system in the offsets: Laird and Ware, Biometrics 38 (1982) 963, with flat levels; the elimination in blocks is
that of Henderson's mixed model equations. Restricted likelihood as in Patterson and Thompson, Biometrika 58 (1971) 545.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from collection.analysis.drift.given import Floats, Ints
from collection.analysis.drift.layout import Layout
from collection.analysis.drift.scan import Backward, Forward, backward, forward


@dataclass(frozen=True, slots=True, eq=False)
class Noise:
    """The variances of G nodes: of each reading and of each step of the walk (G, n), and the prior of each slope.

    precision, mean (G, runs): of the slopes' normal priors; a precision of 0 leaves a slope free.
    """

    readings: Floats
    steps: Floats
    precision: Floats
    mean: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """The posterior of G nodes; K offsets are those of the compared instruments.

    level_share (C, G, S): sums of a segment over its weight. trend_share (C, G, runs): the same of a run; its last
    row is the slope with the offsets at zero. weight (G, runs): of a slope, its prior included. offsets (G, K) with
    covariance (G, K, K). slope and its variance (G, runs).
    """

    made: Forward
    level_share: Floats
    trend_share: Floats
    weight: Floats
    offsets: Floats
    covariance: Floats
    log_volume: Floats
    slope: Floats
    slope_variance: Floats


class Offsets(NamedTuple):
    """Offsets (G, K) with their covariance (G, K, K), and the log of the determinant of its inverse (G,)."""

    mean: Floats
    covariance: Floats
    log_volume: Floats


def solve(layout: Layout, columns: Floats, values: Floats, noise: Noise, held: Offsets | None = None) -> Solved:
    """Solve for values (G, n) and columns (2 + K, n): ones, years, and one per compared instrument.

    held: offsets that others have found; the readings here then add nothing to them.
    """
    made = forward(layout, columns, values, noise.readings, noise.steps)
    level_share = made.level / made.level[0]
    trend = layout.of_runs(made.trend - made.level[1] * level_share)
    weight = trend[1] + noise.precision
    safe = np.where(weight > 0, weight, 1.0)
    pulled = trend.copy()
    pulled[-1] += noise.precision * noise.mean
    trend_share = np.where(weight > 0, pulled / safe, 0.0)
    if held is None:
        normal = _products(made.innovation[2:], made.variance)
        normal -= _products(made.level[2:], made.level[0])
        normal -= _products(pulled[2:], safe, where=weight > 0)
        held = _offsets(normal)
    offsets, covariance, log_volume = held
    towards = trend_share[2:-1]  # (K, G, runs)
    slope = trend_share[-1] - np.einsum("kgr,gk->gr", towards, offsets)
    spread = (towards * spread_by(covariance, towards)).sum(axis=0)
    variance = np.where(weight > 0, 1 / safe, np.inf) + spread
    return Solved(made, level_share, trend_share, weight, offsets, covariance, log_volume, slope, variance)


def spread_by(covariance: Floats, towards: Floats) -> Floats:
    """Return the covariance (G, K, K) of the offsets times vectors of them (K, G, m)."""
    return np.asarray(np.matmul(covariance, towards.transpose(1, 0, 2)).transpose(1, 0, 2))


def _products(rows: Floats, over: Floats, where: Floats | None = None) -> Floats:
    """Return the matrices of products (G, C, C) of rows (C, G, m), each column divided by `over` (G, m)."""
    inverse = 1 / over if where is None else np.where(where, 1 / over, 0.0)
    by_node = rows.transpose(1, 0, 2)
    return np.asarray(np.matmul(by_node * inverse[:, None], by_node.transpose(0, 2, 1)))


def _offsets(normal: Floats) -> Offsets:
    """Return the offsets that normal equations (G, K + 1, K + 1) with their right side in the last column give."""
    matrix, right = normal[:, :-1, :-1], normal[:, :-1, -1]
    nodes, many = right.shape
    if not many:
        return Offsets(np.zeros((nodes, 0)), np.zeros((nodes, 0, 0)), np.zeros(nodes))
    scale = np.sqrt(np.einsum("gkk->gk", matrix))
    scale = np.where(scale > 0, scale, 1.0)
    even = matrix / (scale[:, :, None] * scale[:, None, :])
    even = (even + even.transpose(0, 2, 1)) / 2
    inverse = np.linalg.inv(even) / (scale[:, :, None] * scale[:, None, :])
    log_volume = np.linalg.slogdet(even)[1] + 2 * np.log(scale).sum(axis=1)
    return Offsets(np.einsum("gkl,gl->gk", inverse, right), inverse, log_volume)


@dataclass(frozen=True, slots=True, eq=False)
class LeftOut:
    """What all other readings say of each reading, and of the step before it (G, n).

    residual: value less what the others foretell, with its variance (infinite where they foretell nothing). step: how
    far the value rose from the reading before by what the others say, with the variance of that. score: V^-1 times
    what is left of the values after levels, slopes and offsets.
    """

    residual: Floats
    variance: Floats
    step: Floats
    step_variance: Floats
    score: Floats


def leave_out(layout: Layout, solved: Solved) -> LeftOut:
    """Leave out each reading, and each step of the walk, one at a time, exactly."""
    run = layout.run[layout.segment]
    back: Backward = backward(layout, solved.made)
    shares = (solved.level_share[:, :, layout.segment], solved.trend_share[:, :, run])
    once = (1 / solved.made.level[0])[:, layout.segment]
    weight = np.where(solved.weight > 0, solved.weight, np.inf)
    per_slope = (1 / weight)[:, run]
    score, knows = _reduce(solved, back.score, back.information, shares, once, per_slope)
    step_score, step_knows = _reduce(solved, back.gap_score, back.gap_information, shares, once, per_slope)
    # Rounding leaves a trace of information where there is none: less than a part in 10^9 is none.
    told = knows > 1e-9 * back.information
    step_told = step_knows > 1e-9 * back.gap_information
    return LeftOut(
        residual=np.where(told, score / np.where(told, knows, 1.0), 0.0),
        variance=np.where(told, 1 / np.where(told, knows, 1.0), np.inf),
        step=np.where(step_told, step_score / np.where(step_told, step_knows, 1.0), 0.0),
        step_variance=np.where(step_told, 1 / np.where(step_told, step_knows, 1.0), np.inf),
        score=score,
    )


def _reduce(
    solved: Solved,
    score: Floats,
    information: Floats,
    shares: tuple[Floats, Floats],
    once: Floats,
    per_slope: Floats,
) -> tuple[Floats, Floats]:
    """Take levels, slopes and offsets out of the scores (C, G, n) and their information (G, n)."""
    level_share, trend_share = shares
    ones = score[0]
    rest = score - ones * level_share
    knows = information - ones**2 * once - rest[1] ** 2 * per_slope
    rest = rest[2:] - rest[1] * trend_share[2:]
    towards, value = rest[:-1], rest[-1]
    if len(towards):
        value = value - np.einsum("kgn,gk->gn", towards, solved.offsets)
        knows = knows - (towards * spread_by(solved.covariance, towards)).sum(axis=0)
    return value, knows


def run_likelihood(layout: Layout, clean: Floats, score: Floats, noise: Noise, solved: Solved) -> Floats:
    """Return the restricted log likelihood of each run (G, runs), offsets at their best.

    clean, score: values cleared of offsets (G, n) and their scores. Without what belongs to all runs together: -1/2 of
    `solved.log_volume` for the offsets, and 1/2 log 2 pi for each.
    """
    made = solved.made
    per_reading = clean * score + np.log(2 * np.pi * made.variance)
    by_segment = sums_by(layout.segment, per_reading, layout.segments)
    by_segment += np.log(made.level[0] / (2 * np.pi))
    prior = np.where(noise.precision > 0, noise.precision, 1.0)
    apart = solved.slope - noise.mean
    return -0.5 * (
        layout.of_runs(by_segment)
        + np.where(solved.weight > 0, np.log(np.where(solved.weight > 0, solved.weight, 1.0) / prior), 0.0)
        - noise.precision * noise.mean * apart
    )


def sums_by(place: Ints, values: Floats, count: int) -> Floats:
    """Return sums of values (G, n) over the places 0 to count - 1 of their columns: (G, count)."""
    return np.stack([np.bincount(place, row, count).astype(np.float64) for row in values])
