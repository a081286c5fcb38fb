"""Taking supplies out of their lots: the step that every use goes through, whoever books it."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from collection.acts.work import Work
from collection.analysis.take_order import Lot, Taken, take, take_order, usable
from collection.errors import Refused
from collection.quantity import Day, show_day, show_number
from collection.views.shelves import SupplyShelf, shelf_of
from collection.views.supplies import Supply

BEYOND = "more than the book has: entries are missing, please count"


@dataclass(frozen=True, slots=True)
class TakenFrom:
    """So many steps out of one lot (None, "": a lot nobody knows) at one place (None: not told).

    past_date: the lot was past its last usable day; beyond: the book did not have that much.
    """

    lot_id: int | None
    lot: str
    location_id: int | None
    steps: int
    movement_id: int
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


class _Part(NamedTuple):
    """What one row of a use takes."""

    lot: int | None
    place: int | None
    steps: int
    beyond: bool


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
        _refuse_past_date(shelf, lots, on.first, steps, short)
    common = {
        "kind": "use",
        "supply_id": supply.id,
        "occurred_on": on.text,
        "basis": basis,
        "planned": None if planned is None else int(planned),
        "service_id": service_id,
        "procedure_id": procedure_id,
        "unit_id": unit_id,
        "reason": reason,
        "group_key": work.keys.one(),
        **entered_as(supply, steps, entered),
    }
    past = {each.id for each in lots if not usable(each, on.first)}
    parts = list(_parts(shelf, on.text, taken, lot, short))
    return TakenOut(supply, tuple(_book(work, shelf, common, part, past) for part in parts), short)


def _book(
    work: Work, shelf: SupplyShelf, common: Mapping[str, Any], part: _Part, past: Container[int | None]
) -> TakenFrom:
    """Write one row of a use."""
    values = {
        **common,
        "lot_id": part.lot,
        "location_id": part.place,
        "used_past_date": int(part.lot in past),
    }
    movement_id = work.append("movement", steps=-part.steps, **values)
    shelf.shelf.add(part.lot, part.place, "use", -part.steps, common["occurred_on"])
    if part.beyond:
        work.doubt("movement", movement_id, "steps", shelf.supply.show(part.steps), BEYOND)
    name = shelf.name_of(part.lot)
    return TakenFrom(part.lot, name, part.place, part.steps, movement_id, part.lot in past, part.beyond)


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


def refuse_amount(supply: Supply, steps: int) -> None:
    """Refuse an amount that is not above zero."""
    if steps <= 0:
        raise Refused(
            f'{supply.show(steps)} of "{supply.name}": an amount is above zero.', "Type it without a minus."
        )


def refuse_day(on: Day, today: date) -> None:
    """Refuse a day that has not come yet."""
    if on.first > today:
        raise Refused(
            f"{show_day(on.text)} has not come yet (today is {show_day(today.isoformat())}).",
            "Type the day on which it happened, as --on 2025-10-03.",
        )


def entered_as(supply: Supply, steps: int, entered: tuple[str, str] | None) -> dict[str, str]:
    """Return the columns that keep an amount as it was typed, else as the supply measures it."""
    number, unit = entered or (show_number(steps * supply.step), supply.measured_in)
    return {"entered": number, "entered_in": unit}


def _refuse_past_date(shelf: SupplyShelf, lots: list[Lot], on: date, steps: int, short: int) -> None:
    """Refuse to reach for stock past its date unasked."""
    past = [lot for lot in take_order(lots) if lot.steps > 0 and not usable(lot, on)]
    if not short or not past or past[0].id is None:
        return
    supply, lot = shelf.supply, past[0]
    within = f"of {supply.show(steps)} only {supply.show(steps - short)} are within their date"
    through, because, _ = shelf.through(past[0].id)
    name = f'lot "{shelf.name_of(lot.id)}"'
    raise Refused(
        f'"{supply.name}": {within}; {name} was usable through {show_day(str(through))} ({because}).',
        "Add --past-date-anyway if it was used all the same.",
    )


def _parts(
    shelf: SupplyShelf, on: str, taken: Iterable[Taken], told: int | None, short: int
) -> Iterator[_Part]:
    """Yield each lot over its places, where no place was told first, and then what the book does not have."""
    spots = sorted(
        shelf.shelf.available(on).items(), key=lambda item: (item[0][1] is not None, item[0][1] or 0)
    )
    for lot, steps in taken:
        left = steps
        for (spot_lot, place), there in spots:
            part = min(left, there) if spot_lot == lot else 0
            if part > 0:
                left -= part
                yield _Part(lot, place, part, beyond=False)
    if short:
        places = [place for (lot, place), _ in spots if lot == told]
        yield _Part(told, places[-1] if places else None, short, beyond=True)
