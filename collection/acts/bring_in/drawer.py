"""The drawer while a folder is planned: the book's supplies, lots and movements, and the folder's besides."""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal

from collection.acts.bring_in.sheet import Sheet
from collection.acts.bring_in.state import State
from collection.analysis.shelf import Shelf
from collection.analysis.shelf_life import SupplyFacts
from collection.views.shelves import SupplyShelf, movements_of
from collection.views.supplies import LotRow, Supply, lot_inspections, lot_list, own_lives, supply_list

_AGEING = ("polymer", "thickener", "size", "shelf_life_months", "open_life_months")


class Drawer:
    """Shelves of supplies, made when they are asked for; lots and supplies of the folder go by their references."""

    def __init__(self, state: State) -> None:
        self._conn = state.conn
        self._lives, self._inspections = own_lives(state.conn), lot_inspections(state.conn)
        self._shelves: dict[int, SupplyShelf] = {}
        self._supplies = {supply.id: supply for supply in supply_list(state.conn)}
        self._lots: defaultdict[int, dict[int, LotRow]] = defaultdict(dict)
        for lot in lot_list(state.conn):
            self._lots[lot.supply_id][lot.id] = lot
        for sheet in state.shared["sheets"]:
            if sheet.form.file == "supplies.csv":
                self._take_in_supplies(sheet)
            if sheet.form.file == "lots.csv":
                self._take_in_lots(sheet)
        self._received = state.shared.get("received", ())

    def _take_in_supplies(self, sheet: Sheet) -> None:
        for row in sheet.open_rows():
            ref = sheet.refs[row] or 0
            said = {name: cells[row] for name, cells in sheet.values.items() if cells}
            before = self._supplies.get(ref)
            kept = before.ageing if before else SupplyFacts()
            ageing = SupplyFacts(said["kind"], **{name: said[name] or getattr(kept, name) for name in _AGEING})
            self._supplies[ref] = Supply(
                ref, said["supply"], said["kind"], said["measured_in"], Decimal(said["smallest_step"] or "1"), "count",
                None, ageing,
            )  # fmt: skip

    def _take_in_lots(self, sheet: Sheet) -> None:
        for row in sheet.open_rows():
            ref, supply = sheet.refs[row] or 0, sheet.values["supply"][row]
            name, received_on, made, expires_on = (
                sheet.values[column][row] for column in ("lot", "received_on", "made", "expires_on")
            )
            before = self._lots[supply].get(ref)
            if before is not None:
                made, expires_on = made or before.made, expires_on or before.expires_on
            self._lots[supply][ref] = LotRow(ref, supply, name, received_on, None, None, None, made, expires_on, None)

    def shelf(self, supply: int) -> SupplyShelf:
        """Return what there is of a supply."""
        if supply not in self._shelves:
            movements = movements_of(self._conn, supply) if supply > 0 else []
            made = SupplyShelf(
                self._supplies[supply], self._lots[supply], Shelf(movements), self._lives, self._inspections
            )
            for which, lot, kind, steps, day in self._received:
                if which == supply:
                    made.shelf.add(lot, None, kind, steps, day)
            self._shelves[supply] = made
        return self._shelves[supply]
