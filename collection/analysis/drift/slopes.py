"""How the slopes of a class are spread, learnt from the fleet: a mixture of many normals with weights to be found.

Belts are not one bell curve: most hardly drift, some drift a lot, and mostly one way. So the slopes of a class are
taken for a mixture over a wide fixed grid of middles and spreads, narrow to broad, on both sides of zero, and only its
weights are learnt: nonparametric empirical Bayes on a grid (Kiefer and Wolfowitz, Ann. Math. Statist. 27 (1956) 887;
Stephens, Biostatistics 18 (2017) 275), with a Dirichlet prior on the weights that keeps a small class honest. Each run
is judged by weights that leave itself out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from collection.analysis.drift.given import Floats, Ints

# In units of the usual slope of the class: (middle, spread, share before anything is known).
_CENTRED = ((0.02, 0.06), (0.06, 0.1), (0.2, 0.18), (0.6, 0.27), (2.0, 0.13), (6.0, 0.03), (20.0, 0.004))
_APART = ((0.3, 0.06), (0.8, 0.075), (2.0, 0.035), (5.0, 0.008))  # on both sides, narrow and broad
_NARROW, _BROAD = 0.25, 0.6
KNOWN = 2.0  # the grid's own shares count as much as so many runs


def _grid() -> tuple[Floats, Floats, Floats]:
    rows = [(0.0, spread, share) for spread, share in _CENTRED]
    for middle, share in _APART:
        for sign in (-1, 1):
            rows += [(sign * middle, part * middle, share / 2) for part in (_NARROW, _BROAD)]
    middle, spread, share = np.array(rows).T
    return middle, spread, share / share.sum()


MIDDLE, SPREAD, SHARE = _grid()
COMPONENTS = len(MIDDLE)


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """What the mixture says of each run (G, runs).

    part (G, runs, COMPONENTS): the probability of each component. mean, variance: of the slope. log_chance: the log of
    the density that the mixture gives to what the run's own readings say.
    """

    part: Floats
    mean: Floats
    variance: Floats
    log_chance: Floats


def even_weights(nodes: int, classes: int) -> Floats:
    """Return the weights before anything is known (G, classes, COMPONENTS), as counts of runs: none."""
    return np.zeros((nodes, classes, COMPONENTS))


def judge(
    mean: Floats, known: Floats, usual: Floats, run_class: Ints, counts: Floats, own: Floats | None = None
) -> Judged:
    """Judge slopes that readings put at `mean` with precision `known` (G, runs; 0 where they say nothing).

    usual (runs,): the usual slope of the class. counts (G, classes, COMPONENTS): how many runs each component has;
    own (G, runs, COMPONENTS): what the run itself has put there, which is left out; None where it has no part in it.
    """
    variance, middle = (usual[:, None] * SPREAD) ** 2, usual[:, None] * MIDDLE
    held, precision = mean[..., None], known[..., None]
    # The density of the mean under a component, up to what all components share where the readings say nothing.
    spread = variance * precision
    spread += 1
    part = held - middle
    np.square(part, out=part)
    part *= precision
    part /= spread
    part += np.log(spread)
    part *= -0.5
    part += _log_weight(run_class, counts, own)
    top = part.max(axis=-1, keepdims=True)
    part -= top
    np.exp(part, out=part)
    summed = part.sum(axis=-1, keepdims=True)
    part /= summed
    each = variance * (precision * held)
    each += middle
    each /= spread
    mean_now = np.einsum("grk,grk->gr", part, each)
    each -= mean_now[..., None]
    np.square(each, out=each)
    each += variance / spread
    return Judged(part, mean_now, np.einsum("grk,grk->gr", part, each), (top + np.log(summed))[..., 0])


def _log_weight(run_class: Ints, counts: Floats, own: Floats | None) -> Floats:
    """Return the log of the weight of each component for each run, without what the run itself has put there."""
    if own is None:
        share = SHARE * KNOWN + counts
        return np.asarray(np.log(share / share.sum(axis=-1, keepdims=True))[:, run_class])
    others = np.maximum(counts[:, run_class] - own, 0.0)
    others += SHARE * KNOWN
    others /= others.sum(axis=-1, keepdims=True)
    return np.asarray(np.log(others))


def counted(part: Floats, run_class: Ints, classes: int) -> Floats:
    """Return how many runs each component of each class has (G, classes, COMPONENTS)."""
    return np.stack([part[:, run_class == number].sum(axis=1) for number in range(classes)], axis=1)
