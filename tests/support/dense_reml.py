"""A small dense linear mixed model, kept as a second opinion on the engine: everything by whole matrices.

y = X b + Z u + e, u ~ N(0, G), e ~ N(0, R), so that y has the covariance V = Z G Z' + R. Criterion, estimates and
predictions as in Laird and Ware, Biometrics 38 (1982) 963, and Patterson and Thompson, Biometrika 58 (1971) 545. Cost
goes with the cube of the readings; nothing here is shared with what it judges.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp, log, pi

import numpy as np

from collection.analysis.drift.given import Floats


@dataclass(frozen=True, slots=True, eq=False)
class Dense:
    """What the dense model finds: fixed effects with covariance, predictions of u with theirs, -2 log likelihood.

    reml: restricted, with (n - p) log 2 pi in it, as other programs print it; ml: of the plain likelihood. projected: P
    = V^-1 - V^-1 X (X' V^-1 X)^-1 X' V^-1.
    """

    fixed: Floats
    covariance: Floats
    random: Floats
    random_covariance: Floats
    reml: float
    ml: float
    projected: Floats


def dense(y: Floats, x: Floats, z: Floats, g: Floats, r: Floats) -> Dense:
    """Return the fit of y (n,) with X (n, p), Z (n, q), G (q, q) and R (n, n) as given."""
    v = z @ g @ z.T + r
    inverse: Floats = np.linalg.inv(v).astype(np.float64)
    normal = x.T @ inverse @ x
    covariance: Floats = np.linalg.inv(normal).astype(np.float64)
    fixed = covariance @ (x.T @ inverse @ y)
    by_fixed = inverse @ x  # first, so that no product but the inverse goes with the cube
    projected = inverse - by_fixed @ covariance @ by_fixed.T
    rest = float(y @ projected @ y)
    log_v, log_normal = (float(np.linalg.slogdet(each)[1]) for each in (v, normal))
    n, p = x.shape
    return Dense(
        fixed=fixed,
        covariance=covariance,
        random=g @ z.T @ projected @ y,
        random_covariance=g - g @ z.T @ projected @ z @ g,
        reml=log_v + log_normal + rest + (n - p) * log(2 * pi),
        ml=log_v + rest + n * log(2 * pi),
        projected=projected,
    )


def best(
    y: Floats, x: Floats, z: Floats, shape: Callable[[Floats], Floats], start: Sequence[float], *, reml: bool = True
) -> tuple[Dense, float, Floats]:
    """Return the fit, the residual variance and the parameters with the best criterion.

    shape: from parameters to G over the residual variance, which is profiled out: it is y' P y / (n - p), or / n.
    """

    def profiled(at: Floats) -> tuple[float, float]:
        tried = dense(y, x, z, shape(at), np.eye(len(y)))
        free = len(y) - (x.shape[1] if reml else 0)
        sigma2 = float(y @ tried.projected @ y) / free
        base = (tried.reml if reml else tried.ml) - float(y @ tried.projected @ y)
        return base + free * (log(sigma2) + 1), sigma2

    at = simplex(lambda point: profiled(point)[0], np.asarray(start, dtype=float))
    sigma2 = profiled(at)[1]
    return dense(y, x, z, sigma2 * shape(at), sigma2 * np.eye(len(y))), sigma2, at


def simplex(of: Callable[[Floats], float], start: Floats, step: float = 0.5) -> Floats:
    """Return where a function is least: Nelder and Mead, Computer Journal 7 (1965) 308, begun anew from its end."""
    best_at = start
    for size in (step, step / 10, step / 100):
        corners = [best_at, *(best_at + size * row for row in np.eye(len(start)))]
        worth = [of(each) for each in corners]
        for _ in range(400):
            ranked = np.argsort(worth, kind="stable")
            corners, worth = [corners[k] for k in ranked], [worth[k] for k in ranked]
            if worth[-1] - worth[0] < 1e-11 * (1 + abs(worth[0])):
                break
            middle = np.mean(corners[:-1], axis=0)
            tried = _move(of, corners, worth, middle)
            if tried is None:
                corners = [corners[0], *((corners[0] + each) / 2 for each in corners[1:])]
                worth = [worth[0], *(of(each) for each in corners[1:])]
            else:
                corners[-1], worth[-1] = tried
        best_at = corners[int(np.argmin(worth))]
    return best_at


def _move(
    of: Callable[[Floats], float], corners: list[Floats], worth: list[float], middle: Floats
) -> tuple[Floats, float] | None:
    """Reflect, stretch or draw in the worst corner; None where none of these is better."""
    away = middle - corners[-1]
    over = middle + away
    value = of(over)
    if value < worth[0]:
        further = middle + 2 * away
        more = of(further)
        return (further, more) if more < value else (over, value)
    if value < worth[-2]:
        return over, value
    drawn = middle + (0.5 if value < worth[-1] else -0.5) * away
    inner = of(drawn)
    return (drawn, inner) if inner < min(value, worth[-1]) else None


def indicator(of: Sequence[object]) -> Floats:
    """Return the columns of 0 and 1 that tell the groups of readings apart, in the order of the groups' names."""
    names = sorted(set(of), key=str)
    return np.array([[float(each == name) for name in names] for each in of])


def variances(at: Floats, counts: Sequence[int]) -> Floats:
    """Return a diagonal G from the logs of its variances, each for so many groups."""
    return np.diag(np.repeat([exp(each) for each in at], counts))


def level_and_slope(at: Floats, groups: int) -> Floats:
    """Return G of groups with a level and a slope each, from its Cholesky factor (log, plain, log)."""
    factor = np.array([[exp(at[0]), 0.0], [at[1], exp(at[2])]])
    return np.kron(np.eye(groups), factor @ factor.T)
