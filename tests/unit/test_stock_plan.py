"""What to do about a supply: its states, its day to order by, and the quantity."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from collection.analysis.stock_plan.fan import fan_of
from collection.analysis.stock_plan.found import FINE, ORDER_BY, ORDER_NOW, TOO_LATE, UNKNOWN
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

CERTAIN = LeadGiven(14, (), 0.0)
OFFER = OfferGiven(supplier=0, pack=6, price=900, from_packs=1, minimum=1, shipping=400, lead=CERTAIN)
THREE = AmountGiven(3.0, spread=0.0)


def _given(*days: int, stock: int = 10, **more: Any) -> SupplyGiven:
    """Return a supply of which three steps are taken on each of some days, for certain."""
    jobs = tuple(JobGiven(day, 0.0, 1.0, 0) for day in days)
    told = SupplyGiven(seed=1, lots=(LotGiven(stock),), jobs=jobs, amounts=(THREE,), offers=(OFFER,), paths=200)
    return replace(told, **more)


@pytest.mark.parametrize(
    ("first", "state", "order_by"),
    [(13, TOO_LATE, -1), (14, ORDER_NOW, 0), (15, ORDER_BY, 1), (379, ORDER_BY, 365), (380, FINE, None)],
)
def test_the_state_follows_from_the_day_to_order_by(first: int, state: str, order_by: int | None) -> None:
    """The first use that cannot be met, less the lead time, against today and the days that are told about."""
    found = plan_supply(_given(first, stock=2))
    assert (state, order_by) == (found.state, found.order_by)
    assert (found.chosen is None) == (state == FINE)


def test_without_any_spread_the_day_is_that_of_the_sum_by_hand() -> None:
    """Ten steps last for three uses of three; the fourth, on day 40, needs an order by day 26."""
    found = plan_supply(_given(10, 20, 30, 40))
    assert (26, 40, 40) == (found.order_by, found.run_out.early, found.run_out.late)
    assert (0.0, 0.0, 0.0, 1.0) == found.held_up
    assert (1.0, 0.0, 2.0) == (found.run_out.chance, found.short_before, found.lacking)


@pytest.mark.parametrize(("wanted", "order_by"), [(0.74, 86), (0.76, 26)])
def test_the_day_to_order_by_keeps_the_chance_that_is_wanted(wanted: float, order_by: int) -> None:
    """One use in four comes early: a promise of less than three in four need not wait for it, one of more must."""
    given = _given(100, stock=0, wanted=wanted, paths=4000)
    early = JobGiven(40, 0.0, 0.25, 0)
    assert order_by == plan_supply(replace(given, jobs=(early, *given.jobs))).order_by


@pytest.mark.parametrize(
    ("stock", "days", "state"), [(9, (10, 20, 30), FINE), (8, (10, 20, 30), UNKNOWN), (0, (0, 20), ORDER_NOW)]
)
def test_without_a_lead_time_no_day_is_made_up(stock: int, days: tuple[int, ...], state: str) -> None:
    """Enough is enough, none at all is now, and else nobody knows."""
    for offers in ((), (_with_lead(LeadGiven(None)),)):
        found = plan_supply(_given(*days, stock=stock, offers=offers))
        assert (state, None, None) == (found.state, found.order_by, found.short_before)
        assert () == found.candidates


def _with_lead(lead: LeadGiven) -> OfferGiven:
    """Return the offer with another lead time."""
    return OFFER._replace(lead=lead)


def test_an_open_order_counts_from_the_day_it_arrives() -> None:
    """It came in time for the use on day 20 but not for that on day 5; more is needed only after it."""
    given = _given(5, 20, 40, stock=0, orders=(OrderGiven(6, 4, CERTAIN),))
    found = plan_supply(given)
    assert (1.0, 0.0, 1.0) == found.held_up
    assert TOO_LATE == found.state
    assert 26 == plan_supply(replace(given, jobs=given.jobs[1:], orders=(OrderGiven(3, 4, CERTAIN),))).order_by


@pytest.mark.parametrize(("use", "state", "order_by"), [(13, TOO_LATE, None), (14, ORDER_NOW, 0), (15, ORDER_BY, 1)])
def test_what_an_order_of_today_still_mends_is_ordered_today(use: int, state: str, order_by: int | None) -> None:
    """An order that is out comes on day 30; a new one takes 14 days, and comes in time for the use of that very day."""
    found = plan_supply(_given(use, stock=0, orders=(OrderGiven(6, 0, LeadGiven(30, (), 0.0)),)))
    assert (state, order_by) == (found.state, found.order_by)


@pytest.mark.parametrize(("elapsed", "overdue"), [(13, ()), (14, (0,)), (15, (0,)), (200, (0,))])
def test_an_order_that_is_longer_out_than_any_takes_is_not_counted_on(elapsed: int, overdue: tuple[int, ...]) -> None:
    """A lead time of 14 days for certain is over on the fourteenth."""
    given = _given(20, stock=0, orders=(OrderGiven(6, elapsed, CERTAIN),))
    found = plan_supply(given)
    assert overdue == found.overdue
    assert (1.0 if overdue else 0.0,) == found.held_up


@pytest.mark.parametrize(("there", "quantile"), [(60, 98.9), (20, 28.6), (12, 15.6)])
def test_what_will_run_short_has_a_day_though_uses_may_be_waited_for(there: int, quantile: float) -> None:
    """One piece every two days: the day on which one more is used is gamma, its lower 5 % from scipy.stats."""
    often = UnplannedGiven(0, 0.0, 1e6, 1e6 / 15, 1.0, 0)
    given = SupplyGiven(
        seed=1, lots=(LotGiven(there),), amounts=(AmountGiven(1.0, piece=1),), unplanned=often, offers=(OFFER,)
    )
    found = plan_supply(given)
    assert found.run_out.chance > 0.99
    assert found.order_by is not None
    assert found.order_by == pytest.approx(quantile - 14, abs=2)


@pytest.mark.parametrize(("same", "buys"), [(True, False), (False, True)])
def test_an_order_does_not_overtake_another_of_the_same_supplier(same: bool, buys: bool) -> None:
    """What was ordered today may come late for the use of day 25; another order of the same supplier is no help."""
    slow = LeadGiven(18, (), 0.4)
    given = _given(25, 300, stock=0, paths=1000)
    out = OrderGiven(30, 0, slow, supplier=0 if same else 1)
    found = plan_supply(replace(given, offers=(OFFER._replace(lead=slow),), orders=(out,)))
    assert (found.chosen is not None) == buys
    assert found.state == (TOO_LATE if same else found.state)


@pytest.mark.parametrize("lost", [OrderGiven(60, 200, CERTAIN), OrderGiven(60, 5, LeadGiven(None))])
def test_an_order_that_is_not_counted_on_changes_nothing_of_what_is_bought(lost: OrderGiven) -> None:
    """Neither one that is long overdue nor one of which nobody knows when it comes: as many packs, at the same cost."""
    spares = UnplannedGiven(6, 36.0, 0.5, 3.0, 1.0, 0)
    given = _given(*range(10, 600, 20), stock=6, unplanned=spares, order_cost=200)
    without, beside = (plan_supply(replace(given, orders=orders)) for orders in ((), (lost,)))
    assert (without.order_by, without.chosen, without.candidates) == (beside.order_by, beside.chosen, beside.candidates)
    assert without.chosen is not None
    assert without.candidates[without.chosen].packs > 1


def test_an_order_under_way_arrives_after_today() -> None:
    """What took 14 days on average and is out for 30 will not come yesterday, and comes later than one just placed."""
    usual = LeadGiven(14, (12, 17, 20), 0.5)
    late, new = (
        plan_supply(_given(*range(60), stock=0, orders=(OrderGiven(300, out, usual),), paths=2000)) for out in (30, 0)
    )
    assert 1.0 == late.held_up[0] == new.held_up[0]
    assert 0.8 < late.held_up[1] < 1.0
    assert late.held_up[10] > 0.2
    assert late.held_up[40] < 0.2


def test_a_promised_day_of_arrival_is_believed_more_than_the_usual_time() -> None:
    """The supplier named day 30; by its own lead time it would come about day 10."""
    usual = LeadGiven(14, (), 0.5)
    told = plan_supply(_given(20, 45, stock=0, orders=(OrderGiven(60, 4, usual, confirmed=30),), paths=2000))
    assert told.held_up[0] > 0.75
    assert told.held_up[1] < 0.2


def test_price_breaks_pay_only_while_the_stock_keeps() -> None:
    """Ten packs cost a ninth less each; of what keeps for half a year three of them would pass their date."""
    deep = OFFER._replace(price=800, from_packs=10)
    given = _given(*range(0, 720, 15), stock=0, offers=(OFFER, deep), paths=50)
    for keeps, offer, least, most in ((None, 1, 10, 30), (180, 0, 1, 7)):
        found = plan_supply(replace(given, keeps=keeps))
        best = found.candidates[found.chosen or 0]
        assert (offer, True) == (best.offer, least <= best.packs <= most), keeps


def test_the_promise_goes_before_the_price() -> None:
    """One pack would be cheaper per day, and run out before another could come."""
    slow = OFFER._replace(lead=LeadGiven(60, (), 0.0), price=1, shipping=0)
    found = plan_supply(_given(*range(70, 700, 10), stock=0, offers=(slow,), order_cost=0))
    best = found.candidates[found.chosen or 0]
    assert best.keeps_promise
    assert best.packs >= 3
    assert not found.candidates[0].keeps_promise


def test_a_supplier_who_can_still_deliver_in_time_goes_before_a_cheaper_one() -> None:
    """By the cheaper one the day has passed."""
    quick = OFFER._replace(supplier=1, price=2000, lead=LeadGiven(3, (), 0.0))
    found = plan_supply(_given(10, 50, stock=0, offers=(OFFER, quick)))
    assert (1, ORDER_BY, 7) == (found.candidates[found.chosen or 0].offer, found.state, found.order_by)


def test_what_no_new_order_can_mend_is_said_and_not_ordered_again() -> None:
    """The use on day 5 comes before any order could; the one under way brings enough for all that follows."""
    given = _given(5, 20, 40, stock=0, orders=(OrderGiven(90, 4, CERTAIN),))
    found = plan_supply(given)
    assert (TOO_LATE, None, ()) == (found.state, found.order_by, found.candidates)
    assert (1.0, 0.0, 0.0) == found.held_up
    assert FINE == plan_supply(replace(given, jobs=given.jobs[1:])).state


def test_nothing_is_to_be_ordered_while_the_quickest_supplier_can_be_asked_later() -> None:
    """By the slow one the day would come within the year."""
    slow = OFFER._replace(supplier=1, price=1, lead=LeadGiven(60, (), 0.0))
    for offers in ((OFFER, slow), (slow, OFFER)):
        found = plan_supply(_given(390, stock=2, offers=offers))
        assert (FINE, None, ()) == (found.state, found.order_by, found.candidates)
    assert ORDER_BY == plan_supply(_given(390, stock=2, offers=(slow,))).state


def test_nothing_given_is_fine_and_nothing_is_made_up() -> None:
    """An empty drawer of which nobody takes anything."""
    found = plan_supply(SupplyGiven(seed=1, paths=50))
    assert (FINE, 0, None, (), None) == (found.state, found.on_hand, found.order_by, found.candidates, found.unplanned)
    assert (0.0, None, None, None) == found.run_out


def test_the_same_is_found_of_the_same_to_the_last_bit() -> None:
    """Another seed gives other paths."""
    given = _given(
        10, 40, 90, unplanned=UnplannedGiven(2, 24.0, 0.5, 0.5, 3.0, 0), amounts=(AmountGiven(3.0, 4, 15.0),)
    )
    assert plan_supply(given) == plan_supply(given)
    assert plan_supply(given) != plan_supply(replace(given, seed=2))


def test_the_fan_shows_what_the_plan_says() -> None:
    """It starts at what is on hand, is empty from the day of running out, and the order brings its packs."""
    given = _given(10, 20, 30, 40)
    found = plan_supply(given)
    fan = fan_of(given, found)
    packs = found.candidates[found.chosen or 0].steps
    assert (10.0, 7.0, 1.0, 0.0) == (fan.middle[9], fan.middle[10], fan.middle[39], fan.middle[40])
    assert (1.0 + packs - 3,) * 3 == fan.with_order[40]
    assert (40, 40) == fan.arrival
    assert fan_of(_given(10), plan_supply(_given(10))).arrival is None


@pytest.mark.parametrize(("quiet", "state"), [(0, ORDER_BY), (30, ORDER_BY), (365, ORDER_NOW)])
def test_a_day_once_named_is_not_put_off_by_nothing_happening(quiet: int, state: str) -> None:
    """One repair in two years, and nothing on the shelf: the chance accepted at first is not given anew each week."""
    repairs = UnplannedGiven(0, 0.0, 500.0, 24.0 * 500.0, 1.0, 0)
    given = SupplyGiven(
        seed=1, amounts=(AmountGiven(3.0, spread=0.0),), unplanned=repairs, offers=(OFFER,), wanted=0.9, paths=4000
    )
    first, later = plan_supply(given), plan_supply(replace(given, quiet=quiet))
    assert (ORDER_BY, state) == (first.state, later.state)
    assert first.order_by is not None
    assert later.order_by == pytest.approx(max(0, first.order_by - quiet), abs=6)
    assert later.short_before == first.short_before


@pytest.mark.parametrize("quiet", [0, 60, 365])
@pytest.mark.parametrize(("there", "waits"), [(0, False), (1, True)])
def test_a_spare_is_bought_when_one_is_used_and_not_before_where_it_comes_in_time(
    there: int, waits: bool, quiet: int
) -> None:
    """One repair a year, ten days to come: after a use the next is late in 1 of 22. So one on the shelf is enough."""
    repairs = UnplannedGiven(0, 0.0, 500.0, 12.0 * 500.0, 1.0, 0)
    given = SupplyGiven(
        seed=1,
        lots=(LotGiven(1),) * there,
        amounts=(AmountGiven(1.0, piece=1),),
        unplanned=repairs,
        offers=(OFFER,),
        wanted=0.95,
        quiet=quiet,
    )
    found = plan_supply(given)
    # exp(-17 / 365) = 0.954: ten days to come and a week until it is seen.
    assert (found.order_by is None or found.order_by > 250) == waits


def test_where_nothing_unplanned_happens_till_the_day_named_the_chance_is_still_the_accepted_one() -> None:
    """Work of two in five empties the drawer on day 70; small uses come about monthly and may as well not come."""
    given = _given(
        stock=2,
        jobs=(JobGiven(70, 0.0, 0.4, 0),),
        amounts=(THREE, AmountGiven(0.001, spread=0.0)),
        unplanned=UnplannedGiven(0, 0.0, 1e6, 1e6, 1.5, 1),
        paths=4000,
    )
    assert plan_supply(given).order_by == 70 - 14
