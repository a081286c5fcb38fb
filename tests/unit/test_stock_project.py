"""The closed form of the projection against a walk through the days."""

from __future__ import annotations

import numpy as np
import pytest

from collection.analysis.stock_plan.draws import Drawn
from collection.analysis.stock_plan.given import NEVER, LotGiven
from collection.analysis.stock_plan.project import Paths, lots_on_shelf, on_hand, run_out, wasted, with_arrivals
from tests.support.shelf_walk import WalkedLot, walk

DAYS = 40


def _paths(uses: np.ndarray, drying: np.ndarray | None = None, missing: float = 0.0) -> Paths:
    path, day = np.nonzero(uses)
    empty = np.zeros(len(uses))
    no_jobs = np.zeros((0, len(uses)), dtype=np.int32)
    less = np.full(len(uses), missing)
    sudden = path[:0], day[:0], empty[:0]
    return Paths(Drawn(uses.shape[1], path, day, uses[path, day], drying, less, empty, empty, sudden, no_jobs))


def _lots(dice: np.random.Generator) -> list[LotGiven]:
    """Return some lots in take order, open ones and such with an open life among them."""
    ends = sorted(int(day) if day < 60 else NEVER for day in dice.integers(0, 80, dice.integers(0, 4)))
    return [
        LotGiven(
            int(dice.integers(1, 25)),
            None if end == NEVER else end,
            int(dice.integers(0, 20)) if dice.random() < 0.4 else None,
        )
        for end in ends
    ]


@pytest.mark.parametrize("seed", range(40))
def test_levels_of_use_give_what_a_walk_through_the_days_gives(seed: int) -> None:
    """The first unmet use, what is on hand every day and what passes its date, with arrivals in any order."""
    dice = np.random.default_rng(seed)
    uses = np.where(dice.random((30, DAYS)) < 0.3, dice.integers(1, 8, (30, DAYS)), 0).astype(float)
    lots = _lots(dice)
    arrivals = int(dice.integers(0, 3))
    steps = dice.integers(1, 20, (arrivals, 30)).astype(float)
    comes = np.where(dice.random((arrivals, 30)) < 0.1, NEVER, dice.integers(0, DAYS, (arrivals, 30))).astype(float)
    keeps = int(dice.integers(3, 30)) if dice.random() < 0.5 else None
    open_days = int(dice.integers(0, 10)) if dice.random() < 0.5 else None
    paths = _paths(uses)

    shelf = with_arrivals(paths, lots_on_shelf(paths, lots), steps, comes, keeps, open_days)
    out, held, waste = run_out(paths, shelf), on_hand(paths, shelf), wasted(shelf, DAYS)

    for path in range(30):
        there = [WalkedLot(lot.steps, 0, NEVER if lot.through is None else lot.through, lot.open_days) for lot in lots]
        order = np.argsort(comes[:, path], kind="stable")
        for place in order:
            day = int(comes[place, path])
            there.append(WalkedLot(steps[place, path], day, NEVER if keeps is None else day + keeps, open_days))
        walked = walk(uses[path].tolist(), there)
        assert out[path] == (NEVER if walked.first is None else walked.first), path
        assert held[path] == pytest.approx(walked.on_hand), path
        gone = sum(each.left for each in there if each.through < DAYS and each.comes < NEVER)
        assert waste[:, path].sum() == pytest.approx(gone), path


def test_an_order_that_arrives_on_the_first_short_day_is_in_time() -> None:
    """A day later it is not."""
    paths = _paths(np.array([[0.0, 0.0, 5.0, 0.0, 5.0, 0.0]] * 3))
    shelf = lots_on_shelf(paths, [LotGiven(5)])

    out = run_out(paths, with_arrivals(paths, shelf, np.full((1, 3), 9.0), np.array([[3.0, 4.0, 5.0]]), None, None))

    assert [NEVER, NEVER, 4] == out.tolist()


@pytest.mark.parametrize(("through", "met"), [(1, False), (2, True), (3, True)])
def test_the_last_usable_day_is_one_on_which_it_is_used(through: int, met: bool) -> None:
    """The day before its use it is gone, on the day itself not."""
    paths = _paths(np.array([[0.0, 0.0, 5.0, 0.0]]))
    assert (run_out(paths, lots_on_shelf(paths, [LotGiven(5, through)])) == NEVER).tolist() == [met]


def test_what_the_book_has_below_zero_is_taken_from_the_other_lots() -> None:
    """The plan starts at no less than nothing."""
    paths = _paths(np.array([[1.0, 1.0, 1.0, 1.0]]))
    for lots, day in (([LotGiven(5), LotGiven(-3)], 2), ([LotGiven(-9), LotGiven(3)], 0), ([LotGiven(-2)], 0)):
        assert run_out(paths, lots_on_shelf(paths, lots)).tolist() == [day]


def test_what_the_shelf_has_less_than_the_book_is_taken_from_the_lots_used_first() -> None:
    """Three of five are not there: the second lot begins a day sooner, and nothing is below nothing."""
    uses = np.array([[1.0, 1.0, 1.0, 1.0]])
    lots = [LotGiven(2), LotGiven(3)]
    for missing, day in ((0.0, NEVER), (1.0, NEVER), (2.0, 3), (3.0, 2), (9.0, 0)):
        paths = _paths(uses, missing=missing)
        assert run_out(paths, lots_on_shelf(paths, lots)).tolist() == [day], missing


def test_what_dries_away_leaves_no_use_unmet_by_itself() -> None:
    """Half a step a day, week by week: the day is that of the first use after the shelf is empty."""
    uses = np.zeros((1, 30))
    uses[0, [0, 9, 20, 25]] = 1.0
    paths = _paths(uses, np.array([0.5]))
    for stock, day in ((1, 9), (5, 9), (6, 20), (13, 20), (14, 25), (17, 25), (18, NEVER)):
        assert [day] == run_out(paths, lots_on_shelf(paths, [LotGiven(stock)])).tolist(), stock
    assert [0] == run_out(paths, lots_on_shelf(paths, [])).tolist()
