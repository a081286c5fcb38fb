"""The normal distribution on arrays, without any library but numpy."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

# W. J. Cody, Rational Chebyshev approximations for the error function, Math. Comp. 23 (1969) 631-637: erf up to 0.46875,
# erfc from there to 4, and erfc beyond 4, each a quotient of two polynomials.
_ERF = (
    np.array([3.16112374387056560e00, 1.13864154151050156e02, 3.77485237685302021e02, 3.20937758913846947e03]),
    np.array([2.36012909523441209e01, 2.44024637934444173e02, 1.28261652607737228e03, 2.84423683343917062e03]),
    1.85777706184603153e-1,
)
_MIDDLE = (
    np.array(
        [
            5.64188496988670089e-1, 8.88314979438837594e0, 6.61191906371416295e01, 2.98635138197400131e02,
            8.81952221241769090e02, 1.71204761263407058e03, 2.05107837782607147e03, 1.23033935479799725e03,
        ]
    ),
    np.array(
        [
            1.57449261107098347e01, 1.17693950891312499e02, 5.37181101862009858e02, 1.62138957456669019e03,
            3.29079923573345963e03, 4.36261909014324716e03, 3.43936767414372164e03, 1.23033935480374942e03,
        ]
    ),
    2.15311535474403846e-8,
)  # fmt: skip
_FAR = (
    np.array(
        [
            3.05326634961232344e-1, 3.60344899949804439e-1, 1.25781726111229246e-1, 1.60837851487422766e-2,
            6.58749161529837803e-4,
        ]
    ),
    np.array(
        [
            2.56852019228982242e00, 1.87295284992346725e00, 5.27905102951428412e-1, 6.05183413124413191e-2,
            2.33520497626869185e-3,
        ]
    ),
    1.63153871373020978e-2,
)  # fmt: skip


def normal_cdf(z: npt.ArrayLike) -> Floats:
    """Return the probability that a standard normal lies below z, elementwise; relative error about 1e-15, tails too.

    NaN yields NaN.
    """
    z = np.asarray(z, dtype=np.float64)
    tail = 0.5 * _erfc(np.atleast_1d(np.abs(z) / np.sqrt(2.0))).reshape(z.shape)
    return np.where(z > 0, 1 - tail, tail)


def _erfc(x: Floats) -> Floats:
    """Return the complementary error function of x >= 0; each range of x by its own quotient."""
    made = np.array(x, copy=True)
    near, far = x <= 0.46875, x > 4
    middle = (x > 0.46875) & ~far
    close = x[near]
    made[near] = 1 - close * _quotient(_ERF, close**2)
    made[middle] = _decay(x[middle]) * _quotient(_MIDDLE, x[middle])
    out = np.minimum(x[far], 30.0)
    inverse = 1 / out**2
    made[far] = _decay(out) * (1 / np.sqrt(np.pi) - inverse * _quotient(_FAR, inverse)) / out
    return made


def _quotient(terms: tuple[Floats, Floats, float], x: Floats) -> Floats:
    above, below, first = terms
    upper, lower = first * x, x.copy()
    for over, under in zip(above[:-1], below[:-1], strict=True):
        upper, lower = (upper + over) * x, (lower + under) * x
    return np.asarray((upper + above[-1]) / (lower + below[-1]))


def _decay(x: Floats) -> Floats:
    """Return exp(-x^2) without the loss of digits that squaring brings."""
    cut = np.trunc(x * 16) / 16
    return np.exp(-cut * cut) * np.exp(-(x - cut) * (x + cut))
