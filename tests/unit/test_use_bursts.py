"""Uses that come together: what is learnt of them, and what is drawn."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from collection.analysis.stock_plan.draws import draw
from collection.analysis.stock_plan.given import AmountGiven, SupplyGiven, UnplannedGiven
from collection.analysis.use_bursts import WITHIN, brought, follow, with_bursts, worth

FIRST, TODAY = date(2020, 1, 1), date(2026, 3, 1)
WATCHED = (TODAY - FIRST).days


def _days(ahead: np.ndarray) -> list[date]:
    return [FIRST + timedelta(days=int(day)) for day in ahead]


def _neyman_scott(dice: np.random.Generator, parents: float, more: float, days: int) -> np.ndarray:
    """Bursts of one use and a Poisson number of others in the month after it."""
    begins = dice.integers(0, days, dice.poisson(parents))
    further = np.repeat(begins, dice.poisson(more, len(begins)))
    return np.concatenate([begins, further + dice.integers(1, WITHIN + 1, len(further))])


@pytest.mark.parametrize("more", [0.5, 1.0])
def test_the_size_of_bursts_is_found_again(more: float) -> None:
    """Of many bursts of a known size, in more years than any book has."""
    dice = np.random.default_rng(3)
    seen = _days(_neyman_scott(dice, 3000, more, 2_000_000))
    assert brought(follow(seen, 2_000_000)) == pytest.approx(more, rel=0.1)


def test_uses_that_come_by_chance_alone_are_hardly_taken_for_bursts() -> None:
    """A dozen in six years: on average one in twenty is thought to bring another, at most."""
    dice = np.random.default_rng(4)
    found = [follow(_days(dice.integers(0, WATCHED, 12)), WATCHED) for _ in range(400)]
    assert float(np.mean(found)) < 0.05


@pytest.mark.parametrize(("days", "bursts"), [((), False), ((5,), False), ((5, 900), False), ((5, 5, 9), True)])
def test_one_use_tells_nothing_of_bursts(days: tuple[int, ...], bursts: bool) -> None:
    """Nor do two that lie far apart; three within days do."""
    assert (follow(_days(np.array(days, dtype=int)), WATCHED) > 0) == bursts


def test_two_uses_a_month_apart_are_together_and_a_day_more_is_apart() -> None:
    """The month is thirty days."""
    together, apart = ([FIRST, FIRST + timedelta(days=days)] for days in (WITHIN, WITHIN + 1))
    assert follow(together, WATCHED) > follow(apart, WATCHED) == 0


def test_every_pair_within_a_month_counts_once() -> None:
    """Held against a count of all pairs one by one, of days in no order and some of them twice."""
    ahead = [3, 3, 40, 33, 10, 500, 41, 500, 531, 71]
    pairs = sum(abs(one - other) <= WITHIN for place, one in enumerate(ahead) for other in ahead[:place])
    by_chance = 10 * 9 * WITHIN / WATCHED * (1 - WITHIN / WATCHED / 2)
    assert follow(_days(np.array(ahead)), WATCHED) == pytest.approx((pairs - by_chance) / (10 + 4))


def test_a_use_of_the_last_month_may_still_bring_others_and_an_older_one_does_not() -> None:
    """On the twenty-ninth day after it, on the thirtieth, and where there was none."""
    told = UnplannedGiven(3, 24.0, 0.5, 6.0, 1.0, 0)
    lasts = [with_bursts(told, [TODAY - timedelta(days=days)], 900, TODAY).last for days in (0, 29, 30)]
    assert [*lasts, with_bursts(told, [], 900, TODAY).last] == [0, 29, None, None]


def _uses(told: UnplannedGiven) -> np.ndarray:
    given = SupplyGiven(seed=7, amounts=(AmountGiven(1.0, piece=1),), unplanned=told, horizon=365)
    return draw(given).unplanned


def test_bursts_leave_the_mean_and_widen_the_spread_of_a_year() -> None:
    """Twelve a year, each with 0.5 more to follow: the variance is that of bursts, 1 + 2 x 0.5 times the mean."""
    told = UnplannedGiven(0, 0.0, 1e6, 1e6, 1.0, 0)
    apart, together = _uses(told), _uses(told._replace(follows=0.5))
    assert float(together.mean()) == pytest.approx(float(apart.mean()), rel=0.04)
    assert float(apart.var() / apart.mean()) == pytest.approx(1.0, rel=0.1)
    assert float(together.var() / together.mean()) == pytest.approx(1 / worth(0.5), rel=0.12)


def test_after_a_use_others_are_expected_in_the_month_to_come() -> None:
    """As many as follow, less what of the month has passed."""
    told = UnplannedGiven(0, 0.0, 1e6, 1e9, 1.0, 0, 0.6)
    means = [float(_uses(told._replace(last=last)).mean()) for last in (None, 0, 15)]
    assert means == pytest.approx([0.012, 0.612, 0.312], abs=0.04)
