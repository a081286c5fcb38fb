"""Charts, lines, agreement and ranks, held to figures that others have published."""

from __future__ import annotations

from math import inf, isinf

import numpy as np
import pytest

from collection.analysis.agreement import agreement
from collection.analysis.charts import MOVING_D2, error_chart, individuals_chart
from collection.analysis.distributions import normal_cdf, normal_quantile, t_cdf, t_quantile
from collection.analysis.drift.forecast import chance_outside
from collection.analysis.drift.found import Paths
from collection.analysis.drift.given import Floats
from collection.analysis.lines import straight_line
from collection.analysis.rank_trend import rank_trend, trend_test
from tests.support.chart_factors import factors
from tests.support.fieller import error_at, reached


def numbers(text: str) -> Floats:
    """Return the numbers that stand in a text."""
    return np.array(text.split(), dtype=float)


FLOW = numbers("49.6 47.6 49.9 51.3 47.8 51.2 52.6 52.4 53.6 52.1")
NORRIS_Y = numbers(
    """
    0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9
    559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8 557.7 228.3
    998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9
    10.2 117.6 228.9 668.4 449.2 0.2
    """
)
NORRIS_X = numbers(
    """
    0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0
    558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6 556.0 228.1
    995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0
    11.1 118.3 229.2 669.1 448.9 0.5
    """
)
TEMPERATURE = numbers(
    """
    54.749 23.323 58.775 25.854 68.297 37.481 49.542 34.101 33.901 29.242
    39.506 43.004 53.226 54.467 57.549 61.204 31.489 68.476 51.144 68.774
    55.35 44.692 50.995 21.602 54.673 41.449 35.451 42.989 48.599 21.448
    56.982 47.901 40.285 25.609 22.971 25.838 49.127 54.936 50.917 41.976
    """
)
PRESSURE = numbers(
    """
    225.066 100.331 230.863 106.16 277.502 148.314 197.562 138.537 137.969 117.41
    164.442 181.044 222.179 227.01 232.496 253.557 139.894 273.931 207.969 280.205
    227.06 180.605 206.229 91.464 223.869 172.91 152.073 169.427 192.561 94.448
    222.794 199.003 168.668 109.387 98.445 110.987 202.662 224.773 216.058 171.469
    """
)
LINE_WIDTH_X = numbers(
    """
    6.19 9.17 1.99 7.77 4.0 10.77 4.78 2.99 6.98 9.98
    """
)
LINE_WIDTH_Y = numbers(
    """
    6.31 9.27 2.21 8.0 4.27 10.93 4.95 3.24 7.14 10.23
    6.27 9.21 2.19 7.81 4.15 10.73 4.87 3.17 7.07 10.02
    6.31 9.34 2.22 7.95 4.15 10.92 5.0 3.21 7.18 10.07
    6.28 9.23 2.2 7.84 4.15 10.89 5.0 3.21 7.2 10.17
    """
)


def test_the_individuals_chart_is_that_of_the_handbook() -> None:
    """NIST/SEMATECH e-Handbook, 6.3.2.2, flow rate of ten batches."""
    chart = individuals_chart(FLOW)
    assert [chart.centre, chart.mean_range] == pytest.approx([50.81, 1.8778], abs=5e-5)
    assert [chart.upper, chart.lower] == pytest.approx([55.8041, 45.8159], abs=6e-5)
    assert not chart.signals.any()


def test_a_value_beyond_the_line_of_the_individuals_chart_signals() -> None:
    """The ten batches of the handbook and one far above them: it signals, and they do not."""
    chart = individuals_chart(np.append(FLOW, 70.0))
    assert chart.signals.tolist() == [False] * 10 + [True]


def test_the_weighted_means_are_those_of_the_handbook() -> None:
    """NIST/SEMATECH e-Handbook, 6.3.2.4, twenty values, weight 0.3; its lower line is printed cut off, not rounded."""
    values = np.append(numbers("52 47 53 49.3 50.1 47 51 50.1 51.2 50.5"), FLOW)
    chart = error_chart((values - 50.0) / 2.0539, np.arange(20) == 0, 0.3, 3.0)
    printed = numbers(
        "50.60 49.52 50.56 50.18 50.16 49.21 49.75 49.85 50.26 50.33"
        " 50.11 49.36 49.52 50.05 49.38 49.92 50.73 51.23 51.94 51.99"
    )
    assert 50.0 + 2.0539 * chart.mean == pytest.approx(printed, abs=0.00501)
    reach = 2.0539 * chart.line[-1]
    assert [50.0 - reach, 50.0 + reach] == pytest.approx([47.4115, 52.5884], abs=1e-4)
    assert not chart.drifted.any()
    # Of the first few the lines are nearer: 0.3 of the width, then 0.3 sqrt(1 + 0.7^2).
    assert chart.line[:2] == pytest.approx([0.9, 0.9 * 1.49**0.5])


@pytest.mark.parametrize(
    ("n", "d2", "d3", "upper_range", "individuals"),
    [
        (2, 1.128, 0.853, 3.267, 2.659),
        (3, 1.693, 0.888, 2.575, 1.772),
        (4, 2.059, 0.880, 2.282, 1.457),
        (5, 2.326, 0.864, 2.114, 1.290),
        (10, 3.078, 0.797, 1.777, 0.975),
    ],
)
def test_the_factors_of_charts_are_those_of_tables(
    n: int, d2: float, d3: float, upper_range: float, individuals: float
) -> None:
    """Table of factors for control charts, symbols as in ISO 7870-2; D4 of 3 is printed 2.574 or 2.575 (2.57459)."""
    got = factors(n)
    assert [got.d2, got.d3, got.upper_range, got.individuals] == pytest.approx(
        [d2, d3, upper_range, individuals], abs=1e-3
    )


def test_the_moving_ranges_of_the_chart_go_by_the_factor_of_two_values() -> None:
    """As printed with three decimals: d2 of ranges of two."""
    assert round(factors(2).d2, 3) == MOVING_D2


def test_a_straight_line_has_the_certified_figures() -> None:
    """NIST StRD, linear regression, Norris: certified to fifteen digits."""
    line = straight_line(NORRIS_X, NORRIS_Y)
    assert line.at(0.0) == pytest.approx(-0.262323073774029, rel=1e-9)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-9)
    assert error_at(line, 0.0) == pytest.approx(0.232818234301152, rel=1e-9)
    assert line.slope_error == pytest.approx(0.000429796848199937, rel=1e-9)
    assert line.sd == pytest.approx(0.884796396144373, rel=1e-9)


def test_a_line_far_from_zero_keeps_its_digits() -> None:
    """Norris again, moved by a million along x (exact in binary for these tenths to 1e-10): the slope stays."""
    line = straight_line(NORRIS_X + 2.0**20, NORRIS_Y)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-9)
    assert line.sd == pytest.approx(0.884796396144373, rel=1e-9)


def test_a_calibration_line_is_that_of_the_handbook() -> None:
    """NIST/SEMATECH e-Handbook, 2.3.6.7, line widths, file CALIBRATIONLINE; its figures are from memory."""
    line = straight_line(np.tile(LINE_WIDTH_X, 4), LINE_WIDTH_Y)
    assert [line.at(0.0), line.slope] == pytest.approx([0.2357, 0.9870], abs=1e-4)
    assert [error_at(line, 0.0), line.slope_error] == pytest.approx([0.0243, 0.00344], abs=5e-5)
    assert line.sd == pytest.approx(0.0620, abs=5e-5)
    assert line.free == 38


def test_a_value_is_led_back_to_its_place_with_the_handbooks_interval() -> None:
    """NIST/SEMATECH e-Handbook, 4.5.2.1, pressure 178; estimate and lower end from memory, the upper one recomputed."""
    line = straight_line(TEMPERATURE, PRESSURE)
    assert [line.at(0.0), line.slope] == pytest.approx([7.74899, 3.93014], abs=1e-5)
    assert line.middle + (178 - line.height) / line.slope == pytest.approx(43.32, abs=1e-3)
    low, high = reached(line, 178.0, float(t_quantile(0.975, line.free)), single=True)
    assert low == pytest.approx(41.07564, abs=2e-5)
    assert high == pytest.approx(45.56146, abs=2e-5)


def test_a_line_that_may_be_level_has_no_date() -> None:
    """Where the interval of the slope has zero in it the set has no end (Fieller): both ways, or one way from a day."""
    x = np.arange(6.0)
    level = straight_line(x, np.array([0.0, 1.0, 0.0, 1.0, 0.0, 1.0]))
    assert reached(level, 0.5, 2.776) == (-inf, inf)
    rising = straight_line(x, np.array([0.0, 0.4, -0.3, 0.5, 0.0, 0.5]))
    t = float(t_quantile(0.975, rising.free))
    low, high = reached(rising, 20.0, t)
    assert low > 5
    assert isinf(high)
    assert abs(20.0 - rising.at(low)) == pytest.approx(t * error_at(rising, low))


def test_the_thermometer_of_the_guide_is_read_ahead() -> None:
    """JCGM 100:2008 (GUM), H.3 and table H.6, t0 = 20; the figures from memory."""
    t = numbers("21.521 22.012 22.512 23.003 23.507 23.999 24.513 25.002 25.503 26.010 26.511")
    b = numbers("-.171 -.169 -.166 -.159 -.164 -.165 -.156 -.157 -.159 -.161 -.160")
    line = straight_line(t, b)
    assert [line.at(20.0), error_at(line, 20.0)] == pytest.approx([-0.1712, 0.0029], abs=5e-5)
    assert [line.slope, line.slope_error] == pytest.approx([0.00218, 0.00067], abs=5e-6)
    assert line.sd == pytest.approx(0.0035, abs=5e-5)
    assert [line.at(30.0), error_at(line, 30.0)] == pytest.approx([-0.1494, 0.0041], abs=5e-5)
    correlation = (20.0 - line.middle) * line.slope_error / error_at(line, 20.0)
    assert correlation == pytest.approx(-0.930, abs=1e-3)


def test_two_meters_agree_as_far_as_the_paper_says() -> None:
    """Bland and Altman, Lancet 1986, i: 307-310, peak flow of 17 people, multiple 2; intervals from memory."""
    large = numbers("494 395 516 434 476 557 413 442 650 433 417 656 267 478 178 423 427")
    small = numbers("512 430 520 428 500 600 364 380 658 445 432 626 260 477 259 350 451")
    found = agreement(large, small, 2.0)
    assert found.bias == pytest.approx(-2.1, abs=0.05)
    assert found.sd == pytest.approx(38.8, abs=0.05)
    assert [found.lower, found.upper] == pytest.approx([-79.7, 75.5], abs=0.2)  # the paper rounds on its way
    assert found.bias_range == pytest.approx((-22.0, 17.8), abs=0.2)
    assert found.lower_range == pytest.approx((-114.3, -45.1), abs=0.2)
    assert found.upper_range == pytest.approx((40.9, 110.1), abs=0.2)


def test_limits_of_agreement_begin_with_six_pairs() -> None:
    """Five pairs tell a bias with its interval and no limits, six tell limits; one pair tells a difference alone."""
    a = np.array([1.0, 2.0, 3.0, 4.0, 5.0, 6.0])
    b = a - np.array([0.1, 0.2, 0.1, 0.3, 0.2, 0.1])
    assert agreement(a[:1], b[:1]).bias_range is None
    assert agreement(a[:5], b[:5]).bias_range is not None
    assert agreement(a[:5], b[:5]).lower is None
    assert agreement(a, b).lower is not None


def test_a_difference_that_grows_with_size_is_seen_from_ten_pairs_on() -> None:
    """A difference of 2 % over a wide range: told with ten pairs, taken as the same everywhere with nine."""
    a = np.linspace(100, 200, 10)
    b = 0.98 * a + np.array([0.1, -0.1] * 5)
    found = agreement(a, b)
    assert found.grows
    assert found.with_size is not None
    assert found.with_size[0] == pytest.approx(0.02, abs=0.002)
    assert agreement(a[1:], b[1:]).with_size is None


def test_the_median_slope_is_that_of_the_package() -> None:
    """R package statpsych, example of ci.theil, after Hollander and Wolfe; x has ties, whose pairs are left out."""
    x = numbers("67 28 30 28 52 40 25 37 44 10 14 20 28 40 51")
    y = numbers("21 4 9 12 35 18 10 22 24 1 6 8 13 16 19")
    assert rank_trend(x, y) == pytest.approx((0.5, 0.3243243, 0.75), abs=1e-7)


def test_the_test_of_ranks_counts_ties_as_the_agency_does() -> None:
    """EPA QA/G-9S (2006), page 109, Mann-Kendall with groups of four and two ties."""
    found = trend_test(numbers("10 10 10 5 10 20 18 17 15 24 15"))
    assert found.s == 22
    assert found.variance == pytest.approx(155.33, abs=0.005)
    assert found.z == pytest.approx(1.685, abs=0.0005)


def test_the_chance_to_conform_is_that_of_the_guide() -> None:
    """JCGM 106:2012, 7.4: y = 13.6, u = 1.8 between 12.5 and 16.3; the result from memory."""
    one, none = np.ones((1, 1)), np.zeros((1, 1))
    measured = Paths(np.zeros(1), one, 13.6 * one, none, 1.8**2 * one, none, none, none)
    outside = chance_outside(measured, 0.0, np.array([12.5]), np.array([16.3]))
    assert 1 - float(outside[0]) == pytest.approx(0.66, abs=0.005)


def test_the_multiples_of_a_guard_band_are_those_of_the_guide() -> None:
    """JCGM 106:2012, 7.3, table 1, values from memory; and more digits of any table of the normal."""
    assert normal_quantile([0.8, 0.9, 0.95, 0.99, 0.999]) == pytest.approx([0.84, 1.28, 1.64, 2.33, 3.09], abs=0.0051)
    assert normal_quantile([0.975, 1e-20]) == pytest.approx([1.959963984540054, -9.262340089798408], rel=1e-14)


def test_the_normal_and_its_inverse_undo_each_other_far_out() -> None:
    """Down to a chance of 1e-300 on the low side; Phi(-1.96) = 0.0249979 and Phi(-10) = 7.61985e-24 of tables."""
    assert normal_cdf([-1.96, -10.0]) == pytest.approx([0.0249978951482204, 7.61985302416053e-24], rel=1e-13)
    chance = 10.0 ** -np.arange(1, 300)
    assert normal_cdf(normal_quantile(chance)) == pytest.approx(chance, rel=1e-11)


def test_the_quantiles_of_student_are_those_of_tables() -> None:
    """NIST/SEMATECH e-Handbook, 1.3.6.7.2, from memory; 0.999 from two degrees on, as of one degree tables differ."""
    free = [1, 2, 5, 10, 30, 100]
    assert t_quantile(0.975, free) == pytest.approx([12.706, 4.303, 2.571, 2.228, 2.042, 1.984], abs=5.1e-4)
    assert t_quantile(0.999, free[1:]) == pytest.approx([22.327, 5.893, 4.144, 3.385, 3.174], abs=5.1e-4)
    assert t_cdf(t_quantile(0.025, free), free) == pytest.approx([0.025] * 6, rel=1e-11)


def test_student_with_one_degree_is_in_closed_form_and_with_many_the_normal() -> None:
    """One degree: 1/2 + arctan(t) / pi; two: 1/2 + t / (2 sqrt(2 + t^2)); both exact."""
    t = np.array([-300.0, -3.0, -0.2, 0.0, 0.7, 40.0])
    assert t_cdf(t, 1) == pytest.approx(0.5 + np.arctan(t) / np.pi, rel=1e-11)
    assert t_cdf(t, 2) == pytest.approx(0.5 + t / (2 * np.sqrt(2 + t * t)), rel=1e-9)
    assert t_cdf(np.array([-2.0, 1.0]), 1e9) == pytest.approx(normal_cdf([-2.0, 1.0]), rel=1e-8)
