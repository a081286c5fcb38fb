"""What lots are worth: their price spread over what was received, to the last cent.

A lot of `received` steps bought for `price` minor units (cents) is worth, with `left` steps left, ceil(price
x left / received). Value leaves only in whole cents and a part of a cent stays with what is left, so the last
step carries the remainder and nothing is lost or made by rounding. The same line continues below zero and
above what was received, so that every movement has a value (worth after it - worth before it) and the values
of all movements of a lot add up to what is left.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from collection.analysis.ledger import WITHOUT_EFFECT, Cell, Movement, in_order, taken_back

LotKey = tuple[int, int | None]  # supply, lot (None: unknown)


def remaining_value(price: int, received: int, left: int) -> int:
    """Return, in minor units, what `left` steps are worth of a lot of `received` steps bought for `price`.

    A lot of which nothing was received has no price per step: its value is 0.
    """
    return -(-price * left // received) if received > 0 else 0


@dataclass(frozen=True, slots=True)
class LotAccount:
    """Where the steps of a lot, and its minor units, came from and went, per kind of movement.

    Kinds: receive, use, discard, return, count (counted - book) and repack; the sum is what is left. Moves
    stay inside the lot. `minor` is None when the lot's price is not known.
    """

    steps: dict[str, int]
    minor: dict[str, int] | None

    @property
    def left(self) -> int:
        """What is left, in steps."""
        return sum(self.steps.values())

    @property
    def value(self) -> int | None:
        """What is left, in minor units; None if the price is not known."""
        return None if self.minor is None else sum(self.minor.values())


class _Change(NamedTuple):
    id: int
    kind: str
    steps: int
    group: str | None


@dataclass(slots=True)
class _Books:
    """The changes of each lot in ledger order, prices of received lots, and accounts drawn up so far."""

    changes: dict[LotKey, list[_Change]]
    prices: Mapping[int, int]
    source: dict[str | None, LotKey]  # repack group -> the lot that was closed
    done: dict[LotKey, LotAccount] = field(default_factory=dict)
    paid: dict[tuple[str | None, LotKey], int] = field(default_factory=dict)
    of_movement: dict[int, int] = field(default_factory=dict)


def lot_accounts(rows: Iterable[Movement], prices: Mapping[int, int]) -> dict[LotKey, LotAccount]:
    """Return the account of every lot with movements, from rows in any order.

    prices: minor units per received lot, all of one currency. A lot that a repack opened takes over the value
    that left the lot it came from, whatever its own price says, so money is conserved.
    """
    return _drawn_up(rows, prices)[1]


def movement_values(rows: Iterable[Movement], prices: Mapping[int, int]) -> dict[int, int]:
    """Return what each standing movement added to its lot, by its id, in minor units: a use is below zero.

    As `lot_accounts`; a movement whose lot has no known price is left out.
    """
    return _drawn_up(rows, prices)[0].of_movement


def _drawn_up(rows: Iterable[Movement], prices: Mapping[int, int]) -> tuple[_Books, dict[LotKey, LotAccount]]:
    changes = _changes(in_order(rows))
    source = {
        change.group: key
        for key, listed in changes.items()
        for change in listed
        if change.kind == "repack" and change.steps < 0
    }
    books = _Books(changes, prices, source)
    return books, {key: _account(key, books) for key in changes}


def _changes(rows: list[Movement]) -> dict[LotKey, list[_Change]]:
    """Return what each standing row changed in its lot; a count changes it by counted - book of its place."""
    dead = taken_back(rows)
    stock: defaultdict[Cell, int] = defaultdict(int)
    changes: defaultdict[LotKey, list[_Change]] = defaultdict(list)
    for row in rows:
        if row.kind in WITHOUT_EFFECT or row.id in dead:
            continue
        cell = row[1:4]
        steps = row.steps - stock[cell] if row.kind == "count" else row.steps
        stock[cell] += steps
        if row.kind != "move":
            changes[row.supply, row.lot].append(_Change(row.id, row.kind, steps, row.group))
    return dict(changes)


def _account(key: LotKey, books: _Books) -> LotAccount:
    """Return the lot's account, drawing up that of the lot it was repacked from first."""
    if key not in books.done:
        steps: defaultdict[str, int] = defaultdict(int)
        for change in books.changes[key]:
            steps[change.kind] += change.steps
        books.done[key] = LotAccount(dict(steps), None)  # stands if a lot, against the rules, comes from itself
        basis = _basis(key, books)
        if basis is not None:
            books.done[key] = LotAccount(dict(steps), _values(key, *basis, books))
    return books.done[key]


def _basis(key: LotKey, books: _Books) -> tuple[int, int] | None:
    """Return (price, steps it was paid for) of a lot, or None if the price is not known."""
    coming = [c for c in books.changes[key] if c.kind == "receive" or (c.kind == "repack" and c.steps > 0)]
    steps = sum(change.steps for change in coming)
    for change in coming:
        if change.kind == "repack" and change.group in books.source:
            _account(books.source[change.group], books)
            paid = books.paid.get((change.group, books.source[change.group]))
            return None if paid is None else (paid, steps)
    price = None if key[1] is None else books.prices.get(key[1])
    return None if price is None or not coming else (price, steps)


def _values(key: LotKey, price: int, received: int, books: _Books) -> dict[str, int]:
    """Return the lot's minor units per kind, and note what a repack took out of it."""
    left, minor = 0, defaultdict[str, int](int)
    for change in books.changes[key]:
        value = remaining_value(price, received, left + change.steps) - remaining_value(price, received, left)
        left += change.steps
        minor[change.kind] += value
        books.of_movement[change.id] = value
        if change.kind == "repack" and change.steps < 0:
            books.paid[change.group, key] = -value
    return dict(minor)
