"""When an order comes: what 8 in 10 lie between, whose word counts, and from when on it is overdue."""

from __future__ import annotations

from datetime import date, timedelta
from math import sqrt

import pytest
from scipy import stats

from collection.analysis.lead_time import expected, pooled_spread, usual_days
from collection.analysis.stock_plan.given import LeadGiven
from tests.support.times import TODAY

WORD = LeadGiven(14.0)


@pytest.mark.parametrize("lead", [WORD, LeadGiven(14.0, (15, 15, 18)), LeadGiven(None, (6,)), LeadGiven(40.0, (45,))])
def test_what_8_in_10_orders_lie_between_is_that_of_the_distribution_within_a_day(lead: LeadGiven) -> None:
    """A gamma amount over a gamma rate is a beta prime (the gamma-gamma model of Fader and Hardie, note 025); scipy."""
    said = 2 if lead.said is not None else 0
    weight, shape = said + len(lead.observed), 1 / lead.spread**2
    total = said * (lead.said or 0.0) + sum(lead.observed)
    drawn = stats.betaprime(shape, weight * shape + 1, scale=total)
    usual = usual_days(lead)

    assert usual is not None
    assert usual.mean == pytest.approx(total / weight)
    assert usual.low == pytest.approx(drawn.ppf(0.1), abs=1.5)
    assert usual.high == pytest.approx(drawn.ppf(0.9), abs=1.5 + 0.05 * usual.high)


def test_eight_past_orders_stand_for_themselves_and_seven_do_not() -> None:
    """Two humps, a week or six, stay two: nothing is smoothed into days on which nothing ever came."""
    seven = (7, 7, 7, 7, 7, 7, 45)

    assert usual_days(LeadGiven(14.0, (*seven, 45))) == (16.5, 7, 45)
    assert usual_days(LeadGiven(14.0, seven)).mean == pytest.approx((28 + 87) / 9)  # type: ignore[union-attr]
    assert usual_days(LeadGiven(None)) is None


def test_the_spread_is_taken_from_past_orders_from_eight_degrees_of_freedom_on() -> None:
    """Below eight it is the usual half; at eight their own about the mean of each supplier, never under a tenth."""
    five = (10, 20, 10, 20, 15)

    assert pooled_spread([five, (30, 30, 30, 30)]) == 0.5  # 4 + 3
    assert pooled_spread([five, (30,) * 5]) == pytest.approx(sqrt(100 / 15**2 / 8))
    assert pooled_spread([(30,) * 9]) == 0.10
    assert pooled_spread([()]) == 0.5


@pytest.mark.parametrize(("days", "overdue"), [(-1, 0), (0, 0), (1, 1), (90, 90)])
def test_an_order_is_overdue_from_the_day_after_the_one_that_was_named(days: int, overdue: int) -> None:
    """Below, at and above: on the day itself it may still come."""
    named = TODAY - timedelta(days)
    found = expected(date(2026, 1, 2), named, "2026-01-05", WORD, TODAY)

    assert found == (max(named, TODAY), named, named, "confirmed 2026-01-05", overdue)


@pytest.mark.parametrize(("days", "overdue"), [(-1, 0), (0, 0), (1, 1)])
def test_an_order_without_a_day_is_overdue_once_it_takes_longer_than_9_in_10(days: int, overdue: int) -> None:
    """Its day is never one that has passed."""
    usual = usual_days(WORD)
    assert usual is not None
    found = expected(TODAY - timedelta(usual.high + days), None, "", WORD, TODAY)

    assert found is not None
    assert (found.overdue, found.because) == (overdue, "their word")
    assert min(found.on, found.first, found.last) >= TODAY


def test_of_an_order_whose_supplier_never_said_and_never_sent_no_day_is_made_up() -> None:
    """Nothing is better than an invented date."""
    assert expected(TODAY, None, "", LeadGiven(None), TODAY) is None
