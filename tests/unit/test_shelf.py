"""What can be taken on a day, late entries included."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from collection.analysis.ledger import Movement
from collection.analysis.shelf import Shelf, Spot
from tests.support.ledgers import LAST_DAY, balance, day_text, ledgers, row

days = st.integers(1, LAST_DAY).map(day_text)


def of_supply(rows: list[Movement], supply: int = 1) -> list[Movement]:
    """Return the rows of one supply."""
    return [each for each in rows if each.supply == supply]


def by_spot(rows: list[Movement], on: str | None = None) -> dict[Spot, int]:
    """Return the ledger's own balance per lot and place, without what has nothing."""
    return {cell[1:]: steps for cell, steps in balance(rows, on).items() if steps}


def without_zeros(stock: dict[Spot, int]) -> dict[Spot, int]:
    """Leave out the places that have nothing."""
    return {spot: steps for spot, steps in stock.items() if steps}


@given(ledgers, days)
def test_the_stock_of_every_day_is_the_ledgers_own_balance(rows: list[Movement], on: str) -> None:
    """The shelf and the ledger are two ways to the same number, on any day and after all rows."""
    mine = of_supply(rows)
    shelf = Shelf(mine)

    assert by_spot(mine, on) == without_zeros(shelf.stock(on))
    assert by_spot(mine) == without_zeros(shelf.stock())


@given(ledgers)
def test_rows_added_one_by_one_give_what_all_of_them_give(rows: list[Movement]) -> None:
    """A shelf that is kept up to date needs no second reading."""
    mine = [each for each in of_supply(rows) if each.kind != "reverse"]
    grown = Shelf([])
    for each in mine:
        grown.add(each.lot, each.place, each.kind, each.steps, each.occurred_on)

    assert Shelf(mine).stock() == grown.stock()
    assert all(Shelf(mine).available(day_text(day)) == grown.available(day_text(day)) for day in range(1, 9))


@given(ledgers, days, st.data())
def test_taking_what_is_available_leaves_no_later_day_with_less_than_nothing(
    rows: list[Movement], on: str, data: st.DataObject
) -> None:
    """All that is available may go; one step more would be missing on that day or before the next count."""
    mine = of_supply(rows)
    available = {spot: steps for spot, steps in Shelf(mine).available(on).items() if steps > 0}
    if not available:
        return
    spot = data.draw(st.sampled_from(sorted(available, key=str)))

    def least_after(steps: int) -> int:
        used = Movement(999, 1, *spot, "use", -steps, on, "9")
        later = [day_text(day) for day in range(1, LAST_DAY + 1) if day_text(day) >= on]
        counted = {each.occurred_on for each in mine if each.kind == "count" and each[2:4] == spot}
        until = min((day for day in counted if day > on), default="9")
        return min(balance([*mine, used], day).get((1, *spot), 0) for day in later if day < until)

    assert least_after(available[spot]) >= 0
    assert least_after(available[spot] + 1) < 0 or _emptied_inside_a_day(mine, spot, on)


def _emptied_inside_a_day(rows: list[Movement], spot: Spot, on: str) -> bool:
    """Say whether more than one row of the spot falls on one later day, so that its low lies inside the day."""
    later = [each.occurred_on for each in rows if each[2:4] == spot and each.occurred_on > on]
    return len(later) != len(set(later))


def test_a_late_use_before_a_count_is_free_to_take_what_the_count_did_not_find() -> None:
    """The count of 4 stands whatever is entered before it, so all 10 of the day before are available."""
    rows = [row(1, "receive", 10, 1), row(2, "count", 4, 5)]

    assert {(11, 1): 10} == Shelf(rows).available(day_text(2))
    assert {(11, 1): 4} == Shelf(rows).available(day_text(5))


def test_what_was_used_later_is_not_available_earlier() -> None:
    """Of 10, 7 were used on day 3; on day 2 only 3 can go without day 3 falling below zero."""
    assert {(11, 1): 3} == Shelf([row(1, "receive", 10, 1), row(2, "use", -7, 3)]).available(day_text(2))


def test_nothing_is_available_before_it_came() -> None:
    """A lot received on day 4 has nothing on day 3, all of it on day 4."""
    shelf = Shelf([row(1, "receive", 10, 4)])

    assert ({(11, 1): 0}, {(11, 1): 10}) == (shelf.available(day_text(3)), shelf.available(day_text(4)))


def test_a_lot_is_opened_by_a_row_that_says_so_else_by_its_first_use() -> None:
    """The first use stands in until an opening is booked; an unused lot is not open."""
    used = [row(1, "receive", 10, 1), row(2, "use", -1, 4), row(3, "use", -1, 3)]
    said = [*used, row(4, "open", 0, 2)]

    assert (day_text(3), None) == (Shelf(used).opened_on(11), Shelf(used).said_open(11))
    assert (day_text(2), day_text(2)) == (Shelf(said).opened_on(11), Shelf(said).said_open(11))
    assert None is Shelf(used[:1]).opened_on(11)


def test_an_opening_that_was_taken_back_does_not_count() -> None:
    """A reverse of the opening leaves the lot closed."""
    rows = [row(1, "receive", 10, 1), row(2, "open", 0, 2), row(3, "reverse", 0, 2, reverses=2)]

    assert None is Shelf(rows).opened_on(11)


def test_counts_are_told_of_the_day_itself_and_of_the_first_day_after() -> None:
    """Before, on and after the days of two counts."""
    shelf = Shelf([row(1, "count", 4, 3), row(2, "count", 5, 6)])
    told = [shelf.counted(day_text(day)) for day in (2, 3, 4, 6, 7)]

    assert [
        (False, day_text(3)),
        (True, day_text(6)),
        (False, day_text(6)),
        (True, ""),
        (False, ""),
    ] == told
