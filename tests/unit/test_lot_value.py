"""What lots are worth: to the last cent, whatever happens to them."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collection.analysis.ledger import Movement
from collection.analysis.lot_value import LotAccount, lot_accounts, remaining_value
from tests.support.ledgers import balance, ledgers, per_lot, row

FEW = settings(max_examples=40, deadline=None)
prices = st.fixed_dictionaries({11: st.integers(0, 999), 12: st.integers(0, 999), 21: st.integers(0, 999)})


@pytest.mark.parametrize(("left", "value"), [(3, 100), (2, 67), (1, 34), (0, 0), (4, 134), (-1, -33)])
def test_remainder_cents_stay_to_the_last_unit(left: int, value: int) -> None:
    """Three pieces for 1.00: they leave at 0.33, 0.33 and 0.34; a fourth, found, has its price too."""
    assert remaining_value(100, 3, left) == value


@pytest.mark.parametrize("received", [0, -1])
def test_a_lot_of_which_nothing_came_has_no_value(received: int) -> None:
    """There is no price per step to value anything by."""
    assert remaining_value(100, received, 5) == 0


@FEW
@given(st.integers(0, 10_000), st.integers(1, 300))
def test_using_a_lot_up_costs_its_price_and_each_unit_about_the_same(price: int, received: int) -> None:
    """Unit by unit the costs differ by at most a cent and sum to the price."""
    worth = [remaining_value(price, received, left) for left in range(received, -1, -1)]
    costs = [before - after for before, after in pairwise(worth)]

    assert sum(costs) == price
    assert max(costs) - min(costs) <= 1
    assert costs[-1] == max(costs)


def test_a_lot_accounts_for_every_cent() -> None:
    """Seven pieces for 10.00: two used, one spilt, one returned, one not found, two left; moves cost nothing."""
    rows = [
        row(1, "receive", 7, 1),
        row(2, "use", -2, 2),
        row(3, "discard", -1, 3),
        row(4, "return", -1, 4),
        row(5, "count", 2, 5),
        row(6, "move", -1, 6, group="m"),
        row(7, "move", 1, 6, group="m", place=2),
    ]

    account = lot_accounts(rows, {11: 1000})[1, 11]

    assert account == LotAccount(
        {"receive": 7, "use": -2, "discard": -1, "return": -1, "count": -1},
        {"receive": 1000, "use": -285, "discard": -143, "return": -143, "count": -143},
    )
    assert (account.left, account.value) == (2, 286)


def test_a_repacked_lot_takes_its_money_along() -> None:
    """Nine pieces for 10.00, two used, seven repacked: the new lot holds what was left."""
    rows = [
        row(1, "receive", 9, 1),
        row(2, "use", -2, 2),
        row(3, "repack", -7, 3, group="r"),
        row(4, "repack", 7, 3, group="r", lot=12),
        row(5, "use", -1, 4, lot=12),
    ]

    accounts = lot_accounts(rows, {11: 1000, 12: 5})

    assert (accounts[1, 11].left, accounts[1, 11].value) == (0, 0)
    assert accounts[1, 12] == LotAccount({"repack": 7, "use": -1}, {"repack": 778, "use": -111})


def test_a_lot_repacked_from_one_without_price_has_none() -> None:
    """No value is made up on the way."""
    rows = [row(3, "repack", -7, 3, group="r"), row(4, "repack", 7, 3, group="r", lot=12)]

    assert lot_accounts(rows, {12: 5})[1, 12].value is None


def test_lots_that_come_from_each_other_have_no_price() -> None:
    """Such a circle breaks the rules of the ledger; it ends in "not known", not in an endless search."""
    rows = [
        row(1, "repack", -7, 1, group="r"),
        row(2, "repack", 7, 1, group="r", lot=12),
        row(3, "repack", -7, 2, group="s", lot=12),
        row(4, "repack", 7, 2, group="s"),
    ]

    accounts = lot_accounts(rows, {11: 1000, 12: 1000})

    assert [account.value for account in accounts.values()] == [None, None]


@FEW
@given(ledgers, prices)
def test_what_was_received_is_used_gone_or_left(rows: list[Movement], bought: dict[int, int]) -> None:
    """Received = left + used + discarded + returned + repacked - differences, in steps and in cents."""
    accounts = lot_accounts(rows, bought)
    stock = per_lot(balance(rows))

    assert {key: account.left for key, account in accounts.items() if account.left} == {
        key: left for key, left in stock.items() if left
    }
    for (_supply, lot), account in accounts.items():
        received = account.steps.get("receive", 0)
        if lot in bought and received:
            assert account.value == remaining_value(bought[lot], received, account.left)
            assert account.minor is not None
            assert account.minor["receive"] == bought[lot]


@FEW
@given(ledgers, prices)
def test_repacking_makes_and_loses_no_money(rows: list[Movement], bought: dict[int, int]) -> None:
    """Over all lots with a price, what repacks take out they put in."""
    accounts = lot_accounts(rows, bought)

    assert sum((account.minor or {}).get("repack", 0) for account in accounts.values()) == 0


@FEW
@given(ledgers, prices)
def test_a_row_taken_back_costs_nothing(rows: list[Movement], bought: dict[int, int]) -> None:
    """Accounts are those of a ledger in which neither the row nor its reverse was ever written."""
    gone = {each.reverses for each in rows}
    clean = [each for each in rows if each.id not in gone and each.kind != "reverse"]

    assert lot_accounts(rows, bought) == lot_accounts(clean, bought)
