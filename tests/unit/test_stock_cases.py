"""The projection of a supply fed with published cases, beside another library, and what must hold whatever is given.

Two kinds of published case ask what nothing here answers. Dynamic lot sizing (Snyder & Shen, Fundamentals of Supply
Chain Theory, 2nd ed., example 3.9: 500 an order, 2 a period; 90, 120, 80 and 70 are had by orders of 210, 0, 150, 0
for 1380) wants the least cost of a demand that is known and ends; here one order after another is chosen by its cost
per day, of a demand that goes on. The methods of Croston, of Syntetos and Boylan, and of Teunter, Syntetos and Babai
weigh the latest uses most and give one figure; what is drawn here goes by the whole history (`test_expected_use.py`
has both for one published series).
"""

from __future__ import annotations

import json
from copy import deepcopy
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from collection.analysis.netting import Need, net_by_day
from collection.analysis.stock_plan.given import (
    AmountGiven,
    JobGiven,
    LeadGiven,
    LotGiven,
    OfferGiven,
    OrderGiven,
    SupplyGiven,
    UnplannedGiven,
)
from collection.analysis.stock_plan.plan import plan_supply
from collection.analysis.take_order import Lot
from collection.views.stock_keep import digest, from_plain, plain
from tests.support.times import TODAY

CHANCE = 0.013  # four standard errors of a chance of 5 % in 4000 paths
YEAR = 365.25


def every_day(amount: AmountGiven, stock: int, **more: Any) -> SupplyGiven:
    """Return a supply that is used once a day."""
    jobs = tuple(JobGiven(day, 0.0, 1.0, 0) for day in range(730))
    return replace(SupplyGiven(seed=1, lots=(LotGiven(stock),), jobs=jobs, amounts=(amount,)), **more)


def offer(lead: LeadGiven, price: int = 0, from_packs: int = 1, shipping: int = 0) -> OfferGiven:
    """Return a price of packs of one step."""
    return OfferGiven(1, 1, price, from_packs, 1, shipping, lead)


def drawn_from(law: Any) -> LeadGiven:
    """Return past lead times that together are a distribution."""
    return LeadGiven(None, tuple(int(each) for each in np.rint(law.ppf((np.arange(400) + 0.5) / 400))))


def steady(a_year: float) -> AmountGiven:
    """Return a day's part of a use that is the same every day."""
    return AmountGiven(a_year / YEAR, spread=0.0)


def test_the_economic_order_quantity_is_that_of_the_textbook() -> None:
    """Snyder & Shen, Fundamentals of Supply Chain Theory (2nd ed.), example 3.1: 304.05 at 8, 0.225 and 1300 a year.

    Of the quantities judged, each about a fifth apart, the one is taken whose cost is lowest by the formula too.
    """
    found = plan_supply(
        every_day(steady(1300), 100, order_cost=800, offers=(offer(LeadGiven(7, (), 0.0), 225),), paths=20)
    )

    def cost(quantity: float) -> float:
        return 8 * 1300 / quantity + 0.225 * quantity / 2

    assert found.chosen is not None
    best = found.candidates[found.chosen].steps
    assert cost(best) == pytest.approx(68.41052550594829, rel=0.02)
    assert best == min((each.steps for each in found.candidates), key=cost)


def test_the_deepest_price_break_is_taken_where_it_pays() -> None:
    """Stevenson, Operations Management, quantity discounts: of 1, 50, 80 and 100 at 20, 18, 17 and 16 order 100.

    816 a year, 12 an order; the book's holding cost of 4 is here a fifth of the price, and the answer the same.
    """
    breaks = [(1, 2000), (50, 1800), (80, 1700), (100, 1600)]
    offers = tuple(offer(LeadGiven(7, (), 0.0), price, least) for least, price in breaks)
    found = plan_supply(every_day(steady(816), 100, order_cost=1200, holding=0.2, offers=offers, paths=20))

    assert found.chosen is not None
    assert found.candidates[found.chosen].steps == 100


@pytest.mark.parametrize(("stock", "is_enough"), [(7, False), (8, True), (9, True)])
def test_the_stock_for_poisson_demand_is_that_of_the_textbook(stock: int, is_enough: bool) -> None:
    """Snyder & Shen (2nd ed.), example 4.7: mean 6, critical ratio 0.8: 8 is the least that suffices."""
    told = UnplannedGiven(0, 0.0, 6e6, 1e6, 30.4375 / 31, 0)
    chance = _short_of(told, stock)

    assert (chance <= 0.2) is is_enough
    assert chance == pytest.approx(stats.poisson.sf(stock, 6), abs=2 * CHANCE)


@pytest.mark.parametrize(("stock", "enough"), [(0, 0.0392751), (6, 0.9198746), (7, 0.9622252)])
def test_unplanned_use_is_the_gamma_poisson_of_the_book(stock: int, enough: float) -> None:
    """Johnson, Ott & Dogucu, Bayes Rules!, 5.2: prior gamma(10, 2), data 6, 2, 2, 1: posterior gamma(21, 6)."""
    told = UnplannedGiven(11, 4.0, 10.0, 2.0, 30.4375 / 31, 0)

    assert 1 - _short_of(told, stock) == pytest.approx(enough, abs=CHANCE)
    assert enough == pytest.approx(stats.nbinom.cdf(stock, 21, 6 / 7), abs=1e-6)


def _short_of(told: UnplannedGiven, stock: int) -> float:
    """Return the chance that one unit-month of use, drawn over 31 days, takes more than there is."""
    supply = SupplyGiven(
        seed=3, lots=(LotGiven(stock),), amounts=(AmountGiven(1.0, piece=1),), unplanned=told, horizon=30, ahead=31
    )
    return plan_supply(supply).run_out.chance


def test_the_reorder_point_under_varying_use_is_that_of_the_textbook() -> None:
    """Taylor, Introduction to Management Science, chapter 16: 30 a day, deviation 5, 10 days, 95 %: 326.

    At that stock the chance of running short before an order of today comes is 5 %.
    """
    known = AmountGiven(30.0, uses=1e6, total=30e6, spread=5 / 30)
    found = plan_supply(every_day(known, 326, offers=(offer(LeadGiven(10, (), 0.0), 100),)))

    assert found.short_before == pytest.approx(0.05, abs=CHANCE)


def test_the_reorder_point_under_varying_lead_times_is_that_of_the_textbook() -> None:
    """Heizer & Render, Operations Management, chapter 12, p. 543: 60 a week, 6 weeks, deviation 2, 90 %: 514."""
    lead = drawn_from(stats.norm(42, 14))
    found = plan_supply(every_day(steady(60 / 7 * YEAR), 514, offers=(offer(lead, 100),)))

    assert found.short_before == pytest.approx(0.10, abs=2 * CHANCE)


def test_the_day_to_order_by_comes_from_the_whole_lead_time_and_not_from_the_normal_formula() -> None:
    """Constructed: 40 on hand, one a day, gamma lead time (mean 10, deviation 3): 24.609; the formula says 25.065."""
    lead = drawn_from(stats.gamma((10 / 3) ** 2, scale=0.9))
    found = plan_supply(every_day(AmountGiven(1.0, spread=0.0), 40, offers=(offer(lead, 100),)))

    assert found.order_by == 24  # whole days: 25 would be too late


def test_stock_that_passes_its_date_is_that_of_the_worked_example() -> None:
    """Public worked example: 62 a month for six months out of 500 wastes 128; out of twice 200 nothing."""
    jobs = tuple(JobGiven(15 + 30 * month, 0.0, 1.0, 0) for month in range(6))

    def waste(*lots: LotGiven) -> float:
        told = SupplyGiven(seed=1, lots=lots, jobs=jobs, amounts=(AmountGiven(62.0, spread=0.0),), paths=20)
        return sum(plan_supply(told).waste)

    assert waste(LotGiven(500, 180)) == pytest.approx(128)
    assert waste(LotGiven(200, 180)) == 0


def test_the_sum_of_uses_is_the_closed_form_of_the_gamma_gamma_model() -> None:
    """Fader & Hardie, note 025: so many uses to come are a beta prime, what is not known of the mean drawn once."""
    jobs = tuple(JobGiven(10 * number, 0.0, 1.0, 0) for number in range(9))
    told = AmountGiven(3.0, uses=6, total=21.0, spread=0.4)
    shape = 1 / 0.4**2
    law = stats.betaprime(9 * shape, 8 * shape + 1, scale=2 * 3.0 + 21.0)
    found = plan_supply(SupplyGiven(seed=2, jobs=jobs, amounts=(told,))).planned

    assert (found.mean, found.low, found.high) == pytest.approx((law.mean(), *law.ppf([0.1, 0.9])), rel=0.02)


# --- whatever is given -------------------------------------------------------------------------------------

days = st.lists(st.integers(0, 300), min_size=1, max_size=8)


def _uncertain(on: list[int], stock: int, lead: float, wanted: float) -> SupplyGiven:
    jobs = tuple(JobGiven(day, 10.0, 0.8, 0) for day in sorted(on))
    offers = (offer(LeadGiven(lead), 100),)
    return SupplyGiven(5, (LotGiven(stock),), jobs, (AmountGiven(3.0),), None, (), offers, wanted, paths=300)


def _by(supply: SupplyGiven) -> float:
    found = plan_supply(supply).order_by
    return float("inf") if found is None else found


@settings(max_examples=20, deadline=None)
@given(days, st.integers(0, 20), st.integers(1, 10), st.integers(3, 40), st.sampled_from([0.8, 0.9, 0.95]))
def test_more_stock_is_never_worse_and_a_longer_way_or_a_greater_promise_never_later(
    on: list[int], stock: int, more: int, lead: int, wanted: float
) -> None:
    """With the same random numbers, and nothing that is opened."""
    supply = _uncertain(on, stock, lead, wanted)
    richer = replace(supply, lots=(LotGiven(stock + more),))

    assert plan_supply(richer).run_out.chance <= plan_supply(supply).run_out.chance
    assert _by(richer) >= _by(supply)
    assert _by(_uncertain(on, stock, lead + more, wanted)) <= _by(supply)
    assert _by(replace(supply, wanted=0.99)) <= _by(supply)


@settings(max_examples=20, deadline=None)
@given(days, st.lists(st.tuples(st.integers(0, 9), st.none() | st.integers(0, 300)), max_size=3))
def test_without_any_spread_the_projection_is_the_netting_table(
    on: list[int], held: list[tuple[int, int | None]]
) -> None:
    """Up to the first shortage, with lots that pass their dates."""
    held = sorted(held, key=lambda lot: 10**6 if lot[1] is None else lot[1])
    jobs = tuple(JobGiven(day, 0.0, 1.0, 0) for day in sorted(on))
    lots = tuple(LotGiven(*lot) for lot in held)
    found = plan_supply(SupplyGiven(1, lots, jobs, (AmountGiven(3.0, spread=0.0),), paths=10))
    start = TODAY.toordinal()
    day = TODAY.fromordinal
    table = net_by_day(
        [Need(day(start + each), 3) for each in on],
        [Lot(n, steps, None if end is None else day(start + end)) for n, (steps, end) in enumerate(held)],
        [],
        TODAY,
    )

    assert found.run_out.early == (None if table.first_short is None else table.first_short.toordinal() - start)


def _made(kind: type[Any], *fields: Any) -> st.SearchStrategy[Any]:
    """Draw each of the first fields of a tuple of a kind from its strategy, or take the value that stands for it."""
    drawn = [each if isinstance(each, st.SearchStrategy) else st.just(each) for each in fields]
    return st.tuples(*drawn).map(lambda values: kind(*values))


def _few(strategy: st.SearchStrategy[Any], most: int) -> st.SearchStrategy[tuple[Any, ...]]:
    return st.lists(strategy, max_size=most).map(tuple)


ends = st.none() | st.integers(0, 300)
leads = _made(LeadGiven, st.integers(2, 30), (), st.sampled_from([0.0, 0.5]))
amounts = st.sampled_from([AmountGiven(3.0), AmountGiven(2.0, 4, 15.0), AmountGiven(None, 3, 11.0, 0.2, 0.4, 5, 1)])
anything = st.builds(
    SupplyGiven,
    seed=st.integers(0, 2**32),
    lots=_few(_made(LotGiven, st.integers(1, 40), ends, ends), 3),
    jobs=_few(_made(JobGiven, st.integers(0, 500), st.sampled_from([0.0, 9.5]), st.sampled_from([0.3, 1.0]), 0), 6),
    amounts=st.tuples(amounts, amounts),
    unplanned=st.none() | _made(UnplannedGiven, st.integers(0, 6), 40.0, 0.5, 1.0, 4.0, 1),
    orders=_few(_made(OrderGiven, st.integers(1, 30), st.integers(0, 9), leads, ends, ends), 1),
    offers=_few(
        _made(
            OfferGiven, st.integers(0, 1), st.integers(2, 20), st.integers(50, 900), st.integers(1, 4), 1,
            st.integers(0, 600), leads,
        ),
        2,
    ),
    keeps=ends,
    keeps_open=ends,
    drying=st.sampled_from([(0.0, 0.0), (0.02, 0.01)]),
    unbooked=st.sampled_from([(0.0, 0.0), (3.0, 1.0)]),
    order_cost=st.sampled_from([0, 500]),
    quiet=st.integers(0, 90),
    paths=st.just(60),
)  # fmt: skip


@settings(max_examples=20, deadline=None)
@given(anything)
def test_another_unit_and_another_currency_change_no_day_and_no_number_of_packs(supply: SupplyGiven) -> None:
    """A thousand times as many steps and a hundred times the price: the same state, days, chances and packs."""
    once, again = plan_supply(supply), plan_supply(_finer(supply))

    assert (once.state, once.order_by, once.run_out, once.short_before, once.chosen, once.held_up, once.overdue) == (
        again.state, again.order_by, again.run_out, again.short_before, again.chosen, again.held_up, again.overdue,
    )  # fmt: skip
    assert [(one.packs, one.lasts, one.chance_short) for one in once.candidates] == [
        (one.packs, one.lasts, one.chance_short) for one in again.candidates
    ]
    assert [100 * one.cost for one in once.candidates] == [one.cost for one in again.candidates]
    assert [100 * one.per_day for one in once.candidates] == pytest.approx([one.per_day for one in again.candidates])


def _finer(supply: SupplyGiven) -> SupplyGiven:
    """Return the same supply in steps of a thousandth, with prices in a currency of a hundredth."""
    steps, price = 1000, 100
    return replace(
        supply,
        lots=tuple(lot._replace(steps=steps * lot.steps) for lot in supply.lots),
        amounts=tuple(
            one._replace(sheet=None if one.sheet is None else steps * one.sheet, total=steps * one.total)
            for one in supply.amounts
        ),
        orders=tuple(order._replace(steps=steps * order.steps) for order in supply.orders),
        offers=tuple(
            one._replace(pack=steps * one.pack, price=price * one.price, shipping=price * one.shipping)
            for one in supply.offers
        ),
        drying=(steps * supply.drying[0], steps * supply.drying[1]),
        unbooked=(steps * supply.unbooked[0], steps * supply.unbooked[1]),
        order_cost=price * supply.order_cost,
    )


@settings(max_examples=20, deadline=None)
@given(anything)
def test_what_is_found_is_the_same_to_the_last_bit_and_so_is_what_is_kept_of_it(supply: SupplyGiven) -> None:
    """Equal input bears one name and finds one answer; kept as JSON and read again it is that answer still."""
    found, same = plan_supply(supply), deepcopy(supply)

    assert digest(same) == digest(supply)
    assert plan_supply(same) == found
    assert from_plain(json.loads(json.dumps(plain(found)))) == found
    assert digest(replace(supply, seed=supply.seed + 1)) != digest(supply)
