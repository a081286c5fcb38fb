"""Published figures through the engine itself, and the distributions beside another library's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from collection.analysis.agreement import agreement
from collection.analysis.distributions import normal_cdf, normal_quantile, t_cdf, t_quantile
from collection.analysis.drift import core
from collection.analysis.drift.forecast import chance_outside
from collection.analysis.drift.found import Paths
from collection.analysis.drift.given import Fleet, Floats
from collection.analysis.drift.layout import layout_of
from tests.unit.test_published_figures import NORRIS_X, NORRIS_Y
from tests.unit.test_published_mixed_models import STACK


def test_one_unit_in_the_engine_has_the_certified_line() -> None:
    """NIST StRD, linear regression, Norris: one unit, segment and instrument, free slope, certified residual spread."""
    order = np.argsort(NORRIS_X, kind="stable")
    years, values = NORRIS_X[order], NORRIS_Y[order]
    zero, one = np.zeros(36, dtype=np.int64), np.zeros(1)
    fleet = Fleet(years, values, zero, zero, zero[:1], zero[:1], zero[:1], one + 1, one == 0, one, one, 1.0)
    layout = layout_of(fleet)
    noise = core.Noise(np.full((1, 36), 0.884796396144373**2), np.zeros((1, 36)), np.zeros((1, 1)), np.zeros((1, 1)))
    y = values[layout.order][None]
    columns = np.stack([np.ones(36), layout.years])
    found = core.solve(layout, columns, y, noise)
    slope = float(found.slope[0, 0])
    at_end = float(found.level_share[-1, 0, 0] - slope * found.level_share[1, 0, 0])
    assert slope == pytest.approx(1.00211681802045, rel=1e-9)
    assert np.sqrt(found.slope_variance[0, 0]) == pytest.approx(0.000429796848199937, rel=1e-9)
    assert at_end - slope * float(layout.end[0]) == pytest.approx(-0.262323073774029, rel=1e-9)
    square = float(y[0] @ core.leave_out(layout, found).score[0])  # residuals squared over the certified variance
    assert 0.884796396144373 * np.sqrt(square / 34) == pytest.approx(0.884796396144373, rel=1e-9)


def test_two_meters_agree_as_far_as_a_multiple_of_1_96_says() -> None:
    """Bland and Altman, Lancet 1986, i: 307-310, the same pairs with the usual multiple; recomputed: -78.10, 73.86."""
    large = np.array([494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427], dtype=float)
    small = np.array([512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451], dtype=float)
    found = agreement(large, small)
    assert [found.lower, found.upper] == pytest.approx([-78.10, 73.86], abs=5e-3)


def still(value: float, spread: float) -> Paths:
    """Return one series that stays at a value known with a standard deviation."""
    one, no = np.ones((1, 1)), np.zeros((1, 1))
    return Paths(np.zeros(1), one, value * one, no, spread**2 * one, no, no, no)


def test_the_forecast_conforms_as_the_guide_says() -> None:
    """JCGM 106:2012, 7.4: y = 13.6, u = 1.8 between 12.5 and 16.3; the result from memory."""
    outside = chance_outside(still(13.6, 1.8), 0.0, np.array([12.5]), np.array([16.3]))
    assert 1 - outside[0] == pytest.approx(0.66, abs=0.005)


@pytest.mark.parametrize(("conforms", "z"), [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)])
def test_a_forecast_that_far_from_a_limit_conforms_as_the_table_says(conforms: float, z: float) -> None:
    """JCGM 106:2012, 7.3, table 1, values from memory: so many u inside one limit, on either side."""
    slack = 0.0051 * float(stats.norm.pdf(z))
    above = chance_outside(still(0.0, 2.0), 0.0, np.array([-np.inf]), np.array([2 * z]))
    below = chance_outside(still(0.0, 2.0), 0.0, np.array([-2 * z]), np.array([np.inf]))
    assert [1 - above[0], 1 - below[0]] == pytest.approx([conforms, conforms], abs=slack)


@pytest.mark.parametrize("free", [1.0, 2.0, 3.5, 10.0, 29.0, 100.0, 1e4])
def test_student_is_that_of_another_library(free: float) -> None:
    """scipy.stats.t beside it, over 24 units and down to quantiles of 0.1 %."""
    values, chances = np.linspace(-12, 12, 241), np.array([0.001, 0.01, 0.3, 0.5, 0.9, 0.975])
    assert t_cdf(values, free) == pytest.approx(stats.t.cdf(values, free), rel=1e-10)
    assert t_quantile(chances, free) == pytest.approx(stats.t.ppf(chances, free), rel=1e-9, abs=1e-12)


def test_the_normal_is_that_of_another_library_one_by_one_and_in_bulk() -> None:
    """scipy.stats.norm beside it: few values go one by one, many through the quotients, and both agree."""
    values: Floats = np.linspace(-37, 8, 2001)
    assert normal_cdf(values) == pytest.approx(stats.norm.cdf(values), rel=1e-12)
    assert normal_cdf(values[:2000]) == pytest.approx(stats.norm.cdf(values[:2000]), rel=1e-12)
    chances = np.linspace(0.0005, 0.9995, 1999)
    assert normal_quantile(chances) == pytest.approx(stats.norm.ppf(chances), rel=1e-13, abs=1e-15)


def test_stack_loss_by_huber_is_that_of_another_library() -> None:
    """RLM of statsmodels on the same rows, printed figures of its test suite (results_rlm.py), from rlm of MASS."""
    import statsmodels.api as sm  # takes seconds, and every process that runs tests reads this file

    found = sm.RLM(STACK[:, 0], sm.add_constant(STACK[:, 1:]), M=sm.robust.norms.HuberT(1.345)).fit()
    assert found.params == pytest.approx([-41.02653105, 0.82937387, 0.92610818, -0.12784916], abs=0.002)
    assert found.scale == pytest.approx(2.44071379, abs=0.002)
    assert found.weights[[2, 3, 20]] == pytest.approx([0.7858871, 0.50494094, 0.36814106], abs=0.001)
