"""First expired, first out: which lot is taken, and how much of it."""

import random
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collection.analysis.take_order import Lot, Taken, take, take_order, usable
from collection.errors import Refused

ON = date(2025, 12, 1)
FEW = settings(max_examples=50, deadline=None)

through = st.none() | st.dates(date(2025, 11, 28), date(2025, 12, 4))
opened = st.none() | st.sampled_from(["2025-10", "2025-10-01", "2025-11-05"])
lot_lists = st.lists(
    st.builds(
        Lot,
        st.none(),
        st.integers(-2, 9),
        through,
        opened,
        st.none() | st.sampled_from(["2025-01-02", "2025"]),
    ),
    max_size=6,
).map(lambda lots: [lot._replace(id=number) for number, lot in enumerate(lots, 1)])


def test_the_lot_that_expires_first_is_taken_first() -> None:
    """Rule: WHO good distribution practices, glossary, "first expiry/first out"; the figures are made up.

    First in, first out would wrongly take C (came first) or A (came before B).
    """
    lots = [
        Lot("ABC".index("A"), 10, date(2026, 3, 1), received_on="2025-01-10"),
        Lot("ABC".index("B"), 5, date(2026, 1, 15), received_on="2025-06-01"),
        Lot("ABC".index("C"), 8, None, received_on="2024-05-01"),
    ]

    taken, short = take(lots, 12, ON)

    assert [("ABC"[lot or 0], steps) for lot, steps in taken] == [("B", 5), ("A", 7)]
    assert short == 0


def test_ties_are_broken_one_by_one() -> None:
    """Same last day: opened first, then opened and received earlier, then lower id; unknown last."""
    day = date(2026, 1, 1)
    expected = [
        Lot(9, 1, date(2025, 12, 31)),
        Lot(8, 1, day, opened_on="2025-10", received_on="2025-09-01"),
        Lot(7, 1, day, opened_on="2025-10-01", received_on="2025-08-01"),
        Lot(6, 1, day, opened_on="2025-10-02", received_on="2025-07-01"),
        Lot(5, 1, day, received_on="2025-01"),
        Lot(3, 1, day, received_on="2025-01-01"),
        Lot(4, 1, day, received_on="2025-01-01"),
        Lot(2, 1, day),
        Lot(None, 1, day),
        Lot(1, 1, None, opened_on="2024-01-01", received_on="2024-01-01"),
    ]

    assert take_order(expected[::-1]) == expected


@pytest.mark.parametrize(("on", "steps"), [(date(2025, 11, 30), 3), (date(2025, 12, 1), 3), (date(2025, 12, 2), 0)])
def test_the_last_usable_day_still_counts(on: date, steps: int) -> None:
    """The day before and the day itself are good, the day after is not."""
    lot = Lot(1, 5, date(2025, 12, 1))

    assert usable(lot, on) == (steps > 0)
    assert take([lot], 3, on) == ([Taken(1, 3)] if steps else [], 3 - steps)


def test_expired_stock_is_taken_only_when_asked_for_and_then_last() -> None:
    """What is still good goes first even then."""
    lots = [Lot(1, 5, date(2025, 11, 30)), Lot(2, 4, None)]

    assert take(lots, 6, ON) == ([Taken(2, 4)], 2)
    assert take(lots, 6, ON, expired_too=True) == ([Taken(2, 4), Taken(1, 2)], 0)


def test_less_than_nothing_cannot_be_taken() -> None:
    """Zero can, and takes nothing."""
    assert take([Lot(1, 5)], 0, ON) == ([], 0)
    with pytest.raises(Refused, match="Cannot take -1 steps: an amount taken is zero or more"):
        take([Lot(1, 5)], -1, ON)


@FEW
@given(lot_lists, st.integers(0, 30))
def test_as_much_as_asked_and_usable_is_taken(lots: list[Lot], asked: int) -> None:
    """Taken = min(asked, usable); what is missing is said; no expired or empty lot is touched."""
    taken, short = take(lots, asked, ON)

    good = {lot.id: lot.steps for lot in lots if lot.steps > 0 and not (lot.usable_through and lot.usable_through < ON)}
    assert sum(steps for _, steps in taken) == min(asked, sum(good.values())) == asked - short
    assert all(0 < steps <= good[lot] for lot, steps in taken)


@FEW
@given(lot_lists, st.integers(0, 30))
def test_no_lot_is_touched_while_an_earlier_one_has_stock(lots: list[Lot], asked: int) -> None:
    """All lots taken from but the last are emptied, and no usable lot before the last was passed over."""
    taken, _ = take(lots, asked, ON)
    steps = dict(taken)
    good = [lot for lot in take_order(lots) if lot.steps > 0 and usable(lot, ON)]

    emptied = [steps.get(lot.id) == lot.steps for lot in good]
    assert emptied == sorted(emptied, reverse=True)
    assert [lot for lot, _ in taken] == [lot.id for lot in good[: len(taken)]]
    assert all(emptied[: max(0, len(taken) - 1)])


@FEW
@given(lot_lists, st.integers(0, 30), st.randoms(use_true_random=False))
def test_the_order_of_the_lots_given_does_not_matter(lots: list[Lot], asked: int, dice: random.Random) -> None:
    """Any permutation of the lots gives the same answer."""
    shuffled = list(lots)
    dice.shuffle(shuffled)

    assert take(shuffled, asked, ON) == take(lots, asked, ON)


@FEW
@given(lot_lists, st.integers(0, 15), st.integers(0, 15))
def test_taking_twice_is_taking_the_sum(lots: list[Lot], first: int, second: int) -> None:
    """First x, then y from what is left, takes the same from every lot as x + y at once."""
    once, short = take(lots, first + second, ON)
    part, short_first = take(lots, first, ON)
    gone = dict(part)
    rest, short_rest = take([lot._replace(steps=lot.steps - gone.get(lot.id, 0)) for lot in lots], second, ON)

    both = {lot: gone.get(lot, 0) + dict(rest).get(lot, 0) for lot in {*gone, *dict(rest)}}
    assert both == dict(once)
    assert short_first + short_rest == short
