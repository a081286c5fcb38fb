"""Taking movements back, and what the ledger holds to whatever is booked, on both databases."""

from __future__ import annotations

import random
from collections.abc import Callable
from contextlib import suppress
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.undo import undo
from collection.analysis.ledger import count_differences
from collection.analysis.ledger_rules import check
from collection.analysis.lot_value import lot_accounts
from collection.errors import Expected, Refused
from collection.store.engine import fetch, reading
from collection.views.drawer import drawer as whole_drawer
from collection.views.shelves import shelf_of
from collection.views.supplies import find_supply
from collection.views.verify import verify
from tests.support.books import digest
from tests.support.drawer import Drawer, left
from tests.support.ledgers import balance, per_lot
from tests.support.long_run import cases
from tests.support.times import NOW, TODAY


@pytest.fixture
def drawer(engine: Engine) -> Drawer:
    """Return a drawer with two lots of white grease: late, 10 g until 2028, and soon, 5 g until June 2026."""
    made = Drawer(engine).add()
    made.receive("10", "late", price="9.99", expires_on="2028-01", on="2026-01-01")
    made.receive("5", "soon", price="4.00", expires_on="2026-06", on="2026-01-01")
    made.place("shelf 3")
    return made


# --- reverse -----------------------------------------------------------------------------------------------

ACTS: dict[str, Callable[[Drawer], Any]] = {
    "use over two lots": lambda drawer: drawer.use("7"),
    "use beyond the book": lambda drawer: drawer.use("16"),
    "late use": lambda drawer: drawer.use("2", on="2026-02-01"),
    "open": lambda drawer: drawer.open(),
    "count of a lot": lambda drawer: drawer.count("3", lot="soon"),
    "count of all": lambda drawer: drawer.count("14"),
    "discard": lambda drawer: drawer.discard("1", lot="soon"),
    "return": lambda drawer: drawer.give_back("1", lot="late"),
    "move": lambda drawer: drawer.move("shelf 3", "4", lot="late"),
    "repack": lambda drawer: drawer.repack("4", "jar", lot="late"),
    "receive": lambda drawer: drawer.receive("5", "third"),
}


@pytest.mark.parametrize("name", ACTS)
def test_a_movement_and_its_reverse_leave_the_stock_as_it_was(drawer: Drawer, name: str) -> None:
    """What was there before each act is there again, and the ledger keeps all its rules."""
    before = _per_lot(drawer)
    ACTS[name](drawer)
    drawer.reverse(3)

    assert before == _per_lot(drawer)
    assert [] == check(drawer.movements())


def _per_lot(drawer: Drawer) -> dict[Any, int]:
    return {lot: steps for lot, steps in per_lot(balance(drawer.movements())).items() if steps}


@pytest.mark.parametrize("name", ACTS)
def test_undoing_an_act_on_the_drawer_leaves_the_book_as_it_was(drawer: Drawer, name: str) -> None:
    """Every act can be undone, and bringing it back gives what it gave."""
    before = digest(drawer.engine, effective=True)
    ACTS[name](drawer)
    after = digest(drawer.engine, effective=True)
    undone = undo(drawer.engine, None, today=TODAY, now=NOW)

    assert before == digest(drawer.engine, effective=True)
    undo(drawer.engine, undone.by_id, today=TODAY, now=NOW)
    assert after == digest(drawer.engine, effective=True)


def test_a_reverse_before_a_count_stands_where_its_row_stood(drawer: Drawer) -> None:
    """Use, count, reverse of the use, all on one day: the count stands (a reverse after it would make 25 of 5)."""
    drawer.use("2", lot="late")
    drawer.count("5", lot="late")
    drawer.reverse(3)

    assert {"soon": 50, "late": 50} == _left(drawer)


def _left(drawer: Drawer) -> dict[str, int]:
    with reading(drawer.engine) as connection:
        shelf = shelf_of(connection, find_supply(connection, drawer.name))
    return {shelf.name_of(lot.id): lot.steps for lot in shelf.lots_held() if lot.steps}


@pytest.mark.parametrize(
    ("prepare", "number", "words"),
    [
        ((), 9, '"white grease" has no movement 9. See the numbers: spindlebook supply history "white grease"'),
        (("use", "reverse 3"), 3, "Movement 3 was taken back already, by movement 4."),
        (("use", "reverse 3"), 4, "Movement 4 is itself a reverse; it stays."),
        (("count", "use"), 3, "Count 3 cannot be taken back: movement 4 came after it and rests on it."),
        (("use",), 1, 'Movement 1 opened lot "late", and movement 3 is booked on it.'),
        (("repack", "use jar"), 3, 'Movement 4 opened lot "jar", and movement 5 is booked on it.'),
        (("move", "use all"), 4, "cannot be taken back: some of lot"),
    ],
)
def test_what_cannot_be_taken_back_is_refused_in_words(
    drawer: Drawer, prepare: tuple[str, ...], number: int, words: str
) -> None:
    """Each refusal names the movement and why, and nothing is written."""
    steps: dict[str, Callable[[], Any]] = {
        "use": lambda: drawer.use("1", lot="late"),
        "count": lambda: drawer.count("3", lot="late"),
        "reverse 3": lambda: drawer.reverse(3),
        "repack": lambda: drawer.repack("4", "jar", lot="late"),
        "use jar": lambda: drawer.use("1", lot="jar"),
        "move": lambda: drawer.move("shelf 3", lot="late"),
        "use all": lambda: drawer.use("10", lot="late"),
    }
    for step in prepare:
        steps[step]()
    before = digest(drawer.engine)
    with pytest.raises(Refused) as refusal:
        drawer.reverse(number)

    assert words in str(refusal.value)
    assert before == digest(drawer.engine)


def test_a_count_is_taken_back_once_the_rows_after_it_are(drawer: Drawer) -> None:
    """A row that was taken back itself rests on nothing."""
    drawer.count("3", lot="late")
    drawer.use("1", lot="late")
    drawer.reverse(4)
    drawer.reverse(3)

    assert {"soon": 50, "late": 100} == _left(drawer)


def test_numbers_of_movements_never_pass_to_others(drawer: Drawer) -> None:
    """A movement that was undone keeps its number, so that no later one gets it."""
    drawer.use("1")
    undo(drawer.engine, None, today=TODAY, now=NOW)
    drawer.use("2")

    assert [1, 2, 4] == [row.number for row in drawer.history()]


def test_two_returns_of_a_lot_are_taken_back_one_by_one(drawer: Drawer) -> None:
    """They share the key of their receipt and are no less two."""
    drawer.give_back("1", lot="late")
    drawer.give_back("2", lot="late")
    drawer.reverse(3)

    assert {"soon": 50, "late": 80} == _left(drawer)


# --- refused acts ------------------------------------------------------------------------------------------

REFUSED: dict[str, tuple[Callable[[Drawer], Any], str]] = {
    "unknown supply": (
        lambda drawer: Drawer(drawer.engine, "wite grease").use("1"),
        'There is no supply "wite grease".',
    ),
    "unknown lot": (
        lambda drawer: drawer.use("1", lot="C"),
        '"white grease" has no lot "C". Its lots: "late", "soon".',
    ),
    "a day ahead": (lambda drawer: drawer.use("1", on="2026-03-02"), "--on 2026-03-02 has not come yet"),
    "a receipt ahead": (lambda drawer: drawer.receive("1", on="2026-03-02"), "2026-03-02 has not come yet"),
    "no such day": (lambda drawer: drawer.use("1", on="2026-02-30"), '"2026-02-30" does not exist'),
    "ounces": (lambda drawer: drawer.use("1 oz"), 'Unit "oz" may be a mass, a US or an imperial volume.'),
    "no density": (lambda drawer: drawer.use("1 ml"), "ml becomes g only through a density, and none is known."),
    "a part of a step": (lambda drawer: drawer.receive("0.05"), "0.05 g is not a whole number of steps of 0.1 g."),
    "less than nothing": (lambda drawer: drawer.count("-1"), "an amount is zero or more"),
    "nothing used": (lambda drawer: drawer.use("0"), "an amount is above zero"),
    "no amount": (lambda drawer: drawer.receive(), 'How much of "white grease" came in was not said.'),
    "a lot twice": (lambda drawer: drawer.receive("1", "LATE"), '"white grease" has a lot "LATE" already'),
    "packs unknown": (lambda drawer: drawer.receive("2 packs"), "How much one pack"),
    "made after it came": (lambda drawer: drawer.receive("1", made="2/26"), "nothing arrives before it is made"),
    "made never": (lambda drawer: drawer.receive("1", made="spring"), "neither a quarter of a year nor a day"),
    "expiry of no form": (lambda drawer: drawer.receive("1", expires_on="06/27"), '"06/27" is not a day.'),
    "price of too many digits": (lambda drawer: drawer.receive("1", price="1.005"), "has too many digits"),
    "price below zero": (lambda drawer: drawer.receive("1", price="-1"), "below zero"),
    "price beyond what is kept": (
        lambda drawer: drawer.receive("1", price="1000000000000.01"),
        "more than can be kept",
    ),
    "a receipt before any drive": (lambda drawer: drawer.receive("1", on="1949"), "--on 1949 is before 1950"),
    "offer below zero": (lambda drawer: drawer.offer("10 g", "-1"), "A price of -1 EUR is below zero."),
    "shipping below zero": (lambda drawer: drawer.supplier("New", shipping="-1"), "Shipping of -1 EUR is below zero."),
    "supplier's currency": (lambda drawer: drawer.supplier("New", currency="eu"), '"EU" is not the code of a currency'),
    "currency of no form": (
        lambda drawer: drawer.receive("1", price="1", currency="euro"),
        '"EURO" is not the code of a currency (ISO 4217). Nearest: EUR',
    ),
    "unknown supplier": (lambda drawer: drawer.receive("1", supplier="Nord"), 'There is no supplier "Nord".'),
    "unknown order": (lambda drawer: drawer.receive("1", order="P1"), 'There is no order "P1".'),
    "unknown place": (lambda drawer: drawer.move("shelf 33"), 'There is no location "shelf 33". Nearest: shelf 3.'),
    "no reason": (lambda drawer: drawer.discard("1", reason=" ", lot="late"), "No reason was given."),
    "which lot": (lambda drawer: drawer.discard("1"), '"white grease" has 2 lots: "soon", "late". Say which'),
    "repack into an old lot": (lambda drawer: drawer.repack("1", "soon", lot="late"), 'has a lot "soon" already'),
    "a name too long": (lambda drawer: drawer.receive("1", "L" * 201), "201 characters; at most 200 are kept"),
    "a name of nothing": (lambda drawer: drawer.repack("1", " ", lot="late"), "No name of the lot was given."),
}


def test_a_refused_act_says_why_and_changes_nothing(drawer: Drawer) -> None:
    """The words name the thing, the value seen and what to type; not one row is written."""
    drawer.supplier()
    before = digest(drawer.engine)
    for name, (attempt, words) in REFUSED.items():
        with pytest.raises(Expected) as refusal:
            attempt(drawer)

        assert words in str(refusal.value), name
        assert refusal.value.hint, name
        assert before == digest(drawer.engine), name


# --- whatever is booked ------------------------------------------------------------------------------------


class Chance:
    """Books acts at random; one that is refused is passed over."""

    def __init__(self, drawer: Drawer, seed: int) -> None:
        self.drawer, self.dice, self.lots = drawer, random.Random(seed), 0

    def act(self) -> None:
        """Try one act."""
        lot = self.dice.choice(["late", "soon", "lot 1", "jar 2", ""])
        amount = str(self.dice.randrange(1, 80) / 10)
        on = f"2026-02-{self.dice.randrange(1, 29):02}" if self.dice.random() < 0.5 else ""
        self.lots += 1
        acts: list[Callable[[], Any]] = [
            lambda: self.drawer.use(amount, lot=lot, on=on, past_date_anyway=self.dice.random() < 0.5),
            lambda: self.drawer.use(amount, on=on),
            lambda: self.drawer.receive(amount, f"lot {self.lots}", price="3.33", on=on),
            lambda: self.drawer.count(amount, lot=lot, on=on),
            lambda: self.drawer.open(lot=lot, on=on),
            lambda: self.drawer.discard(amount, lot=lot, on=on),
            lambda: self.drawer.give_back(amount, lot=lot, on=on),
            lambda: self.drawer.move("shelf 3", amount, on=on),
            lambda: self.drawer.repack(amount, f"jar {self.lots}", lot=lot, on=on),
            lambda: self.drawer.reverse(self.dice.randrange(1, 30)),
            lambda: undo(self.drawer.engine, None, today=TODAY, now=NOW),
        ]
        with suppress(Expected):
            self.dice.choice(acts)()


@pytest.mark.parametrize("seed", range(cases(2, 6)))
def test_whatever_is_booked_the_ledger_keeps_its_rules(drawer: Drawer, seed: int) -> None:
    """Every rule holds, the sum over lots is the supply's, and each step and cent is accounted for."""
    chance = Chance(drawer, seed)
    for _ in range(30):
        chance.act()
    rows = drawer.movements()
    with reading(drawer.engine) as connection:
        held = next(each for each in whole_drawer(connection, TODAY) if each.supply.name == drawer.name)
        found = verify(connection)
        prices = {row[0]: row[1] for row in fetch(connection, "SELECT id, price_minor FROM lot WHERE price_minor > 0")}

    assert [] == check(rows)
    assert [] == list(found.broken)
    stock = {lot: steps for (_, lot), steps in per_lot(balance(rows)).items() if steps}
    assert stock == {lot.lot.id if lot.lot else None: lot.steps for lot in held.stock}
    accounts = lot_accounts(rows, prices)
    differences = sum(each.difference for each in count_differences(rows))
    assert (
        sum(stock.values())
        == sum(_total(accounts, kind) for kind in ("receive", "use", "discard", "return")) + differences
    )
    for (_, number), account in accounts.items():
        mine = next((lot for lot in held.stock if lot.lot and lot.lot.id == number), None)
        if mine is not None and mine.value is not None:
            assert account.value == mine.value.minor


def _total(accounts: dict[Any, Any], kind: str) -> int:
    return sum(account.steps.get(kind, 0) for account in accounts.values())


def test_a_repacked_lot_takes_its_worth_along(drawer: Drawer) -> None:
    """4 of 10 g leave a lot of 9.99: 3.99 go with them, 6.00 stay, and not a cent is lost."""
    drawer.repack("4", "jar", lot="late")
    with reading(drawer.engine) as connection:
        held = next(each for each in whole_drawer(connection, TODAY) if each.supply.name == drawer.name)

    worth = {lot.lot.name: lot.value.minor for lot in held.stock if lot.lot and lot.value}
    assert {"soon": 400, "late": 600, "jar": 399} == worth


def test_using_in_two_goes_takes_what_one_go_takes(engine: Engine) -> None:
    """3 g and then 4 g come from the lots that 7 g come from."""
    one, two = Drawer(engine, "one").add(), Drawer(engine, "two").add()
    for each in (one, two):
        each.receive("5", "A", expires_on="2027-01")
        each.receive("5", "B", expires_on="2026-12")
    one.use("7")
    two.use("3")

    assert left(two.use("4")) == _left(one)
