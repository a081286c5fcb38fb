"""A drawer for tests: supplies, lots and orders booked by the acts of the program, and quick looks at it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy.engine import Engine

from collection.acts.booking import Booked
from collection.acts.counting import count_supply
from collection.acts.offers import add_offer, add_supplier
from collection.acts.orders import GivenLine, place_order
from collection.acts.receive import GivenLot, receive_supply
from collection.acts.reversal import reverse_movement
from collection.acts.shift import discard_supply, move_supply, repack_supply, return_supply
from collection.acts.supplies import GivenSupply, add_supply, open_lot, use_supply
from collection.analysis.ledger import Movement
from collection.store.engine import reading
from collection.views.movements import HistoryRow, history_of
from collection.views.shelves import movements_of
from collection.views.supplies import find_supply
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

GREASE = "white grease"


@dataclass
class Drawer:
    """Books on one supply, measured in g by 0.1 g unless told otherwise."""

    engine: Engine
    name: str = GREASE
    today: date = TODAY

    def _when(self) -> dict[str, Any]:
        return {"today": self.today, "now": NOW}

    def add(self, **values: Any) -> Drawer:
        """Add the supply to the book."""
        usual = {"kind": "lubricant", "measured_in": "g", "step": "0.1"}
        add_supply(self.engine, GivenSupply(name=self.name, **{**usual, **values}), **self._when())
        return self

    def receive(self, quantity: str = "", lot: str = "", **given: str) -> Booked:
        """Receive a lot."""
        return receive_supply(self.engine, self.name, GivenLot(quantity=quantity, lot=lot, **given), **self._when())

    def use(self, quantity: str, **told: Any) -> Booked:
        """Use some."""
        return use_supply(self.engine, self.name, quantity, **told, **self._when())

    def open(self, **told: Any) -> Booked:
        """Open a lot."""
        return open_lot(self.engine, self.name, **told, **self._when())

    def count(self, quantity: str, **told: Any) -> Booked:
        """Count."""
        return count_supply(self.engine, self.name, quantity, **told, **self._when())

    def discard(self, quantity: str = "", reason: str = "dried out", **told: Any) -> Booked:
        """Throw some away."""
        return discard_supply(self.engine, self.name, quantity, reason=reason, **told, **self._when())

    def give_back(self, quantity: str = "", **told: Any) -> Booked:
        """Return some to the supplier."""
        return return_supply(self.engine, self.name, quantity, **told, **self._when())

    def move(self, to: str, quantity: str = "", **told: Any) -> Booked:
        """Move some."""
        return move_supply(self.engine, self.name, to, quantity, **told, **self._when())

    def repack(self, quantity: str, into: str, **told: Any) -> Booked:
        """Fill some into a new lot."""
        return repack_supply(self.engine, self.name, quantity, into=into, **told, **self._when())

    def reverse(self, number: int, reason: str = "") -> Booked:
        """Take a movement back."""
        return reverse_movement(self.engine, self.name, number, reason=reason, **self._when())

    def supplier(self, name: str = "Nordlager", **told: Any) -> None:
        """Add a supplier."""
        add_supplier(self.engine, name, **told, **self._when())

    def offer(self, pack: str, price: str, supplier: str = "Nordlager", **told: Any) -> None:
        """Add an offer for the supply."""
        add_offer(self.engine, supplier, self.name, pack, price, **told, **self._when())

    def order(self, packs: int, name: str = "P1", on: str = "", supplier: str = "Nordlager") -> None:
        """Place an order for the supply."""
        place_order(self.engine, supplier, [GivenLine(self.name, str(packs))], name=name, on=on, **self._when())

    def place(self, name: str) -> None:
        """Add a location."""
        with shelf(self.engine) as made:
            made.named("location", name)

    def movements(self) -> list[Movement]:
        """Return the rows of the ledger that count."""
        with reading(self.engine) as connection:
            return movements_of(connection, find_supply(connection, self.name).id)

    def history(self) -> list[HistoryRow]:
        """Return the rows as a person reads them."""
        with reading(self.engine) as connection:
            return history_of(connection, find_supply(connection, self.name))

    def kinds(self) -> list[tuple[str, str, int]]:
        """Return (kind, lot, steps) of every row."""
        return [(row.movement.kind, row.lot, row.movement.steps) for row in self.history()]


def left(booked: Booked) -> dict[str, int]:
    """Return the steps left per lot."""
    return {each.lot: each.steps for each in booked.left}
