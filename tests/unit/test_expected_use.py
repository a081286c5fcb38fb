"""What use takes on average: figures for the table by day, from what the projection draws from."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from collection.analysis.expected_use import Expected, by_month, mean_use, unplanned_a_month, whole_needs
from collection.analysis.stock_plan.given import AmountGiven, UnplannedGiven

TODAY = date(2026, 3, 1)
# Hyndman & Athanasopoulos, Forecasting: Principles and Practice (2nd ed.), section 12.2, series productC.
PRODUCT_C = (
    0,
    2,
    0,
    1,
    0,
    11,
    0,
    0,
    0,
    0,
    2,
    0,
    6,
    3,
    0,
    0,
    0,
    0,
    0,
    7,
    0,
    0,
    0,
    0,
    0,
    0,
    0,
    3,
    1,
    0,
    0,
    1,
    0,
    1,
    0,
    0,
)


@pytest.mark.parametrize(
    ("known", "expected"),
    [
        (AmountGiven(30.0), 30),
        (AmountGiven(30.0, uses=2, total=80.0), 35),
        (AmountGiven(None, uses=2, total=80.0), 40),
        (AmountGiven(0.0, uses=2, total=80.0), 20),
        (AmountGiven(None), None),
        (AmountGiven(1.0, chance=0.25), 0.25),
        (AmountGiven(1.0, chance=0.25, times=6, taken=4), 0.5625),
    ],
)
def test_a_use_takes_the_mean_of_those_seen_and_of_two_by_the_sheet(known: AmountGiven, expected: float | None) -> None:
    """Without a sheet those seen alone, without either nobody knows; where it is taken sometimes, that share of it."""
    assert mean_use(known) == (None if expected is None else pytest.approx(expected))


def test_what_nobody_plans_is_events_by_month_of_the_fleet_as_it_is_now() -> None:
    """Three events and half of one in 36 unit-months and 4 of the prior, of 4 units, five steps each; never is None."""
    told = UnplannedGiven(3, 36.0, 0.5, 4.0, 4.0, 0)
    assert unplanned_a_month(told, AmountGiven(5.0)) == pytest.approx(3.5 / 40 * 4 * 5)
    assert unplanned_a_month(told, AmountGiven(None)) is None
    assert unplanned_a_month(told._replace(exposure=0.0, rate=0.0), AmountGiven(5.0)) is None


def test_a_series_in_lumps_gives_its_mean_and_half_an_event_more() -> None:
    """The published series: 38 in 11 of 36 months; the methods that weigh late months most say 0.98 and 0.94 a month.

    0.98459652 by J. D. Croston's method and 0.9353667 by that of A. Syntetos and J. Boylan, smoothing 0.1, as a library
    computes them; both fall below the mean since the last months were quiet.
    """
    uses = [each for each in PRODUCT_C if each]
    told = UnplannedGiven(len(uses), len(PRODUCT_C), 0.5, 0.0, 1.0, 0)
    found = unplanned_a_month(told, AmountGiven(None, uses=len(uses), total=sum(uses)))
    assert found == pytest.approx(sum(PRODUCT_C) / len(PRODUCT_C) * 11.5 / 11)


@pytest.mark.parametrize(("days", "months"), [(29, 0), (30, 0), (31, 1), (60, 1), (61, 2), (365, 11), (366, 12)])
def test_what_a_month_takes_stands_at_the_end_of_each_whole_month(days: int, months: int) -> None:
    """A month has 30.4375 days; what is begun of the next one is left out."""
    found = list(by_month(2.5, TODAY, days, "repairs"))
    assert found == [
        Expected(TODAY + timedelta(days=on), 2.5, "repairs")
        for on in (30, 61, 91, 122, 152, 183, 213, 244, 274, 304, 335, 365)[:months]
    ]


def test_parts_of_a_step_are_summed_up_before_they_are_rounded_up() -> None:
    """Ten uses of half a piece take five pieces and not ten, whatever order they are told in."""
    halves = [Expected(TODAY + timedelta(days=day), 0.5, f"use {day}") for day in range(10)]
    found = whole_needs(reversed(halves))
    assert [(need.on, need.steps, need.why) for need in found] == [
        (TODAY + timedelta(days=day), 1, f"use {day}") for day in (0, 2, 4, 6, 8)
    ]


def test_binary_fractions_buy_no_piece_too_many() -> None:
    """Ten times 0.7 are seven steps, though their sum in binary is a hair above; what takes nothing is no need."""
    assert sum([0.7] * 10) > 7
    assert sum(need.steps for need in whole_needs([Expected(TODAY, 0.7, "")] * 10)) == 7
    assert whole_needs([Expected(TODAY, 0.0, "")]) == []
