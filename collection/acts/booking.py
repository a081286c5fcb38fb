"""What the acts on the drawer share: writing a movement, choosing a lot, and telling what is left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy.engine import Connection

from collection.acts.amounts import Amount, read_amount
from collection.acts.work import Work
from collection.analysis.take_order import Lot, take_order, usable
from collection.errors import Refused, typed
from collection.quantity import Day, parse_day, show_number
from collection.views.shelves import SupplyShelf, shelf_of
from collection.views.supplies import Supply, find_supply, pick_lot


@dataclass(frozen=True, slots=True)
class Left:
    """What one lot still holds ("": a lot nobody knows); past_date: it is past its last usable day."""

    lot: str
    steps: int
    past_date: bool


@dataclass(frozen=True, slots=True)
class Booked:
    """What an act did to the drawer, in words, what is left in take order, and what to look at."""

    supply: Supply
    did: str
    left: tuple[Left, ...]
    notes: tuple[str, ...]

    @property
    def total(self) -> int:
        """The steps left in all lots."""
        return sum(left.steps for left in self.left)


def shelf_named(conn: Connection, name: str) -> SupplyShelf:
    """Return what the supply of this name has on the shelf. Raises Refused, naming the nearest three."""
    return shelf_of(conn, find_supply(conn, name))


def day_of(when: date) -> Day:
    """Return a whole day in the form in which movements keep it."""
    return parse_day(when.isoformat())


def one_lot(shelf: SupplyShelf, name: str, on: Day) -> Lot:
    """Return the lot that is meant: the one named, else the only one with something in it.

    Raises Refused for an unknown name, and without a name where several lots, or none at all, have something.
    """
    lots = [lot for lot in shelf.lots_on(on.text) if lot.id is not None]
    if name:
        wanted = pick_lot(shelf.supply, list(shelf.lots.values()), name).id
        return next(lot for lot in lots if lot.id == wanted)
    there = [lot for lot in take_order(lots) if lot.steps > 0]
    if len(there) == 1:
        return there[0]
    if not there:
        raise nothing_left(shelf, "")
    names = ", ".join(f'"{shelf.name_of(lot.id)}"' for lot in there)
    raise Refused(f'"{shelf.supply.name}" has {len(there)} lots: {names}.', "Say which with --lot NAME.")


def nothing_left(shelf: SupplyShelf, lot: str) -> Refused:
    """Return the refusal to take what the book does not have."""
    where = f'of lot "{lot}" ' if lot else ""
    return Refused(
        f'Nothing {where}of "{shelf.supply.name}" is left in the book.',
        f"If there is some, count it first: spindlebook supply count {typed(shelf.supply.name)} QUANTITY",
    )


def whole_or(shelf: SupplyShelf, lot: Lot, quantity: str) -> Amount:
    """Return the amount that was typed, or all that the lot has. Raises Refused where it has nothing."""
    if quantity:
        return read_amount(shelf.supply, quantity)
    if lot.steps <= 0:
        raise nothing_left(shelf, shelf.name_of(lot.id))
    supply = shelf.supply
    return Amount(lot.steps, show_number(lot.steps * supply.step), supply.measured_in)


def count_notes(shelf: SupplyShelf, on: Day, today: date) -> list[str]:
    """Say how a late entry meets the counts on its day and after it."""
    name = f'"{shelf.supply.name}"'
    same, later = shelf.shelf.counted(on.text)
    notes = []
    if same and on.first < today:
        notes.append(
            f"{name} was counted on {on.text}; this is taken to come after the count."
            " If it came before, undo it and give the day before."
        )
    if later:
        notes.append(f"{name} was counted on {later}, after this day: what is left stays as it was counted.")
    return notes


def seal(work: Work, shelf: SupplyShelf, did: str, notes: Sequence[str] = ()) -> Booked:
    """Commit the act, whose words for history are `did`, and return what is left."""
    work.commit(did)
    lots = [lot for lot in take_order(shelf.lots_held()) if lot.steps]
    left = [Left(shelf.name_of(lot.id), lot.steps, not usable(lot, work.today)) for lot in lots]
    return Booked(shelf.supply, did, tuple(left), (*notes, *_missing(shelf, lots)))


def _missing(shelf: SupplyShelf, lots: Sequence[Lot]) -> list[str]:
    """Say where the book is below zero."""
    supply, below = shelf.supply, -sum(lot.steps for lot in lots if lot.steps < 0)
    if supply.tracked != "count" or not below:
        return []
    says = f'The book of "{supply.name}" is {supply.show(below)} below zero: entries are missing, please count.'
    return [f"{says} Type: spindlebook supply count {typed(supply.name)} QUANTITY"]
