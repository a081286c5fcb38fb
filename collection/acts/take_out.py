"""Taking supplies out of their lots: the step that every use goes through, whoever books it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from collection.acts.movements import entered_as, parts_of, refuse_amount, refuse_day, write_out
from collection.acts.work import Work
from collection.analysis.take_order import Lot, take, take_order, usable
from collection.errors import PastDate, typed
from collection.quantity import Day
from collection.views.shelves import SupplyShelf, shelf_of
from collection.views.supplies import Supply


@dataclass(frozen=True, slots=True)
class TakenFrom:
    """So many steps out of one lot (None, "": a lot nobody knows) at one place (None: not told).

    past_date: the lot was past its last usable day; beyond: the book did not have that much.
    """

    lot_id: int | None
    lot: str
    location_id: int | None
    steps: int
    past_date: bool
    beyond: bool


@dataclass(frozen=True, slots=True)
class TakenOut:
    """What was booked, one entry per row; short: the steps among them that the book did not have."""

    supply: Supply
    taken: tuple[TakenFrom, ...]
    short: int

    @property
    def steps(self) -> int:
        """All that was booked."""
        return sum(each.steps for each in self.taken)


def take_out(
    work: Work,
    supply: Supply,
    steps: int,
    on: Day,
    *,
    basis: str | None = None,
    planned: bool | None = None,
    service_id: int | None = None,
    procedure_id: int | None = None,
    unit_id: int | None = None,
    lot: int | None = None,
    past_date_anyway: bool = False,
    reason: str | None = None,
    entered: tuple[str, str] | None = None,
    shelf: SupplyShelf | None = None,
) -> TakenOut:
    """Book a use, first expired first out, or from one `lot`; all its rows are tied by one group.

    What the book does not have is booked all the same, on the lot told, else on the unknown lot, and marked
    as doubtful. entered: number and unit as typed. shelf: what the supply has, read anew if left out; it is
    kept up to date, so that many uses need one reading.

    Raises Refused for nothing or less, a day ahead, and a lot past its date without `past_date_anyway`.
    """
    refuse_amount(supply, steps)
    refuse_day(on, work.today)
    shelf = shelf if shelf is not None else shelf_of(work.conn, supply)
    lots = [each for each in shelf.lots_on(on.text) if lot is None or each.id == lot]
    taken, short = take(lots, steps, on.first, expired_too=past_date_anyway)
    if not past_date_anyway:
        refuse_past_date(shelf, lots, on.first, steps, short, lot)
    common = {
        "basis": basis,
        "planned": None if planned is None else int(planned),
        "service_id": service_id,
        "procedure_id": procedure_id,
        "unit_id": unit_id,
        "reason": reason,
        "group_key": work.keys.one(),
        "typed": entered,
    }
    past = {each.id for each in lots if not usable(each, on.first)}
    rows = []
    for part in list(parts_of(shelf, on, taken, lot, short)):
        late = part.lot in past
        write_out(work, shelf, "use", part, on, used_past_date=int(late), **common)
        rows.append(TakenFrom(part.lot, shelf.name_of(part.lot), part.place, part.steps, late, part.beyond))
    return TakenOut(supply, tuple(rows), short)


def book_short(
    work: Work,
    supply: Supply,
    steps: int,
    on: Day,
    *,
    service_id: int | None = None,
    procedure_id: int | None = None,
    unit_id: int | None = None,
    reason: str | None = None,
    entered: tuple[str, str] | None = None,
) -> int:
    """Book that work was stopped or cut short because so much was missing; returns the row's id.

    It changes no stock. Raises Refused for nothing or less, and for a day ahead.
    """
    refuse_amount(supply, steps)
    refuse_day(on, work.today)
    return work.append(
        "movement",
        kind="short",
        supply_id=supply.id,
        steps=steps,
        occurred_on=on.text,
        service_id=service_id,
        procedure_id=procedure_id,
        unit_id=unit_id,
        reason=reason,
        used_past_date=0,
        **entered_as(supply, steps, entered),
    )


def refuse_past_date(
    shelf: SupplyShelf, lots: list[Lot], on: date, steps: int, short: int, told: int | None = None
) -> None:
    """Refuse to reach for stock past its date unasked; told: the lot that was named, even if it is empty."""
    past = [lot for lot in take_order(lots) if not usable(lot, on) and (lot.steps > 0 or lot.id == told)]
    if not short or not past or past[0].id is None:
        return
    show = shelf.supply.show
    raise PastDate(
        f'Of {show(steps)} of "{shelf.supply.name}" only {show(steps - short)} are within their date;'
        f" {_was_usable(shelf, past[0].id, on)}",
        _inspect_or_say(shelf, past[0].id, "used"),
    )


def opened_past_date(shelf: SupplyShelf, lot: int, on: date) -> PastDate:
    """Return the refusal to open a lot that is past its date on a day."""
    name = shelf.supply.name
    return PastDate(f'Of "{name}" {_was_usable(shelf, lot, on)}', _inspect_or_say(shelf, lot, "opened"))


def _was_usable(shelf: SupplyShelf, lot: int, on: date) -> str:
    found = shelf.through(lot, on.isoformat())
    return f'lot "{shelf.name_of(lot)}" was usable through {found.through} ({found.because}).'


def _inspect_or_say(shelf: SupplyShelf, lot: int, done: str) -> str:
    inspect = f"spindlebook supply inspect {typed(shelf.supply.name)} {typed(shelf.name_of(lot))}"
    return f"Inspect or discard it: {inspect}; or add --past-date-anyway if it was {done} all the same."
