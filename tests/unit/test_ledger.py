"""The stock ledger: its worked case, and the properties it keeps for every list of movements."""

import random
from collections import Counter
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collection.analysis.ledger import (
    CountDifference,
    LotCount,
    Movement,
    balances,
    count_differences,
    in_order,
    spread_count,
)
from collection.analysis.take_order import Lot
from collection.errors import Refused
from tests.support.ledgers import (
    LAST_DAY,
    Ledger,
    Wish,
    balance,
    day_text,
    ledgers,
    per_lot,
    row,
    slow_balance,
    stamp,
    wishes,
)

CELL = (1, 11, 1)
FEW = settings(max_examples=40, deadline=None)
days = st.integers(1, LAST_DAY)

# Constructed case: a count, then a use entered late that happened before the count.
COUNTED = [
    row(1, "receive", 10, 1),
    row(2, "use", -2, 3),
    row(3, "count", 7, 5),
    row(4, "use", -1, 6),
]
LATE = row(5, "use", -1, 4)


def _differences(rows: list[Movement]) -> dict[int, int]:
    return {found.movement: found.difference for found in count_differences(rows)}


def _stocked(rows: list[Movement], day: int = LAST_DAY) -> dict[object, int]:
    return {cell: steps for cell, steps in balance(rows, day_text(day)).items() if steps}


# --- the worked case ---------------------------------------------------------------------------------------


def test_a_late_entry_before_a_count_explains_its_difference_and_leaves_the_stock() -> None:
    """A counted value is a fact: 6 on hand before and after, while the difference goes from -1 to 0."""
    assert balance(COUNTED) == {CELL: 6}
    assert count_differences(COUNTED) == [CountDifference(3, CELL, counted=7, book=8)]

    assert balance([*COUNTED, LATE]) == {CELL: 6}
    assert _differences([*COUNTED, LATE]) == {3: 0}


def test_what_was_known_earlier_can_still_be_asked() -> None:
    """As known before the late entry came, the count's difference is still -1."""
    assert [found.difference for found in count_differences([*COUNTED, LATE], known_at=stamp(4))] == [-1]
    assert balance([*COUNTED, LATE], day_text(4), known_at=stamp(4)) == {CELL: 8}
    assert balance([*COUNTED, LATE], day_text(4), known_at=stamp(5)) == {CELL: 7}


def test_a_day_counts_to_its_end() -> None:
    """A balance on a day holds what occurred on it, not what occurred on the day after."""
    assert [balance(COUNTED, day_text(day)).get(CELL) for day in (1, 2, 3, 4, 5, 6)] == [10, 10, 8, 8, 7, 6]
    assert balance(COUNTED, "2025-12-31") == {}


def test_an_opening_balance_is_a_count() -> None:
    """Without anything before it a count alone makes the stock, and all of it is its difference."""
    assert balance([row(1, "count", 4, 1)]) == {CELL: 4}
    assert _differences([row(1, "count", 4, 1)]) == {1: 4}


def test_stock_may_fall_below_zero() -> None:
    """More used than booked in shows as missing entries; it is never clamped."""
    assert balance([row(1, "receive", 2, 1), row(2, "use", -5, 2)]) == {CELL: -3}


def test_a_reverse_takes_the_place_of_its_row_even_before_a_count_of_that_day() -> None:
    """Where 5 was counted, 5 it stays, though the reverse of an earlier use is recorded after the count."""
    rows = [row(1, "receive", 30, 1), row(2, "use", -20, 2), row(3, "count", 5, 2)]
    back = row(4, "reverse", 20, 2, reverses=2)

    assert balance([*rows, back]) == {CELL: 5}
    assert _differences(rows) == {3: -5}
    assert _differences([*rows, back]) == {3: -25}
    assert [each.id for each in in_order([*rows, back])] == [1, 2, 4, 3]


def test_short_and_open_change_no_stock() -> None:
    """The amount that could not be had is kept with a short row, and is no stock."""
    rows = [row(1, "receive", 3, 1), row(2, "open", 0, 2), row(3, "short", 8, 3)]

    assert balance(rows) == {CELL: 3}


def test_a_move_leaves_a_lot_whole_in_two_places() -> None:
    """What left one place is in the other; stock of an unknown lot stands beside it."""
    rows = [
        row(1, "receive", 9, 1),
        row(2, "move", -4, 2, group="m"),
        row(3, "move", 4, 2, group="m", place=2),
        row(4, "count", 2, 3, lot=None),
    ]

    stock = balance(rows)

    assert stock == {(1, 11, 1): 5, (1, 11, 2): 4, (1, None, 1): 2}
    assert per_lot(stock) == {(1, 11): 9, (1, None): 2}


# --- properties --------------------------------------------------------------------------------------------


@FEW
@given(ledgers, days)
def test_the_balance_is_the_last_count_and_what_follows_it(rows: list[Movement], day: int) -> None:
    """A second, slower reading of the definition agrees on every day."""
    assert balance(rows, day_text(day)) == slow_balance(rows, day)


@FEW
@given(ledgers)
def test_sorted_rows_need_only_day_and_id(rows: list[Movement]) -> None:
    """The fast path takes rows as a database sorts them, without placing reverses."""
    by_day_and_id = sorted(rows, key=lambda each: (each.occurred_on, each.id))

    assert balances(by_day_and_id) == balance(rows)


@FEW
@given(ledgers, days, st.randoms(use_true_random=False))
def test_the_order_of_storage_does_not_matter(rows: list[Movement], day: int, dice: random.Random) -> None:
    """Any permutation of the rows gives the same balances and differences."""
    shuffled = list(rows)
    dice.shuffle(shuffled)

    assert balance(shuffled, day_text(day)) == balance(rows, day_text(day))
    assert count_differences(shuffled) == count_differences(rows)


@FEW
@given(ledgers, days, st.integers(0, 20))
def test_nothing_recorded_later_changes_what_was_known(rows: list[Movement], day: int, n: int) -> None:
    """The balance of a day as known at an instant is that of the rows recorded by then, for ever."""
    assert balance(rows, day_text(day), stamp(n)) == balance(rows[:n], day_text(day))


@FEW
@given(ledgers, st.integers(0, 9))
def test_right_after_a_count_the_balance_is_the_counted_value(rows: list[Movement], counted: int) -> None:
    """And an equal count right after it finds no difference."""
    n = len(rows)
    twice = [row(n + 1, "count", counted, LAST_DAY), row(n + 2, "count", counted, LAST_DAY)]

    assert balance([*rows, *twice[:1]])[CELL] == counted
    assert _differences([*rows, *twice])[n + 2] == 0


@FEW
@given(ledgers, days)
def test_a_count_without_difference_may_be_left_out(rows: list[Movement], day: int) -> None:
    """Deleting it changes no balance of any day."""
    reversed_ids = {each.reverses for each in rows}
    needless = {number for number, found in _differences(rows).items() if found == 0}
    # Only one at a time may go: each was judged with the others in place.
    for number in needless - reversed_ids:
        without = [each for each in rows if each.id != number]
        assert _stocked(without, day) == _stocked(rows, day)


@FEW
@given(ledgers, days, st.integers(1, 9))
def test_a_late_row_changes_only_the_next_counts_difference(rows: list[Movement], day: int, used: int) -> None:
    """Rows before a count change no balance after it, and its difference by exactly their quantity."""
    n = len(rows)
    rows = [*rows, row(n + 1, "count", 5, LAST_DAY + 1)]
    late = row(n + 2, "use", -used, day)
    of_cell = [found.movement for found in count_differences(rows) if found.cell == CELL]
    place = {each.id: (each.occurred_on, each.id) for each in rows}
    following = next(number for number in of_cell if place[number] > (late.occurred_on, late.id))

    before, after = _differences(rows), _differences([*rows, late])
    day_after = int(place[following][0][-2:])

    assert after == before | {following: before[following] + used}
    for later in range(day_after, LAST_DAY + 2):
        assert balance([*rows, late], day_text(later)) == balance(rows, day_text(later))


@FEW
@given(st.lists(wishes, max_size=12), wishes, days)
def test_a_row_and_its_reverse_leave_no_trace(plan: list[Wish], wish: Wish, day: int) -> None:
    """Whatever was booked and taken back changes no balance and no difference."""
    ledger = Ledger()
    for each in plan:
        ledger.book(each)
    before = list(ledger.rows)
    if wish.kind != "reverse":
        ledger.book(wish)
    for added in ledger.rows[len(before) :]:
        ledger.reverse(added)

    assert balance(ledger.rows, day_text(day)) == balance(before, day_text(day))
    assert count_differences(ledger.rows) == count_differences(before)


@FEW
@given(ledgers)
def test_pairs_conserve_a_supply(rows: list[Movement]) -> None:
    """Leaving out all moves and repacks moves stock about, but no supply gains or loses by them.

    Counts are left out on both sides: a count states a fact about a place, so what it finds depends on moves.
    """
    flows = _without(rows, "count")

    assert _per_supply(flows) == _per_supply(_without(flows, "move", "repack"))


def _per_supply(rows: list[Movement]) -> Counter[int]:
    """Return what there is of each supply, in steps."""
    totals: Counter[int] = Counter()
    for (supply, _lot, _place), steps in balance(rows).items():
        totals[supply] += steps
    return totals


def _without(rows: list[Movement], *kinds: str) -> list[Movement]:
    """Return the rows without those of the kinds and without their reverses."""
    gone = {each.id for each in rows if each.kind in kinds}
    return [each for each in rows if each.id not in gone and each.reverses not in gone]


# --- a counted total over several lots ---------------------------------------------------------------------

OPENED = Lot(1, 10, date(2027, 1, 1), opened_on="2026-01-02", received_on="2025-01-01")
EARLY = Lot(2, 5, date(2026, 6, 1), received_on="2025-03-01")
NEWEST = Lot(3, 8, date(2026, 9, 1), received_on="2025-06-01")
LOTS = [NEWEST, EARLY, OPENED]


def _spread(counted: int, lots: list[Lot]) -> dict[int | None, int]:
    return {each.lot: each.steps for each in spread_count(counted, lots)}


@pytest.mark.parametrize(
    ("counted", "expected"),
    [
        (23, {1: 10, 2: 5, 3: 8}),
        (22, {1: 9, 2: 5, 3: 8}),
        (13, {1: 0, 2: 5, 3: 8}),
        (12, {1: 0, 2: 4, 3: 8}),
        (7, {1: 0, 2: 0, 3: 7}),
        (0, {1: 0, 2: 0, 3: 0}),
        (24, {1: 10, 2: 5, 3: 9}),
    ],
)
def test_a_counted_total_falls_on_the_likeliest_lot(counted: int, expected: dict[int | None, int]) -> None:
    """A shortage on the opened lot first, then in take order; a surplus on the newest lot."""
    assert _spread(counted, LOTS) == expected


def test_a_shared_out_count_is_marked_inferred() -> None:
    """Only where several lots share the total; for one lot the total is its count."""
    assert all(each.inferred for each in spread_count(22, LOTS))
    assert spread_count(7, [OPENED]) == [LotCount(1, 7, inferred=False)]


def test_a_count_without_lots_belongs_to_the_unknown_lot() -> None:
    """There is stock, and nobody knows of which lot."""
    assert spread_count(7, []) == [LotCount(None, 7, inferred=False)]


def test_the_unknown_lot_loses_last_and_gains_only_alone() -> None:
    """Stock of an unknown lot is neither opened nor new; a known lot stands before it both ways."""
    unknown = Lot(None, 4)

    assert _spread(6, [EARLY, unknown]) == {2: 2, None: 4}
    assert _spread(3, [EARLY, unknown]) == {2: 0, None: 3}
    assert _spread(11, [EARLY, unknown]) == {2: 7, None: 4}
    assert _spread(11, [unknown]) == {None: 11}


def test_a_lot_below_zero_is_counted_as_empty() -> None:
    """What was booked out of the wrong lot is taken from the others."""
    assert _spread(4, [EARLY, Lot(9, -1, received_on="2024-01-01")]) == {2: 4, 9: 0}
    assert _spread(4, [EARLY, Lot(9, -1, received_on="2026-01-01")]) == {2: 4, 9: 0}


def test_a_count_below_zero_is_refused() -> None:
    """Zero can be counted, less cannot."""
    assert _spread(0, [EARLY]) == {2: 0}
    with pytest.raises(Refused, match="Cannot count -1 steps: a count is zero or more"):
        spread_count(-1, [EARLY])


lot_stock = st.lists(st.integers(-3, 9), max_size=5).map(
    lambda listed: [Lot(n, steps, received_on=f"2025-0{n + 1}-01") for n, steps in enumerate(listed)]
)


@FEW
@given(st.integers(0, 40), lot_stock)
def test_a_spread_count_adds_up_and_is_never_below_zero(counted: int, lots: list[Lot]) -> None:
    """And if the book is right it changes nothing."""
    spread = spread_count(counted, lots)
    book = {lot.id: lot.steps for lot in lots}

    assert sum(each.steps for each in spread) == counted
    assert min(each.steps for each in spread) >= 0
    if lots and min(book.values()) >= 0:
        assert _spread(sum(book.values()), lots) == book
