"""The netting table by day, and the advice drawn from it."""

from datetime import date, timedelta
from fractions import Fraction
from math import ceil
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collection.analysis.netting import (
    Arrival,
    Need,
    NetRow,
    Netting,
    net_by_day,
    packs_needed,
)
from collection.analysis.take_order import Lot
from collection.errors import Refused

TODAY = date(2026, 3, 1)
FEW = settings(max_examples=50, deadline=None)


def _day(number: int) -> date:
    """Return the day so many days after today."""
    return TODAY + timedelta(days=number)


def _net(
    needs: list[tuple[int, int]],
    lots: list[tuple[int, int | None]],
    arrivals: list[tuple[int, int]] | None = None,
    safety_stock: int = 0,
) -> Netting:
    """Net (day, steps) needs and arrivals against lots of (steps, last usable day); today is day 0."""
    return net_by_day(
        [Need(_day(day), steps, f"need {n}") for n, (day, steps) in enumerate(needs)],
        [Lot(n, steps, None if end is None else _day(end)) for n, (steps, end) in enumerate(lots)],
        [Arrival(_day(day), steps) for day, steps in arrivals or []],
        TODAY,
        safety_stock,
    )


# --- published tables ---------------------------------------------------------------------------------------

WEEK = 7


class Week(NamedTuple):
    """A week of a published table: the net, the receipt that covers it, stock at its end, and what is ordered."""

    net: int
    receipt: int
    on_hand: int
    release: int


def _weeks(gross: list[int], scheduled: list[int], on_hand: int, pack: int = 1, lead_weeks: int = 2) -> list[Week]:
    """Net week by week: each net, in whole packs, arrives in its week and was ordered a lead time before.

    So the table of days is that of periods, as a planner fills it in from left to right.
    """
    arrivals = [(week * WEEK, steps) for week, steps in enumerate(scheduled)]
    needs = [(week * WEEK, steps) for week, steps in enumerate(gross)]
    nets, receipts, releases = ([0] * len(gross) for _ in range(3))
    while (netting := _net(needs, [(on_hand, None)], arrivals)).first_short is not None:
        week = (netting.first_short - TODAY).days // WEEK
        nets[week] = netting.rows[week].net
        receipts[week] = packs_needed(nets[week], pack) * pack
        arrivals.append((week * WEEK, receipts[week]))
        if week >= lead_weeks:
            releases[week - lead_weeks] = receipts[week]
    left = [row.on_hand for row in netting.rows]
    return list(map(Week, nets, receipts, left, releases))


def test_against_the_inventory_record_of_the_seat_subassembly() -> None:
    """Krajewski & Ritzman, Operations Management, resource planning: fixed lots of 230, lead time 2 weeks.

    Inputs as printed; the completed record was recomputed.
    """
    weeks = _weeks([150, 0, 0, 120, 0, 150, 120, 0], [230, 0, 0, 0, 0, 0, 0, 0], on_hand=37, pack=230)

    assert [week.on_hand for week in weeks] == [117, 117, 117, 227, 227, 77, 187, 187]
    assert [week.net for week in weeks] == [0, 0, 0, 3, 0, 0, 43, 0]
    assert [week.receipt for week in weeks] == [0, 0, 0, 230, 0, 0, 230, 0]
    assert [week.release for week in weeks] == [0, 230, 0, 0, 230, 0, 0, 0]


def test_against_the_exercise_of_the_chair_its_seat_back_and_legs() -> None:
    """Public worked exercise with printed tables: lot for lot, lead time 2 weeks for every item.

    A chair's planned releases, times the number per chair, are the gross needs of its parts, just as planned
    services times the amount per procedure are the needs of a supply.
    """
    nothing = [0] * 8
    made = [week.release for week in _weeks([150, 0, 70, 0, 175, 0, 90, 60], nothing, on_hand=260)]
    seats = _weeks(made, [50, *nothing[1:]], on_hand=60)
    backs = _weeks(made, [10, *nothing[1:]], on_hand=40)
    legs = _weeks([4 * n for n in made], nothing, on_hand=80)

    assert made == [0, 0, 135, 0, 90, 60, 0, 0]
    assert [week.release for week in seats] == [25, 0, 90, 60, 0, 0, 0, 0]
    assert [week.release for week in backs] == [85, 0, 90, 60, 0, 0, 0, 0]
    assert [week.release for week in legs] == [460, 0, 360, 240, 0, 0, 0, 0]


# --- packs -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("steps", "pack", "minimum", "packs"),
    [
        (0, 50, 3, 0),
        (-5, 50, 3, 0),
        (1, 50, 1, 1),
        (50, 50, 1, 1),
        (51, 50, 1, 2),
        (51, 50, 2, 2),
        (51, 50, 3, 3),
    ],
)
def test_whole_packs_cover_the_need(steps: int, pack: int, minimum: int, packs: int) -> None:
    """Below, at and above one pack; no need buys no pack, whatever the least order is."""
    assert packs_needed(steps, pack, minimum) == packs


@pytest.mark.parametrize("packs", [3, 10**16, 10**17 + 1])
def test_pack_rounding_is_exact(packs: int) -> None:
    """Where binary division would round the quotient, exactly full packs stay exactly that many."""
    assert packs_needed(packs * 7, 7) == packs
    assert packs_needed(packs * 7 + 1, 7) == packs + 1
    assert ceil((10**17 * 7 + 7) / 7) != 10**17 + 1  # what floating-point division would have bought


@FEW
@given(st.integers(1, 10**6), st.integers(1, 10**4))
def test_packs_are_the_smallest_number_that_suffices(steps: int, pack: int) -> None:
    """Against exact fractions."""
    assert packs_needed(steps, pack) == ceil(Fraction(steps, pack))


@pytest.mark.parametrize("pack", [0, -1])
def test_an_empty_pack_is_refused(pack: int) -> None:
    """A pack of one step is the smallest."""
    assert packs_needed(5, 1) == 5
    with pytest.raises(Refused, match=f"A pack of {pack} steps: a pack holds at least one step"):
        packs_needed(5, pack)


# --- by day ------------------------------------------------------------------------------------------------


def test_the_first_short_day_is_the_first_that_stock_does_not_serve() -> None:
    """Constructed: 10 on hand, 3 used on days 10, 20, 30, 40: short by 2 on day 40."""
    netting = _net([(10, 3), (20, 3), (30, 3), (40, 3)], [(10, None)])

    assert (netting.first_short, netting.short) == (_day(40), 2)
    assert [row.on_hand for row in netting.rows] == [10, 7, 4, 1, 0]


def test_the_table_can_be_followed_by_hand() -> None:
    """Two lots, one of which passes its date, an arrival, and a need that exceeds what is left."""
    netting = _net([(5, 4), (20, 9)], [(3, None), (6, 10)], [(15, 2)])

    assert netting.rows == (
        NetRow(_day(0), expired=0, gross=0, arrivals=0, net=0, on_hand=9),
        NetRow(_day(5), expired=0, gross=4, arrivals=0, net=0, on_hand=5),
        NetRow(_day(11), expired=2, gross=0, arrivals=0, net=0, on_hand=3),
        NetRow(_day(15), expired=0, gross=0, arrivals=2, net=0, on_hand=5),
        NetRow(_day(20), expired=0, gross=9, arrivals=0, net=4, on_hand=0),
    )
    assert netting.short == 4


@pytest.mark.parametrize(("end", "short"), [(-1, 5), (0, 5), (9, 5), (10, 0), (11, 0), (None, 0)])
def test_expired_stock_is_not_stock(end: int | None, short: int) -> None:
    """A need on day 10 is met by a lot usable through day 10, not by one usable through day 9."""
    assert _net([(10, 5)], [(5, end)]).short == short


def test_expired_stock_does_not_open_the_table() -> None:
    """Past its date yesterday: nothing on hand today; last day today: still there."""
    assert [row.on_hand for row in _net([], [(5, -1), (4, 0)]).rows] == [4]


def test_stock_that_expires_makes_a_row_only_while_there_is_some_and_a_need_follows() -> None:
    """Good through today: gone tomorrow. An empty lot, and one that outlasts the last need, make no row."""
    netting = _net([(5, 1)], [(4, 0), (9, 5), (0, 3)])

    assert [(row.on, row.expired, row.on_hand) for row in netting.rows] == [
        (_day(0), 0, 13),
        (_day(1), 4, 9),
        (_day(5), 0, 8),
    ]


def test_without_needs_all_is_fine() -> None:
    """One row, today's, and nothing short."""
    netting = _net([], [(0, None)])

    assert netting.rows == (NetRow(TODAY, 0, 0, 0, 0, 0),)
    assert (netting.first_short, netting.short, netting.held_up) == (None, 0, ())


def test_overdue_needs_count_as_todays() -> None:
    """A service that should have been done waits for its supply today."""
    netting = _net([(-30, 3), (-10, 2)], [(4, None)])

    assert netting.rows == (NetRow(TODAY, 0, 5, 0, 1, 0),)
    assert netting.held_up == (Need(_day(-10), 2, "need 1"),)


@pytest.mark.parametrize(("day", "short", "overdue"), [(-1, 5, 1), (0, 0, 0), (10, 0, 0), (11, 5, 0)])
def test_an_arrival_counts_from_its_day_on_unless_it_is_overdue(day: int, short: int, overdue: int) -> None:
    """Expected yesterday: nobody knows when it comes, so it is listed and not counted."""
    netting = _net([(10, 5)], [], [(day, 5)])

    assert netting.short == short
    assert netting.overdue == (Arrival(_day(day), 5),) * overdue


def test_a_book_below_zero_plans_with_what_can_be_there() -> None:
    """Taken from the other lots; never less than nothing; and it says that entries are missing."""
    partly = _net([(1, 5)], [(7, None), (-3, 9)])
    wholly = _net([(1, 5)], [(-3, None)], [(1, 4)])
    none = _net([(1, 5)], [(7, None), (0, None)])

    assert (partly.rows[0].on_hand, partly.short, partly.entries_missing) == (4, 1, True)
    assert (wholly.rows[0].on_hand, wholly.short, wholly.entries_missing) == (0, 1, True)
    assert _net([(1, 5)], [(-3, None)], [(1, 5)]).held_up == ()
    assert (none.rows[0].on_hand, none.short, none.entries_missing) == (7, 0, False)


def test_a_safety_stock_is_short_before_a_need_is() -> None:
    """The net keeps the spare; no need is held up while only the spare is touched."""
    netting = _net([(10, 5), (20, 5)], [(12, None)], safety_stock=4)

    assert [(row.net, row.on_hand) for row in netting.rows] == [(0, 12), (0, 7), (2, 4)]
    assert (netting.first_short, netting.short, netting.held_up) == (_day(20), 2, ())


def test_needs_of_one_day_are_met_in_their_order() -> None:
    """The second goes short, not both; its reason travels with it."""
    assert [need.why for need in _net([(3, 4), (3, 4), (1, 1)], [(6, None)]).held_up] == ["need 1"]


def test_what_arrives_serves_those_who_wait_first() -> None:
    """After an arrival that covers the backlog later needs are met again, until that runs out too."""
    netting = _net([(5, 10), (10, 8), (11, 3)], [], [(8, 20)])

    assert [need.why for need in netting.held_up] == ["need 0", "need 2"]


@pytest.mark.parametrize(
    ("needs", "arrivals", "safety_stock", "says"),
    [
        ([(1, -1)], [], 0, "-1 steps on 2026-03-02, need 0: a need or an arrival is zero or more"),
        ([], [(1, -1)], 0, "-1 steps on 2026-03-02: a need or an arrival is zero or more"),
        ([], [], -1, "A safety stock of -1 steps is below zero"),
    ],
)
def test_negative_amounts_are_refused(
    needs: list[tuple[int, int]], arrivals: list[tuple[int, int]], safety_stock: int, says: str
) -> None:
    """A need of less than nothing would hide a shortage."""
    with pytest.raises(Refused, match=says):
        _net(needs, [], arrivals, safety_stock)


day_amounts = st.lists(st.tuples(st.integers(0, 12), st.integers(0, 9)), max_size=7)
day_lots = st.lists(st.tuples(st.integers(0, 9), st.none() | st.integers(-1, 12)), max_size=4)


@FEW
@given(day_amounts, day_lots, day_amounts, st.integers(0, 4))
def test_the_identity_holds_on_every_day(
    needs: list[tuple[int, int]],
    lots: list[tuple[int, int | None]],
    arrivals: list[tuple[int, int]],
    spare: int,
) -> None:
    """On hand = before - expired + arrivals + net - gross, never below the safety stock; nets are minimal."""
    netting = _net(needs, lots, arrivals, spare)

    before = sum(steps for steps, end in lots if end is None or end >= 0)
    for row in netting.rows:
        kept = before - row.expired
        assert row.on_hand == kept + row.arrivals + row.net - row.gross
        assert row.net == max(0, row.gross + spare - row.arrivals - kept)
        assert row.on_hand >= spare
        before = row.on_hand
    assert sum(row.gross for row in netting.rows) == sum(steps for _, steps in needs)
    assert netting.short == sum(row.net for row in netting.rows)


@FEW
@given(day_amounts, day_lots, day_amounts)
def test_needs_are_held_up_exactly_when_the_table_is_short(
    needs: list[tuple[int, int]], lots: list[tuple[int, int | None]], arrivals: list[tuple[int, int]]
) -> None:
    """Without safety stock the first held-up need is on the first short day; no net, none held up."""
    netting = _net(needs, lots, arrivals)

    assert (netting.held_up[0].on if netting.held_up else None) == netting.first_short


@FEW
@given(day_amounts, day_lots, day_amounts, st.integers(1, 12))
def test_needs_of_later_days_do_not_change_earlier_rows(
    needs: list[tuple[int, int]],
    lots: list[tuple[int, int | None]],
    arrivals: list[tuple[int, int]],
    cut: int,
) -> None:
    """A longer horizon shows more rows; those up to the last need before the cut stay."""
    shorter = _net([need for need in needs if need[0] <= cut], lots, arrivals)
    longer = _net(needs, lots, arrivals)

    last = _day(max((day for day, _ in needs if day <= cut), default=0))
    assert [row for row in shorter.rows if row.on <= last] == [row for row in longer.rows if row.on <= last]
