"""Published cases whose demand is none that the draws can make: the projection is fed with the paths themselves."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from collection.analysis.stock_plan.draws import Drawn
from collection.analysis.stock_plan.given import NEVER, AmountGiven, JobGiven, LotGiven, SupplyGiven
from collection.analysis.stock_plan.plan import plan_supply
from collection.analysis.stock_plan.project import Paths, lots_on_shelf, run_out

PATHS = 4000


def _share_enough(demand: np.ndarray, stock: int) -> float:
    """Return in what share of paths the stock meets one demand."""
    count = len(demand)
    nothing, no_jobs = np.zeros(count), np.zeros((0, count), dtype=np.int32)
    on = np.zeros(count, dtype=np.int64)
    sudden = on[:0], on[:0], nothing[:0]
    paths = Paths(
        Drawn(2, np.arange(count), on, demand.astype(float), None, nothing, nothing, nothing, sudden, no_jobs)
    )
    return float(np.mean(run_out(paths, lots_on_shelf(paths, [LotGiven(stock)])) == NEVER))


@pytest.mark.parametrize(
    ("mean", "deviation", "chance", "stock"),
    [
        (50, 5, 0.97, 59.403968),
        (1300 / 12, 150 / 12**0.5, 7.5 / 7.725, 190.3369965715624),
        (50, 8, 0.7 / 0.88, 56.60395592743389),
    ],
)
def test_stock_for_normal_demand_suffices_as_often_as_the_textbook_says(
    mean: float, deviation: float, chance: float, stock: float
) -> None:
    """The printed stock, in thousandths, suffices as often as is wanted, and a tenth less as often as the tables say.

    Stevenson, Operations Management (14th ed.), chapter 12, example 8; Snyder & Shen, Fundamentals of Supply Chain
    Theory (2nd ed.), example 5.5 (critical ratio 7.5 / 7.725) and example 4.3 (0.7 / 0.88).
    """
    demand = np.maximum(1000 * stats.norm(mean, deviation).ppf((np.arange(PATHS) + 0.5) / PATHS), 0.0)

    assert _share_enough(demand, round(1000 * stock)) == pytest.approx(chance, abs=1 / PATHS)
    fewer = float(stats.norm.cdf(0.9 * stock, mean, deviation))
    assert _share_enough(demand, round(900 * stock)) == pytest.approx(fewer, abs=1 / PATHS)


@pytest.mark.parametrize(("stock", "share"), [(15, 0.4), (16, 0.6), (17, 0.9), (18, 1.0)])
def test_the_stock_for_the_newsboy_is_the_least_that_half_of_the_paths_need_no_more_than(
    stock: int, share: float
) -> None:
    """Hillier & Lieberman, Introduction to Operations Research, inventory: 15 to 18 at 0.4, 0.2, 0.3, 0.1: stock 16.

    What is missing costs 1.0 and what is left 1.0, so half of the time is enough.
    """
    enough = _share_enough(np.repeat([15, 16, 17, 18], [4, 2, 3, 1]), stock)

    assert enough == pytest.approx(share)
    assert (enough >= 0.5) is (stock >= 16)


@pytest.mark.parametrize(("uses", "mean", "expected"), [(2, 22.35, 24.65), (1, 11.77, 18.91), (0, 0.0, 35.17)])
def test_the_amount_of_a_use_lies_between_its_own_mean_and_the_usual_one(
    uses: int, mean: float, expected: float
) -> None:
    """Fader & Hardie, note 025 and its spreadsheet: shape 6.25, q 3.74, scale 15.44; the inputs from memory.

    Its prior counts as 2.74 / 6.25 uses that took 15.44 together. Five jobs take five times as much, within four
    standard errors of the beta prime distribution that their sum has.
    """
    before = 2.74 / 6.25
    amount = AmountGiven(None, uses=before + uses, total=15.44 + uses * mean, spread=1 / 6.25**0.5)
    found = plan_supply(SupplyGiven(seed=4, jobs=(JobGiven(3, 0.0, 1.0, 0),) * 5, amounts=(amount,), paths=PATHS))
    law = stats.betaprime(5 * 6.25, 6.25 * uses + 3.74, scale=15.44 + uses * mean)

    assert law.mean() / 5 == pytest.approx(expected, abs=0.1)
    assert found.planned.mean == pytest.approx(law.mean(), abs=4 * law.std() / PATHS**0.5)
    assert found.planned.high == pytest.approx(law.ppf(0.9), rel=0.08)
