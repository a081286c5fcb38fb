"""Supplies and their lots as the book keeps them, found by name."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.shelf_life import Inspection, Life, LotFacts, SupplyFacts
from collection.errors import Refused, fold, nearest, typed
from collection.quantity import show_amount
from collection.store.engine import fetch
from collection.views.counts import counts


@dataclass(frozen=True, slots=True)
class Supply:
    """A supply: `step` is its smallest amount, in `measured_in`; tracked is count, pack or no."""

    id: int
    name: str
    kind: str
    measured_in: str
    step: Decimal
    tracked: str
    density: Decimal | None
    ageing: SupplyFacts

    def show(self, steps: int) -> str:
        """Return so many steps as a person reads them: "12.5 ml"."""
        return show_amount(steps, self.step, self.measured_in)


class LotRow(NamedTuple):
    """A lot as received: days are ISO texts, maybe partial; price_minor for the whole lot."""

    id: int
    supply_id: int
    name: str
    received_on: str
    price_minor: int | None
    currency: str | None
    supplier_id: int | None
    made: str | None
    expires_on: str | None
    note: str | None

    def facts(self, opened_on: str | None, inspections: tuple[Inspection, ...] = ()) -> LotFacts:
        """Return what is known of the lot's age: what it says itself, when it was opened, what was found of it."""
        return LotFacts(self.expires_on, self.made, self.received_on, opened_on, inspections)


Inspections = Mapping[int, tuple[Inspection, ...]]  # by lot, in the order of entry


_MOST_NAMES = 3  # of those that look like a mistyped one
_SUPPLY_SQL = """
SELECT id, name, kind, measured_in, smallest_step, tracked, density, polymer, thickener, size,
       shelf_life_months, open_life_months
FROM supply WHERE void = 0"""
_INSPECTIONS_SQL = f"""
SELECT i.lot_id, i.inspected_on, i.result, i.good_through, i.note FROM lot_inspection i WHERE {counts("i")}"""
_LOT_SQL = f"SELECT {', '.join(LotRow._fields)} FROM lot WHERE void = 0"  # the fields are the columns


def supply_list(conn: Connection) -> list[Supply]:
    """Return every supply, by name."""
    rows = fetch(conn, f"{_SUPPLY_SQL} ORDER BY name_folded")
    return [_supply(*row) for row in rows]


def find_supply(conn: Connection, name: str) -> Supply:
    """Return the supply of this name. Raises Refused, naming the nearest three."""
    rows = fetch(conn, f"{_SUPPLY_SQL} AND name_folded = :name", name=fold(name))
    if not rows:
        known = (row[0] for row in fetch(conn, "SELECT name FROM supply WHERE void = 0"))
        raise unknown("supply", name, known, "spindlebook supply list")
    return _supply(*rows[0])


def supply_of(conn: Connection, supply_id: int) -> Supply:
    """Return the supply of this id, which must stand in the book."""
    return _supply(*fetch(conn, f"{_SUPPLY_SQL} AND id = :id", id=supply_id)[0])


def unknown(what: str, name: str, known: Iterable[str], listing: str) -> Refused:
    """Return the refusal of a name that nothing of its kind has, with the three that look most like it."""
    near = _near(name, list(known))
    hint = "Nearest: " + ", ".join(f'"{each}"' for each in near) + "." if near else f"Type: {listing}"
    return Refused(f'There is no {what} "{name}".', hint)


def _near(name: str, known: Sequence[str]) -> list[str]:
    """Return up to three names: like it as a whole, holding it, or with a word like it ("greese")."""
    words: dict[str, str] = {}
    for each in known:
        for word in fold(each).replace(",", " ").split():
            words.setdefault(word, each)
    holding = [each for each in known if fold(name) in fold(each)] if name.strip() else []
    by_word = [words[word] for word in nearest(name, words)]
    return list(dict.fromkeys([*nearest(name, known), *holding, *by_word]))[:_MOST_NAMES]


def lot_list(conn: Connection, supply_id: int | None = None) -> list[LotRow]:
    """Return the lots of one supply, or all, in the order in which they were booked."""
    if supply_id is None:
        rows = fetch(conn, f"{_LOT_SQL} ORDER BY id")
    else:
        rows = fetch(conn, f"{_LOT_SQL} AND supply_id = :supply ORDER BY id", supply=supply_id)
    return list(map(LotRow._make, rows))


def lot_inspections(conn: Connection, on: date | None = None) -> Inspections:
    """Return what inspections found of each lot, up to a day."""
    found: defaultdict[int, list[Inspection]] = defaultdict(list)
    for lot, *seen in fetch(conn, f"{_INSPECTIONS_SQL} ORDER BY i.id"):
        if on is None or seen[0] <= on.isoformat():
            found[lot].append(Inspection(*seen))
    return {lot: tuple(each) for lot, each in found.items()}


def find_lot(conn: Connection, supply: Supply, name: str) -> LotRow:
    """Return the lot of this name. Raises Refused, naming the lots the supply has."""
    return pick_lot(supply, lot_list(conn, supply.id), name)


def pick_lot(supply: Supply, lots: Sequence[LotRow], name: str) -> LotRow:
    """Return the lot of this name among the lots of a supply. Raises Refused, naming the newest ten."""
    for lot in lots:
        if fold(lot.name) == fold(name):
            return lot
    names = ", ".join(f'"{lot.name}"' for lot in lots[-10:])
    hint = f"Its lots: {names}." if lots else f"It has none; type: spindlebook supply receive {typed(supply.name)}"
    raise Refused(f'"{supply.name}" has no lot "{name}".', hint)


def own_lives(conn: Connection) -> dict[tuple[str, str], Life]:
    """Return the shelf lives that the book itself keeps, which go before the ones built in."""
    sql = "SELECT what, name_folded, months, extension_months, source FROM shelf_life WHERE void = 0"
    return {(row[0], row[1]): Life(row[2], row[3], row[4] or "the book") for row in fetch(conn, sql)}


def _supply(*row: Any) -> Supply:
    supply_id, name, kind, measured_in, step, tracked, density, *ageing = row
    facts = SupplyFacts(kind, *ageing)
    grams_per_ml = Decimal(density) if density else None
    return Supply(supply_id, name, kind, measured_in, Decimal(step), tracked, grams_per_ml, facts)
