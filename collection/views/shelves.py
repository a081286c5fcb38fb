"""What one supply has on the shelf, lot by lot, read from its movements."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy.engine import Connection

from collection.analysis.ledger import Movement
from collection.analysis.shelf import Shelf, Spot
from collection.analysis.shelf_life import Lives, UsableThrough, usable_through
from collection.analysis.take_order import Lot
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.supplies import Inspections, LotRow, Supply, lot_inspections, lot_list, own_lives

MOVEMENTS_SQL = f"""
SELECT m.id, m.supply_id, m.lot_id, m.location_id, m.kind, m.steps, m.occurred_on, '', m.reverses_id,
       m.group_key, m.reason
FROM movement m WHERE {counts("m")}"""


@dataclass(slots=True)
class SupplyShelf:
    """The lots of one supply with what is known of their age, and its stock through time.

    inspections: what was found of its lots (and perhaps of others), by lot.
    """

    supply: Supply
    lots: dict[int, LotRow]
    shelf: Shelf
    lives: Lives
    inspections: Inspections

    def through(self, lot: int, on: str | None = None) -> UsableThrough:
        """Return the last usable day of a lot as known on a day, or now, and what it rests on."""
        seen = tuple(each for each in self.inspections.get(lot, ()) if on is None or each.inspected_on <= on)
        facts = self.lots[lot].facts(self.shelf.opened_on(lot, on), seen)
        return usable_through(facts, self.supply.ageing, self.lives)

    def lots_on(self, on: str) -> list[Lot]:
        """Return every lot with what can be taken from it on a day; lot None: of no lot that is known.

        A lot that was opened later counts as unopened.
        """
        return self._lots(self.shelf.available(on), on)

    def lots_held(self, on: str | None = None) -> list[Lot]:
        """Return every lot with what the book has of it at the end of a day, or now."""
        return self._lots(self.shelf.stock(on))

    def spots(self, stock: Mapping[Spot, int]) -> list[tuple[Spot, int]]:
        """Return lot and place with their steps in the order in which places are used: no place told first."""
        return sorted(stock.items(), key=lambda item: (item[0][1] is not None, item[0][1] or 0))

    def name_of(self, lot: int | None) -> str:
        """Return the name of a lot, "" for the unknown one."""
        return "" if lot is None else self.lots[lot].name

    def _lots(self, stock: Mapping[Spot, int], on: str | None = None) -> list[Lot]:
        totals: dict[int | None, int] = dict.fromkeys(self.lots, 0)
        for (lot, _place), steps in stock.items():
            totals[lot] = totals.get(lot, 0) + steps
        return [self._lot(lot, steps, on) for lot, steps in totals.items()]

    def _lot(self, lot: int | None, steps: int, on: str | None) -> Lot:
        if lot is None:
            return Lot(None, steps)
        through = self.through(lot, on).through
        return Lot(lot, steps, through, self.shelf.opened_on(lot, on), self.lots[lot].received_on)


def movements_of(conn: Connection, supply_id: int) -> list[Movement]:
    """Return the counting movements of one supply, in the order of entry."""
    rows = fetch(conn, f"{MOVEMENTS_SQL} AND m.supply_id = :supply ORDER BY m.id", supply=supply_id)
    return list(map(Movement._make, rows))


def shelf_of(conn: Connection, supply: Supply) -> SupplyShelf:
    """Return what a supply has on the shelf."""
    lots = {lot.id: lot for lot in lot_list(conn, supply.id)}
    return SupplyShelf(supply, lots, Shelf(movements_of(conn, supply.id)), own_lives(conn), lot_inspections(conn))
