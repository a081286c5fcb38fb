"""Adding a supply to the book, using it, and opening one of its lots."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from sqlalchemy.engine import Engine

from collection.acts.amounts import read_amount
from collection.acts.booking import Booked, count_notes, day_of, seal, shelf_named
from collection.acts.days import day_given
from collection.acts.movements import name_given, write_movement
from collection.acts.take_out import TakenOut, opened_past_date, take_out
from collection.acts.texts import refuse_texts
from collection.acts.work import Work, open_work
from collection.analysis.shelf_life import AGE_UNKNOWN
from collection.analysis.take_order import Lot, take_order, usable
from collection.errors import Refused, fold, typed
from collection.quantity import Day, parse_number, show_number, unit_of
from collection.schema.supplies import BASES, TRACKED
from collection.store.engine import fetch
from collection.views.shelves import SupplyShelf
from collection.views.supplies import Supply, pick_lot, supply_of
from collection.views.units import find_unit

_DIMENSIONS = ("mass", "volume", "length", "pieces")
_MOST_MONTHS = 1200
MEASURED = BASES[1]


@dataclass(frozen=True, slots=True)
class GivenSupply:
    """A supply as a person typed it; empty text and None stand for what was not said."""

    name: str
    kind: str
    measured_in: str
    step: str = ""
    tracked: str = TRACKED[0]
    density: str = ""
    polymer: str = ""
    thickener: str = ""
    strength: str = ""
    size: str = ""
    fits: str = ""
    shelf_life_months: int | None = None
    open_life_months: int | None = None
    note: str = ""


def add_supply(engine: Engine, given: GivenSupply, *, today: date, now: datetime) -> Supply:
    """Add a supply to the book. Raises Refused for a name that is given, and for values it cannot have."""
    with open_work(engine, "supply add", today=today, now=now) as work:
        supply = supply_of(work.conn, write_supply(work, given))
        work.commit(f'added the supply "{supply.name}", measured in {supply.measured_in}')
    return supply


def write_supply(work: Work, given: GivenSupply) -> int:
    """Write one supply and return its id; see `add_supply`."""
    name, kind = name_given("supply", given.name), name_given("kind", given.kind)
    taken = fetch(work.conn, "SELECT name FROM supply WHERE name_folded = :name AND void = 0", name=fold(name))
    if taken:
        hint = f"See it: spindlebook supply show {typed(taken[0][0])}"
        raise Refused(f'There is a supply "{taken[0][0]}" already.', hint)
    unit = unit_of(given.measured_in)
    if unit.dimension not in _DIMENSIONS:
        raise Refused(f"A supply is not measured in {unit.symbol}.", "Type --measured-in piece, g, ml or m.")
    texts = ("polymer", "thickener", "strength", "size", "fits", "note")
    return work.insert(
        "supply",
        name=name,
        name_folded=fold(name),
        kind=kind,
        measured_in=unit.symbol,
        smallest_step=_above_zero("Smallest step", given.step or default_step(unit.symbol)),
        tracked=_tracked(given.tracked),
        density=_above_zero("Density", given.density) if given.density else None,
        shelf_life_months=_months("Shelf life", given.shelf_life_months),
        open_life_months=_months("Open life", given.open_life_months),
        **{each: _text(each, getattr(given, each)) for each in texts},
    )


def default_step(measured_in: str) -> str:
    """Return the smallest step of a supply for which none was told."""
    return "1" if measured_in == "piece" else "0.01"


def use_supply(
    engine: Engine,
    name: str,
    quantity: str,
    *,
    lot: str = "",
    on: str = "",
    basis: str = MEASURED,
    planned: bool = False,
    tag: str = "",
    past_date_anyway: bool = False,
    reason: str = "",
    today: date,
    now: datetime,
) -> Booked:
    """Book that a supply was used outside a service, first expired first out or from one lot."""
    refuse_texts(reason=reason)
    with open_work(engine, "supply use", today=today, now=now, reason=reason or None) as work:
        day = day_of(day_given(on, today))
        shelf = shelf_named(work.conn, name)
        amount = read_amount(shelf.supply, quantity)
        notes = count_notes(shelf, day, work.today)
        taken = take_out(
            work,
            shelf.supply,
            amount.steps,
            day,
            basis=basis,
            planned=planned,
            unit_id=find_unit(work.conn, tag).id if tag else None,
            lot=pick_lot(shelf.supply, list(shelf.lots.values()), lot).id if lot else None,
            past_date_anyway=past_date_anyway,
            reason=reason or None,
            entered=amount.typed,
            shelf=shelf,
        )
        return seal(work, shelf, f"used {taken_words(taken)}", [*notes, *taken_notes(taken, shelf)])


def taken_words(taken: TakenOut) -> str:
    """Say what was taken: '3 g of "white grease" (lot "A" 2 g, lot "B" 1 g)'."""
    supply = taken.supply
    parts = [
        (f'lot "{each.lot}"' if each.lot else "no known lot") + f" {supply.show(each.steps)}" for each in taken.taken
    ]
    return f'{supply.show(taken.steps)} of "{supply.name}" ({", ".join(parts)})'


def taken_notes(taken: TakenOut, shelf: SupplyShelf) -> list[str]:
    """Say what about a use is out of the ordinary."""
    supply, notes = taken.supply, []
    if taken.short:
        notes.append(
            f'{supply.show(taken.short)} of "{supply.name}" more than the book had:'
            " booked all the same and marked as doubtful."
        )
    past = [f'"{each.lot}"' for each in taken.taken if each.past_date]
    if past:
        notes.append(f"Past its date, and marked so: lot {', '.join(past)}.")
    lots = [each.lot_id for each in taken.taken if each.lot_id is not None]
    unknown = [f'"{shelf.name_of(lot)}"' for lot in dict.fromkeys(lots) if shelf.through(lot).of_unknown_age]
    if unknown:
        notes.append(f"Lot {', '.join(unknown)}: {AGE_UNKNOWN}.")
    return notes


def open_lot(
    engine: Engine,
    name: str,
    *,
    lot: str = "",
    on: str = "",
    past_date_anyway: bool = False,
    today: date,
    now: datetime,
) -> Booked:
    """Book that a lot was opened, the next unopened one unless it is named: its open life starts that day.

    Raises Refused for one that was opened, and for a lot past its date without `past_date_anyway`.
    """
    with open_work(engine, "supply open", today=today, now=now) as work:
        day = day_of(day_given(on, today))
        shelf = shelf_named(work.conn, name)
        chosen = _named(shelf, lot, day) if lot else _next_unopened(shelf, day)
        assert chosen.id is not None  # noqa: S101  both ways of choosing give a known lot
        _refuse_opened(shelf, chosen, day)
        late = not usable(chosen, day.first)
        if late and not past_date_anyway:
            raise opened_past_date(shelf, chosen.id, day.first)
        write_movement(work, shelf, "open", 0, day, lot_id=chosen.id, used_past_date=int(late))
        found = shelf.through(chosen.id)
        until = f"Usable through {found.through}" if found.through else "Usable through"
        notes = [f"{until}: {found.because}."]
        return seal(work, shelf, f'opened lot "{shelf.name_of(chosen.id)}" of "{shelf.supply.name}"', notes)


def _named(shelf: SupplyShelf, name: str, on: Day) -> Lot:
    wanted = pick_lot(shelf.supply, list(shelf.lots.values()), name).id
    return next(lot for lot in shelf.lots_on(on.text) if lot.id == wanted)


def _next_unopened(shelf: SupplyShelf, on: Day) -> Lot:
    """Return the next lot that nobody has opened: within its date where there is one, else past it."""
    closed = [
        lot
        for lot in take_order(shelf.lots_on(on.text))
        if lot.id is not None and lot.steps > 0 and shelf.shelf.opened_on(lot.id) is None
    ]
    if closed:
        return next((lot for lot in closed if usable(lot, on.first)), closed[0])
    raise Refused(
        f'The book has no unopened lot of "{shelf.supply.name}" on {on.text}.',
        f"See what there is: spindlebook supply show {typed(shelf.supply.name)}",
    )


def _refuse_opened(shelf: SupplyShelf, lot: Lot, on: Day) -> None:
    """Refuse to open a lot twice, after it was used, or before it came."""
    assert lot.id is not None  # noqa: S101  see open_lot
    name = f'Lot "{shelf.name_of(lot.id)}" of "{shelf.supply.name}"'
    came = shelf.lots[lot.id].received_on
    if on.text < came:
        raise Refused(f"{name} came on {came}, after {on.text}.", "Type the day on which it was opened.")
    said = shelf.shelf.said_open(lot.id)
    if said is not None:
        raise Refused(
            f"{name} was opened on {said}; a lot is opened once.",
            f"If that is wrong: spindlebook supply history {typed(shelf.supply.name)}, then supply reverse",
        )
    if lot.opened_on is not None and lot.opened_on < on.text:
        raise Refused(
            f"{name} was used on {lot.opened_on}, so it was open by then.", "Type that day or an earlier one."
        )


def _above_zero(what: str, text: str) -> str:
    number: Decimal = parse_number(text)
    if number <= 0:
        raise Refused(f"{what} {text} is not above zero.", 'Type it as "0.01".')
    return show_number(number)


def _months(what: str, months: int | None) -> int | None:
    if months is not None and not 1 <= months <= _MOST_MONTHS:
        raise Refused(f"{what} of {months} months is outside 1 to {_MOST_MONTHS}.", "Type whole months, as 36.")
    return months


def _tracked(text: str) -> str:
    if fold(text) not in TRACKED:
        raise Refused(f'Tracked "{text}" is not known.', f"Type one of: {', '.join(TRACKED)}.")
    return fold(text)


def _text(what: str, text: str) -> str | None:
    refuse_texts(**{what: text})
    return text.strip() or None
