"""The factors of control charts by integration, to hold those of the charts to."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from collection.analysis.distributions import normal_cdf


@dataclass(frozen=True, slots=True)
class Factors:
    """Factors of control charts for ranges of n values: mean and standard deviation of the range, D4 and E2."""

    d2: float
    d3: float
    upper_range: float
    individuals: float


def factors(n: int) -> Factors:
    """Return the factors for ranges of n normal values by integrating over their distribution (2 <= n <= 25).

    E(W) = integral of 1 - Phi^n - (1 - Phi)^n (Tippett, Biometrika 17 (1925) 364); E(W^2) by its double integral.
    """
    if n == 2:
        d2, d3 = 2 / sqrt(pi), sqrt(2 - 4 / pi)
    else:
        grid = np.linspace(-8.5, 8.5, 1701)
        step = grid[1] - grid[0]
        phi = normal_cdf(grid)
        d2 = float((1 - phi**n - (1 - phi) ** n).sum() * step)
        low, high = np.meshgrid(phi, phi, indexing="ij")
        both = 1 - high**n - (1 - low) ** n + np.maximum(high - low, 0) ** n
        square = 2 * float(np.triu(both, 1).sum() + np.diag(both).sum() / 2) * step**2
        d3 = sqrt(square - d2**2)
    return Factors(d2, d3, 1 + 3 * d3 / d2, 3 / d2)
