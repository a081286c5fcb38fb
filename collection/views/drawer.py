"""The whole drawer on a day: of every lot what is left, until when it is good, where it is, what it is worth."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy.engine import Connection

from collection.analysis.ledger import Movement, balances, in_order, taken_back
from collection.analysis.lot_value import lot_accounts, remaining_value
from collection.analysis.shelf_life import UsableThrough, usable_through
from collection.analysis.take_order import Lot, take_order, usable
from collection.quantity import Money
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.places import location_names
from collection.views.supplies import LotRow, Supply, lot_inspections, lot_list, own_lives, supply_list

MOVEMENTS_SQL = f"""
SELECT m.id, m.supply_id, m.lot_id, m.location_id, m.kind, m.steps, m.occurred_on, '', m.reverses_id, m.group_key,
       ''
FROM movement m WHERE m.occurred_on <= :day AND {counts("m")} ORDER BY m.id"""

_UNKNOWN = UsableThrough(None, "of no known lot: inspect before use")
_BELOW = UsableThrough(None, "entries are missing, please count")


@dataclass(frozen=True, slots=True)
class HeldLot:
    """One lot on a day (lot None: stock of no known lot); value None: its price is not known."""

    lot: LotRow | None
    steps: int
    opened_on: str | None
    usable: UsableThrough
    places: tuple[str, ...]
    value: Money | None

    def as_lot(self) -> Lot:
        """Return the lot as the take order sees it."""
        number, received = (self.lot.id, self.lot.received_on) if self.lot else (None, None)
        return Lot(number, self.steps, self.usable.through, self.opened_on, received)


@dataclass(frozen=True, slots=True)
class Held:
    """What is held of one supply: its lots in take order, also the empty ones; moved: whether it ever had a row."""

    supply: Supply
    lots: tuple[HeldLot, ...]
    moved: bool

    @property
    def stock(self) -> tuple[HeldLot, ...]:
        """The lots that the book has something of, above or below zero."""
        return tuple(lot for lot in self.lots if lot.steps)

    def usable_on(self, day: date) -> int:
        """Return the steps within their date, less what is below zero."""
        return sum(lot.steps for lot in self.lots if usable(lot.as_lot(), day))

    def next_lot(self, day: date) -> HeldLot | None:
        """Return the lot to use next."""
        return next((lot for lot in self.lots if lot.steps > 0 and usable(lot.as_lot(), day)), None)

    def unopened_on(self, day: date) -> int:
        """Return how many lots within their date nobody has opened: for a supply tracked by the pack, its packs."""
        closed = (lot for lot in self.lots if lot.steps > 0 and lot.opened_on is None and lot.lot is not None)
        return sum(usable(lot.as_lot(), day) for lot in closed)


def drawer(conn: Connection, day: date) -> list[Held]:
    """Return what is held of every supply at the end of `day`, by name, in one pass over the movements."""
    rows = in_order(map(Movement._make, fetch(conn, MOVEMENTS_SQL, day=day.isoformat())))
    reader = _Reader(rows, lot_list(conn), location_names(conn))
    lives, seen = own_lives(conn), lot_inspections(conn, day)
    held = []
    for supply in supply_list(conn):
        lots = []
        for lot in [*reader.lots[supply.id], None]:
            number = None if lot is None else lot.id
            spots = reader.spots.get((supply.id, number))
            if lot is None and spots is None:
                continue
            opened = None if lot is None else reader.opened.get(lot.id)
            facts = None if lot is None else lot.facts(opened, seen.get(lot.id, ()))
            steps = sum(spots.values()) if spots else 0
            unknown = _BELOW if steps < 0 else _UNKNOWN
            through = unknown if facts is None else usable_through(facts, supply.ageing, lives)
            lots.append(HeldLot(lot, steps, opened, through, reader.place_names(spots), reader.value(lot, steps)))
        held.append(Held(supply, tuple(_in_take_order(lots)), supply.id in reader.moved))
    return held


def _in_take_order(lots: Sequence[HeldLot]) -> list[HeldLot]:
    by_id = {lot.as_lot().id: lot for lot in lots}
    return [by_id[lot.id] for lot in take_order(lot.as_lot() for lot in lots)]


class _Reader:
    """What the movements, read once, say of every lot."""

    def __init__(self, rows: list[Movement], lots: Sequence[LotRow], places: dict[int, str]) -> None:
        self._rows, self._places = rows, places
        self.lots: defaultdict[int, list[LotRow]] = defaultdict(list)
        for lot in lots:
            self.lots[lot.supply_id].append(lot)
        self.spots: defaultdict[tuple[int, int | None], dict[int | None, int]] = defaultdict(dict)
        for (supply, lot_id, place), steps in balances(rows).items():
            self.spots[supply, lot_id][place] = steps
        self.moved = {supply for supply, _ in self.spots}
        self.opened: dict[int, str] = {}
        self._received: dict[int, int] = {}
        self._repacked: dict[int, int] = {}
        self._read()
        self._accounts: dict[tuple[int, str], dict[int, int]] = {}

    def _read(self) -> None:
        """Gather when each lot was opened (else first used), how much was received, and which came by a repack."""
        dead = taken_back(self._rows)
        used: dict[int, str] = {}
        for row in self._rows:
            lot, kind = row.lot, row.kind
            if lot is None or row.id in dead:
                continue
            if kind == "use":
                used.setdefault(lot, row.occurred_on)
            elif kind == "open":
                self.opened.setdefault(lot, row.occurred_on)
            elif kind == "receive":
                self._received[lot] = self._received.get(lot, 0) + row.steps
            elif kind == "repack" and row.steps > 0:
                self._repacked[lot] = row.supply
        self.opened = used | self.opened

    def place_names(self, spots: dict[int | None, int] | None) -> tuple[str, ...]:
        """Return where a lot stands; nothing where no place was told."""
        held = {place for place, steps in (spots or {}).items() if steps}
        return tuple(sorted(self._places.get(place, "") for place in held if place is not None))

    def value(self, lot: LotRow | None, steps: int) -> Money | None:
        """Return what is left of a lot is worth."""
        if lot is None or steps <= 0:
            return None
        if lot.id in self._repacked:
            return self._repacked_value(lot)
        if lot.price_minor is None or lot.currency is None:
            return None
        return Money(remaining_value(lot.price_minor, self._received.get(lot.id, 0), steps), lot.currency)

    def _repacked_value(self, lot: LotRow) -> Money | None:
        """Return the worth that a lot took over from the one it was filled from, in that one's currency."""
        supply = lot.supply_id
        for currency in sorted({each.currency for each in self.lots[supply] if each.currency}):
            key = (supply, currency)
            if key not in self._accounts:
                mine = self.lots[supply]
                prices = {
                    each.id: each.price_minor
                    for each in mine
                    if each.price_minor is not None and each.currency == currency
                }
                accounts = lot_accounts([row for row in self._rows if row.supply == supply], prices)
                self._accounts[key] = {
                    number: account.value
                    for (_, number), account in accounts.items()
                    if number is not None and account.value is not None
                }
            if lot.id in self._accounts[key]:
                return Money(self._accounts[key][lot.id], currency)
        return None
