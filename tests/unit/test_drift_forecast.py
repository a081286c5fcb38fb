"""Looking ahead along the paths of series: ranges, chances and crossings of mixtures of normals."""

from __future__ import annotations

from dataclasses import replace
from math import isnan

import numpy as np
import numpy.typing as npt
import pytest

from collection.analysis.distributions import normal_cdf
from collection.analysis.drift.forecast import chance_outside, crossing, mean_on, range_on, slope_range
from collection.analysis.drift.found import Paths
from collection.analysis.drift.given import Floats
from collection.analysis.lines import Line, straight_line
from tests.support.fieller import error_at, reached


def paths(
    weight: npt.ArrayLike,
    level: npt.ArrayLike,
    slope: npt.ArrayLike,
    var_level: npt.ArrayLike,
    var_slope: npt.ArrayLike,
    wander: float = 0.0,
) -> Paths:
    """Return paths that start at 20 years, level and slope independent."""
    rows = [np.atleast_2d(np.asarray(each, dtype=float)) for each in (weight, level, slope, var_level, var_slope)]
    zero = np.zeros_like(rows[0])
    return Paths(np.full(len(zero), 20.0), rows[0], rows[1], rows[2], rows[3], zero, rows[4], zero + wander)


def random_paths(series: int, spread: float) -> Paths:
    """Return mixtures of twelve normals, narrow and wide, near and far, some without any width."""
    dice = np.random.default_rng(7)
    shape = (series, 12)
    var = np.exp(spread * dice.normal(size=shape))
    var[:, :2] = np.where(dice.random((series, 2)) < 0.3, 0.0, var[:, :2])
    return paths(
        dice.dirichlet(np.full(12, 0.2), series), dice.normal(size=shape) * 3, dice.normal(size=shape), var, var
    )


def test_the_range_of_one_normal_is_that_of_tables() -> None:
    """90 % lie within 1.6449 and 95 % within 1.9600 standard deviations: ISO 3534-1, any table of the normal."""
    one = paths([[1.0]], [[2.0]], [[1.0]], [[4.0]], [[0.0]], wander=2.5)
    low, high = range_on(one, 22.0)
    assert [low[0], high[0]] == pytest.approx([4 - 1.6448536 * 3, 4 + 1.6448536 * 3], abs=1e-6)
    assert mean_on(one, 22.0)[0] == 4.0
    low, high = range_on(one, 22.0, 0.95, np.array([16.0]))
    assert [low[0], high[0]] == pytest.approx([4 - 1.9599640 * 5, 4 + 1.9599640 * 5], abs=1e-6)
    low, high = slope_range(one)
    assert [low[0], high[0]] == pytest.approx([1.0, 1.0])


@pytest.mark.parametrize("spread", [0.5, 2.0, 5.0])
def test_each_end_of_a_range_cuts_off_just_its_share_of_a_mixture(spread: float) -> None:
    """Held to the distribution itself, in the body and far out; where it jumps, the jump is met."""
    many = random_paths(400, spread)
    for share in (0.5, 0.9, 0.998):
        for end, chance in zip(range_on(many, 20.0, share), ((1 - share) / 2, (1 + share) / 2), strict=True):
            wide = 1e-7 * (1 + np.abs(end))
            below, above = (_share_below(many, end + side * wide) for side in (-1, 1))
            assert (below <= chance + 1e-7).all()
            assert (above >= chance - 1e-7).all()


def _share_below(many: Paths, value: Floats) -> Floats:
    sd = np.sqrt(many.var_level)
    z = (value[:, None] - many.level) / np.where(sd > 0, sd, 1.0)
    return np.asarray((many.weight * np.where(sd > 0, normal_cdf(z), z >= 0)).sum(axis=1))


def test_the_chance_of_being_outside_adds_both_sides_and_knows_one_sided_limits() -> None:
    """A level on its limit is outside with a half; no limit on a side cuts off nothing there."""
    one = paths([[0.5, 0.5]], [[0.0, 0.0]], [[0.0, 0.0]], [[1.0, 1.0]], [[0.0, 0.0]])
    both = chance_outside(one, 20.0, np.array([-1.0]), np.array([1.0]))
    assert both[0] == pytest.approx(0.3173105, abs=1e-7)
    assert chance_outside(one, 20.0, np.array([-np.inf]), np.array([0.0]))[0] == pytest.approx(0.5)
    assert chance_outside(one, 20.0, np.array([-np.inf]), np.array([np.inf]))[0] == 0.0
    still = paths([[1.0]], [[2.0]], [[0.0]], [[0.0]], [[0.0]])
    assert chance_outside(still, 20.0, np.array([-1.0]), np.array([1.0]))[0] == 1.0


def test_a_crossing_has_a_range_and_may_have_no_end_or_no_date() -> None:
    """A sure slope of 1 a year from 0 is at 2 after two years; a slope that may be 0 never surely gets there."""
    sure = paths([[1.0]], [[0.0]], [[1.0]], [[0.01]], [[0.0001]])
    when = crossing(sure, 0, 2.0)
    assert when.at == pytest.approx(22.0, abs=0.1)
    assert 21.7 < when.first < when.at < when.last < 22.4
    unsure = crossing(paths([[1.0]], [[0.0]], [[0.1]], [[0.01]], [[0.04]]), 0, 2.0)
    assert isnan(unsure.last)
    assert 20 < unsure.first < unsure.at
    away = crossing(paths([[1.0]], [[0.0]], [[-1.0]], [[0.01]], [[0.0001]]), 0, 2.0)
    assert all(map(isnan, away))


def _of_line(line: Line, start: float) -> Paths:
    """Return a straight line's own forecast: height and slope lean on each other away from its middle."""
    one, cov = np.ones((1, 1)), line.slope_error**2 * (start - line.middle)
    level, var_level = line.at(start), error_at(line, start) ** 2
    return Paths(
        np.array([start]), one, level * one, line.slope * one, var_level * one, cov * one,
        line.slope_error**2 * one, 0 * one,
    )  # fmt: skip


@pytest.mark.parametrize(("rise", "value"), [(1.0, 8.0), (-1.0, -8.0), (1.0, 20.0), (0.1, 3.0), (0.05, 1.0)])
def test_a_crossing_is_the_inversion_of_the_band_in_closed_form(rise: float, value: float) -> None:
    """Fieller's set of a straight line, to the month: both ends where the slope is sure, else the first day alone."""
    years = np.arange(6.0)
    line = straight_line(years, rise * years + np.array([0.1, -0.2, 0.15, 0.05, -0.2, 0.1]))

    when = crossing(_of_line(line, 5.0), 0, value)

    low, high = reached(line, value, 1.9599640)
    assert when.first == pytest.approx(low, abs=1 / 12)
    assert isnan(when.last) if high > 45 else when.last == pytest.approx(high, abs=1 / 12)
    assert when.at == pytest.approx(line.middle + (value - line.height) / line.slope, abs=1 / 12)


def test_a_limit_that_a_narrow_band_steps_over_is_reached_all_the_same() -> None:
    """4 r/min a year of 300, known to 0.02: the band moves further in a month than it is wide."""
    fast = paths([[1.0]], [[0.0]], [[1.3]], [[0.0004]], [[0.0001]])
    for limit in np.arange(0.9, 1.3, 0.01):
        when = crossing(fast, 0, float(limit))
        assert [when.at, when.first, when.last] == pytest.approx([20 + limit / 1.3] * 3, abs=0.12)


def test_a_chance_is_never_above_certain() -> None:
    """Wholly outside is 1 to the last bit, though the weights of many normals sum to a little more."""
    far = random_paths(500, 0.0)
    far = replace(far, level=far.level + 1e6)
    assert far.weight.sum(axis=1).max() > 1

    chance = chance_outside(far, 20.0, np.full(500, -1.0), np.full(500, 1.0))

    assert 1.0 == chance.max()
