"""What the plan of a supply says in words, and which supplies travel in one parcel."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from collection.analysis.stock_plan.found import (
    ORDER_BY,
    TOO_LATE,
    UNKNOWN,
    Candidate,
    LeadFound,
    Range,
    RunOut,
)
from collection.analysis.stock_plan.parcels import Wanting, parcels, totals
from collection.analysis.stock_plan.words import (
    RunOutDays,
    Scale,
    chance_words,
    choice_sentence,
    lead_sentence,
    nothing_sentence,
    odds,
    order_sentence,
    planned_sentence,
    runners_up,
    told_chance,
    unplanned_sentence,
    why_not,
    why_won,
)
from collection.quantity import Money

TODAY = date(2026, 3, 1)
GRAMS = Scale(0.1, "g")
PIECES = Scale(1.0, "piece")


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (0.0, "less than 1 in 200"),
        (0.00499, "less than 1 in 200"),
        (0.005, "1 in 200"),
        (0.05, "1 in 20"),
        (0.126, "1 in 8"),
        (0.399, "1 in 3"),
        (0.5, "1 in 2"),
        (0.55, "6 in 10"),
        (0.9, "9 in 10"),
        (0.95, "19 in 20"),
        (0.99, "99 in 100"),
        (0.995, "199 in 200"),
        (0.9951, "more than 199 in 200"),
        (1.0, "more than 199 in 200"),
    ],
)
def test_a_chance_is_told_in_small_numbers_and_never_as_none_or_certain(chance: float, said: str) -> None:
    """Below, at and above the bounds where only the bound is said."""
    assert said == odds(chance)


def test_a_chance_in_a_sentence_has_its_noun() -> None:
    """One chance, several chances."""
    assert [
        "about 1 chance in 8",
        "about 7 chances in 10",
        "less than 1 chance in 200",
        "more than 199 chances in 200",
    ] == [chance_words(each) for each in (0.125, 0.7, 0.0, 1.0)]


def test_a_program_never_gets_a_chance_of_nought_or_one() -> None:
    """A share of simulated paths says no more than that it is seldom."""
    assert [0.0001, 0.05, 0.9999] == [told_chance(each) for each in (0.0, 0.05, 1.0)]


@pytest.mark.parametrize(
    ("scale", "known", "said"),
    [
        (GRAMS, Range(310, 240, 390), "about 31 g (likely 24 to 39)"),
        (GRAMS, Range(31, 22, 42), "about 3.1 g (likely 2.2 to 4.2)"),
        (GRAMS, Range(20, 20, 20), "about 2 g"),
        (PIECES, Range(0.3, 0, 1), "less than 1 piece (likely 0 to 1)"),
        (PIECES, Range(1.2, 0, 3), "about 1 piece (likely 0 to 3)"),
    ],
)
def test_an_estimate_stands_with_its_range(scale: Scale, known: Range, said: str) -> None:
    """No more digits than are known; a certain amount has no range, a rare one is not nought."""
    assert said == scale.about(known)


def test_use_is_told_apart_as_planned_and_not_planned() -> None:
    """Nobody having watched is not the same as none; none is said only where a person said never."""
    assert "Nine planned services by 30 Jun 2026 will take about 31 g (likely 24 to 39)." == planned_sentence(
        9, Range(310, 240, 390), GRAMS, "30 Jun 2026"
    )
    assert "No service that is planned by 30 Jun 2026 takes any." == planned_sentence(
        0, Range(0, 0, 0), GRAMS, "30 Jun 2026"
    )
    assert [
        "Repairs nobody planned: about 4 g (likely 0 to 14).",
        "Repairs nobody planned: none, as was said of it.",
        "Repairs nobody planned: no basis to say, nothing of the kind was watched or guessed yet.",
    ] == [unplanned_sentence(each, GRAMS) for each in (Range(40, 0, 140), Range(0, 0, 0), None)]


def test_the_chance_of_running_short_is_told_with_its_days() -> None:
    """A likely shortage has its day and range, an unlikely one its odds."""
    until = "1 Mar 2027"
    assert [
        "If you do nothing, it runs short about 3 Aug 2026 (likely between 12 May 2026 and 5 Oct 2026).",
        "If you do nothing, it runs short about 3 Aug 2026 (likely between 12 May 2026 and some day after 1 Mar 2027).",
        "If you do nothing: about 1 chance in 8 that some use cannot be met before 1 Mar 2027.",
        "If you do nothing: less than 1 chance in 200 that some use cannot be met before 1 Mar 2027.",
        "If you do nothing, the next use can hardly be met: it is likely short today.",
        (
            "If you do nothing more: about 7 chances in 10 that some use cannot be met before 1 Mar 2027,"
            " most likely before what is on order has come."
        ),
    ] == [
        nothing_sentence(RunOut(0.99, 1, 2, 3), RunOutDays("12 May 2026", "3 Aug 2026", "5 Oct 2026"), until),
        nothing_sentence(RunOut(0.8, 1, 2, None), RunOutDays("12 May 2026", "3 Aug 2026", ""), until),
        nothing_sentence(RunOut(0.125, 1, None, None), RunOutDays("12 May 2026", "", ""), until),
        nothing_sentence(RunOut(0.0, None, None, None), RunOutDays("", "", ""), until),
        nothing_sentence(RunOut(1.0, 0, 0, 5), RunOutDays("1 Mar 2026", "1 Mar 2026", "6 Mar 2026"), until),
        nothing_sentence(RunOut(0.7, 0, 1, 700), RunOutDays("1 Mar 2026", "2 Mar 2026", ""), until, coming=True),
    ]


def test_each_state_says_what_to_do() -> None:
    """With the promise, the risk that is left, or the fact that would help most."""
    assert [
        "Order by 3 Apr 2026: then the chance of having enough until the order comes is 19 in 20 or better.",
        (
            "Order now, though it may well come too late."
            " Ordered today: about 1 chance in 4 of running short before it comes."
        ),
        "No day to order by can be told. What would help most: lead time in days.",
    ] == [
        order_sentence(ORDER_BY, "3 Apr 2026", 0.01, 0.95, ""),
        order_sentence(TOO_LATE, "", 0.25, 0.95, ""),
        order_sentence(UNKNOWN, "", None, 0.95, "lead time in days"),
    ]


def test_a_lead_time_says_whose_word_it_is() -> None:
    """Own orders, the supplier's word, or both."""
    lead = LeadFound(14.2, 8.8, 21.1)
    assert [
        "Nordlager usually takes 9 to 21 days (their word; no order of yours yet).",
        "Nordlager usually takes 9 to 21 days (from their word and 1 order of yours).",
        "Nordlager usually takes 9 to 21 days (from 4 orders of yours).",
    ] == [
        lead_sentence("Nordlager", lead, said=True, orders=0),
        lead_sentence("Nordlager", lead, said=True, orders=1),
        lead_sentence("Nordlager", lead, said=False, orders=4),
    ]


CHOSEN = Candidate(0, 2, 1000, 1800, 200, 0.02, 60.0, 9.0, keeps_promise=True)


def test_the_chosen_quantity_says_how_long_it_lasts_and_what_expires() -> None:
    """Waste too small to matter is not told."""
    assert [
        "Order 2 packs of 50 g, 18.00 EUR: lasts until about Oct 2026; about 6 g will pass its date.",
        "Order 2 packs of 50 g, 18.00 EUR: lasts beyond Mar 2028.",
    ] == [
        choice_sentence(CHOSEN, "2 packs of 50 g", "18.00 EUR", "Oct 2026", "Mar 2028", GRAMS),
        choice_sentence(CHOSEN._replace(waste=10.0), "2 packs of 50 g", "18.00 EUR", "", "Mar 2028", GRAMS),
    ]


def test_every_other_quantity_says_why_it_lost() -> None:
    """Waste before money, a broken promise before both."""
    big = CHOSEN._replace(packs=5, steps=2500, cost=4095, waste=800.0, per_day=12.0)
    lying = big._replace(waste=0.0, per_day=9.9)
    small = CHOSEN._replace(packs=1, steps=500, cost=1100, waste=0.0, per_day=11.0)
    short = small._replace(chance_short=0.2, keeps_promise=False)
    assert [
        "9 % cheaper a gram, but 80 g would pass its date",
        "9 % cheaper a gram, but money lies longer: 10 % dearer for each day it lasts",
        "22 % dearer for each day it lasts",
        "about 1 chance in 5 of running short again before the next can come",
    ] == [why_not(each, CHOSEN, GRAMS) for each in (big, lying, small, short)]
    assert [3, 1] == runners_up((CHOSEN, big, short, small), 0, 2)
    assert [
        "the least cost for each day it lasts, of those that keep the promise",
        "no quantity keeps the promise; this one comes nearest",
    ] == [why_won(CHOSEN), why_won(short)]


def test_one_parcel_carries_what_is_needed_within_thirty_days_of_the_first() -> None:
    """Below, at and above the thirty days; shipping is paid once a parcel, currencies are not added."""
    wants = [
        Wanting("Nordlager", TODAY - timedelta(5), Money(1350, "EUR"), 450),
        Wanting("Nordlager", TODAY + timedelta(29), Money(950, "EUR"), 450),
        Wanting("Nordlager", TODAY + timedelta(30), Money(650, "EUR"), 450),
        Wanting("Nordlager", TODAY + timedelta(31), Money(1050, "EUR"), 450),
        Wanting("Sudhaus", None, Money(700, "USD")),
    ]
    made = parcels(wants, TODAY)

    assert [
        ("Nordlager", None, (0, 1, 2), 2050, 450),
        ("Sudhaus", None, (4,), 700, 0),
        ("Nordlager", TODAY + timedelta(31), (3,), 1050, 450),
    ] == [(each.supplier, each.order_by, each.lines, each.cost.minor, each.shipping.minor) for each in made]
    assert [Money(3100, "EUR"), Money(700, "USD")] == totals(made)
