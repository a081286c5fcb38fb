"""What is drawn, beside the distributions of another library (scipy.stats)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from collection.analysis.stock_plan.draws import arrivals, draw, lead_days
from collection.analysis.stock_plan.given import (
    NEVER,
    AmountGiven,
    JobGiven,
    LeadGiven,
    OrderGiven,
    SupplyGiven,
    UnplannedGiven,
)

PATHS = 4000
SURE = 4 * 0.5 / PATHS**0.5  # four standard errors of a share, at most


def _share_below(drawn: np.ndarray, value: float) -> float:
    return float(np.mean(drawn <= value))


@pytest.mark.parametrize("jobs", [1, 6])
def test_parts_changed_on_inspection_are_beta_binomial(jobs: int) -> None:
    """The sheet's one in two counts as two services; two of seven took one: Beta(3, 6)."""
    amount = AmountGiven(1.0, chance=0.5, times=7, taken=2, piece=1)
    given = SupplyGiven(seed=5, jobs=(JobGiven(3, 0.0, 1.0, 0),) * jobs, amounts=(amount,))
    taken = draw(given).planned
    for number in range(jobs + 1):
        assert _share_below(taken, number) == pytest.approx(stats.betabinom.cdf(number, jobs, 3, 6), abs=SURE)


def test_pieces_by_the_handful_are_poisson_at_a_rate_that_uses_tell() -> None:
    """Sheet of four pieces, five uses of 25: gamma(33) over 7 uses; three jobs take a negative binomial number."""
    given = SupplyGiven(seed=6, jobs=(JobGiven(3, 0.0, 1.0, 0),) * 3, amounts=(AmountGiven(4.0, 5, 25.0, piece=1),))
    taken = draw(given).planned
    for number in (8, 14, 20):
        assert _share_below(taken, number) == pytest.approx(stats.nbinom.cdf(number, 33, 7 / 10), abs=SURE)


def test_unplanned_use_is_negative_binomial_in_unit_months() -> None:
    """Two events in 48 unit-months with a prior of gamma(0.5, 6), ten units over a year."""
    told = UnplannedGiven(2, 48.0, 0.5, 6.0, 10.0, 0)
    given = SupplyGiven(seed=7, amounts=(AmountGiven(1.0, piece=1),), unplanned=told)
    taken = draw(given).unplanned
    ahead = 10 * 365 / 30.4375
    for number in (0, 3, 6, 12):
        expected = stats.nbinom.cdf(number, 2.5, 54 / (54 + ahead))
        assert _share_below(taken, number) == pytest.approx(expected, abs=SURE)


def test_lead_times_have_the_mean_of_what_was_said_and_seen() -> None:
    """Fourteen days count as two orders beside 10 and 22: gamma of mean 15 over a gamma rate, rounded up to days."""
    lead, given = LeadGiven(14, (10, 22), 0.5), SupplyGiven(seed=8)
    days = lead_days(given, 0, lead, PATHS)
    law = stats.betaprime(4, 4 * 4 + 1, scale=60)
    for share in (0.1, 0.5, 0.9):
        day = int(np.ceil(law.ppf(share)))
        assert _share_below(days, day) == pytest.approx(law.cdf(day), abs=SURE)


def test_from_eight_orders_on_they_stand_for_themselves_with_both_humps() -> None:
    """Seven of ten days and three of fifty: hardly any takes thirty."""
    seen = LeadGiven(14, (10,) * 7 + (50,) * 3)
    days = lead_days(SupplyGiven(seed=9), 0, seen, PATHS)
    assert np.mean(days > 30) == pytest.approx(0.3, abs=SURE)
    assert np.mean((days > 18) & (days < 35)) < 0.01
    few = lead_days(SupplyGiven(seed=9), 0, LeadGiven(14, (10,) * 5 + (50,) * 2), PATHS)
    assert np.mean((few > 18) & (few < 35)) > 0.1


@pytest.mark.parametrize("elapsed", [0, 10, 25])
def test_an_order_under_way_takes_longer_than_it_has_taken(elapsed: int) -> None:
    """The law of what is left is the law of lead times cut off at the days that have passed."""
    given = SupplyGiven(seed=10, orders=(OrderGiven(1, elapsed, LeadGiven(14, (10, 22), 0.5)),))
    days, overdue = arrivals(given, PATHS)
    law = stats.betaprime(4, 4 * 4 + 1, scale=60)
    assert () == overdue
    assert days.min() >= 1
    for later in (3, 10, 20):
        expected = (law.cdf(elapsed + later) - law.cdf(elapsed)) / law.sf(elapsed)
        assert _share_below(days[0], later) == pytest.approx(expected, abs=2 * SURE)


def test_an_order_without_any_lead_time_does_not_arrive() -> None:
    """Nor is it called overdue: nobody knows."""
    days, overdue = arrivals(SupplyGiven(seed=1, orders=(OrderGiven(1, 5, LeadGiven(None)),)), 10)
    assert ((days == NEVER).all(), overdue) == (True, ())
