"""The normal distribution and Student's t on arrays, without any library but numpy."""

from __future__ import annotations

from math import erfc

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_ONE_BY_ONE = 2000

# W. J. Cody, Rational Chebyshev approximations for the error function, Math. Comp. 23 (1969) 631-637: erf up to
# 0.46875, erfc from there to 4, and erfc beyond 4, each a quotient of two polynomials.
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

# M. J. Wichura, Algorithm AS 241: The percentage points of the normal distribution, Appl. Statist. 37 (1988) 477-484,
# PPND16: in the middle, in the tails up to exp(-25), beyond; lowest power first.
_CENTRE = (
    np.array([
        3.3871328727963666080e0, 1.3314166789178437745e2, 1.9715909503065514427e3, 1.3731693765509461125e4,
        4.5921953931549871457e4, 6.7265770927008700853e4, 3.3430575583588128105e4, 2.5090809287301226727e3,
    ]),
    np.array([
        1.0, 4.2313330701600911252e1, 6.8718700749205790830e2, 5.3941960214247511077e3, 2.1213794301586595867e4,
        3.9307895800092710610e4, 2.8729085735721942674e4, 5.2264952788528545610e3,
    ]),
)  # fmt: skip
_TAIL = (
    np.array([
        1.42343711074968357734e0, 4.63033784615654529590e0, 5.76949722146069140550e0, 3.64784832476320460504e0,
        1.27045825245236838258e0, 2.41780725177450611770e-1, 2.27238449892691845833e-2, 7.74545014278341407640e-4,
    ]),
    np.array([
        1.0, 2.05319162663775882187e0, 1.67638483018380384940e0, 6.89767334985100004550e-1, 1.48103976427480074590e-1,
        1.51986665636164571966e-2, 5.47593808499534494600e-4, 1.05075007164441684324e-9,
    ]),
)  # fmt: skip
_END = (
    np.array([
        6.65790464350110377720e0, 5.46378491116411436990e0, 1.78482653991729133580e0, 2.96560571828504891230e-1,
        2.65321895265761230930e-2, 1.24266094738807843860e-3, 2.71155556874348757815e-5, 2.01033439929228813265e-7,
    ]),
    np.array([
        1.0, 5.99832206555887937690e-1, 1.36929880922735805310e-1, 1.48753612908506148525e-2, 7.86869131145613259100e-4,
        1.84631831751005468180e-5, 1.42151175831644588870e-7, 2.04426310338993978564e-15,
    ]),
)  # fmt: skip


def normal_quantile(chance: npt.ArrayLike) -> Floats:
    """Return the value below which a standard normal lies with this chance, elementwise; -inf at 0, inf at 1.

    Relative error about 1e-16 (AS 241). NaN outside 0..1.
    """
    p = np.asarray(chance, dtype=np.float64)
    apart = p - 0.5
    tail = np.where(apart < 0, p, 1 - p)
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(-np.log(tail))
    near, at = np.where(root > 5, 1.6, root) - 1.6, np.where(root > 5, np.minimum(root, 40.0), 5.0) - 5
    inside = np.where(np.abs(apart) <= 0.425, apart, 0.0)
    centre = inside * _ratio(_CENTRE, 0.180625 - inside * inside)
    outer = np.where(root <= 5, _ratio(_TAIL, near), _ratio(_END, at)) * np.sign(apart)
    found = np.where(np.abs(apart) <= 0.425, centre, outer)
    return np.where((p >= 0) & (p <= 1), np.where(tail == 0, np.copysign(np.inf, apart), found), np.nan)


def _ratio(terms: tuple[Floats, Floats], x: Floats) -> Floats:
    return np.asarray(np.polynomial.polynomial.polyval(x, terms[0]) / np.polynomial.polynomial.polyval(x, terms[1]))


def normal_cdf(z: npt.ArrayLike) -> Floats:
    """Return the probability that a standard normal lies below z, elementwise.

    Relative error about 1e-15; in the low tail it grows with z^2, as that of z itself does, to 3e-13 at -37.

    NaN yields NaN.
    """
    z = np.asarray(z, dtype=np.float64)
    tail = 0.5 * _erfc(np.atleast_1d(np.abs(z) / np.sqrt(2.0))).reshape(z.shape)
    return np.where(z > 0, 1 - tail, tail)


def _erfc(x: Floats) -> Floats:
    """Return the complementary error function of x >= 0; each range of x by its own quotient.

    A few values are faster one by one.
    """
    if x.size <= _ONE_BY_ONE:
        return np.fromiter(map(erfc, x.ravel().tolist()), dtype=np.float64, count=x.size).reshape(x.shape)
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


def t_cdf(value: npt.ArrayLike, free: npt.ArrayLike) -> Floats:
    """Return the probability that Student's t with `free` degrees of freedom lies below a value, elementwise.

    By the incomplete beta function, I_x(free / 2, 1/2) with x = free / (free + t^2) (NIST Handbook of Mathematical
    Functions, DLMF 8.17.1 and 8.17.22); from 10^7 degrees of freedom on it is the normal's.
    """
    t, nu = np.broadcast_arrays(np.asarray(value, dtype=float), np.asarray(free, dtype=float))
    tail = 0.5 * _beta_share(nu / (nu + t * t), np.minimum(nu, 1e7) / 2, 0.5)
    return np.where(nu >= 1e7, normal_cdf(t), np.where(t > 0, 1 - tail, tail))


def t_quantile(chance: npt.ArrayLike, free: npt.ArrayLike) -> Floats:
    """Return the value below which Student's t lies with this chance, elementwise, by halving; to 1e-13 of itself."""
    p, nu = np.broadcast_arrays(np.asarray(chance, dtype=float), np.asarray(free, dtype=float))
    tail = np.minimum(p, 1 - p)
    low, high = np.zeros(p.shape), np.full(p.shape, 1.0)
    while (t_cdf(-high, nu) > tail).any():
        high = np.where(t_cdf(-high, nu) > tail, 2 * high, high)
    for _ in range(80):
        middle = (low + high) / 2
        beyond = t_cdf(-middle, nu) > tail
        low, high = np.where(beyond, middle, low), np.where(beyond, high, middle)
    return np.asarray(np.where(p < 0.5, -1, 1) * (low + high) / 2)


def _beta_share(x: Floats, a: Floats, b: float) -> Floats:
    """Return the regularised incomplete beta function by its continued fraction (DLMF 8.17.22, Lentz's rule)."""
    swap = x > (a + 1) / (a + b + 2)
    first, second, at = np.where(swap, b, a), np.where(swap, a, b), np.where(swap, 1 - x, x)
    with np.errstate(divide="ignore"):
        front = np.exp(first * np.log(at) + second * np.log1p(-at) - _log_beta(first, second)) / first
    share = np.where(at > 0, front * _fraction(at, first, second), 0.0)
    return np.where(swap, 1 - share, share)


def _fraction(x: Floats, a: Floats, b: Floats) -> Floats:
    tiny = 1e-300
    upper = np.ones(x.shape)
    lower = 1 / _away(1 - (a + b) * x / (a + 1), tiny)
    made = lower.copy()
    for m in range(1, 400):
        for step in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            lower = 1 / _away(1 + step * lower, tiny)
            upper = _away(1 + step / upper, tiny)
            made = made * lower * upper
        if (np.abs(lower * upper - 1) < 1e-15).all():
            break
    return made


def _away(value: Floats, tiny: float) -> Floats:
    """Keep a divisor away from zero."""
    return np.where(np.abs(value) < tiny, tiny, value)


def _log_beta(a: Floats, b: Floats) -> Floats:
    return _log_gamma(a) + _log_gamma(b) - _log_gamma(a + b)


def _log_gamma(x: Floats) -> Floats:
    """Return log Gamma(x), x > 0, by Stirling's series from 10 on, reached by the recurrence (DLMF 5.11.1, 5.5.1)."""
    down = np.zeros(np.shape(x))
    at = np.asarray(x, dtype=float).copy()
    for _ in range(10):
        small = at < 10
        down = np.where(small, down + np.log(at), down)
        at = np.where(small, at + 1, at)
    square = 1 / at**2
    series = (1 / 12 - square * (1 / 360 - square * (1 / 1260 - square * (1 / 1680 - square / 1188)))) / at
    return np.asarray((at - 0.5) * np.log(at) - at + 0.5 * np.log(2 * np.pi) + series - down)
