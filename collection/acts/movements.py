"""Writing rows of the stock ledger: what every act on the drawer is made of."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any, NamedTuple

from collection.acts.texts import refuse_texts
from collection.acts.work import Work
from collection.analysis.take_order import Taken
from collection.errors import Refused
from collection.quantity import Day, show_number
from collection.views.shelves import SupplyShelf
from collection.views.supplies import Supply

BEYOND = "more than the book has: entries are missing, please count"


class Part(NamedTuple):
    """What one row takes: so many steps of a lot (None: unknown) at a place (None: not told).

    beyond: the book does not have it.
    """

    lot: int | None
    place: int | None
    steps: int
    beyond: bool


def write_movement(work: Work, shelf: SupplyShelf, kind: str, steps: int, on: Day, **more: Any) -> int:
    """Write one row, keep the shelf up to date, and return the row's id.

    more: other columns; `typed`, (number, unit), is the amount as it was typed, else the steps are shown. Raises
    Refused for a day that has not come.
    """
    refuse_day(on, work.today)
    typed = more.pop("typed", None)
    values = {"used_past_date": 0, **more, **entered_as(shelf.supply, steps, typed)}
    row = work.append("movement", supply_id=shelf.supply.id, kind=kind, steps=steps, occurred_on=on.text, **values)
    shelf.shelf.add(more.get("lot_id"), more.get("location_id"), kind, steps, on.text)
    return row


def write_out(work: Work, shelf: SupplyShelf, kind: str, part: Part, on: Day, **more: Any) -> int:
    """Write one row that takes something out; what the book does not have is marked as doubtful."""
    row = write_movement(work, shelf, kind, -part.steps, on, lot_id=part.lot, location_id=part.place, **more)
    if part.beyond:
        work.doubt("movement", row, "quantity", shelf.supply.show(part.steps), BEYOND)
    return row


def parts_of(
    shelf: SupplyShelf, on: Day, taken: Iterable[Taken], told: int | None = None, short: int = 0
) -> Iterator[Part]:
    """Yield each lot over its places, where no place was told first, and then what the book does not have.

    told: the lot on which that is booked.
    """
    spots = shelf.spots(shelf.shelf.available(on.text))
    for lot, steps in taken:
        left = steps
        for (spot_lot, place), there in spots:
            part = min(left, there) if spot_lot == lot else 0
            if part > 0:
                left -= part
                yield Part(lot, place, part, beyond=False)
    if short:
        places = [place for (lot, place), _ in spots if lot == told]
        yield Part(told, places[-1] if places else None, short, beyond=True)


def entered_as(supply: Supply, steps: int, typed: tuple[str, str] | None) -> dict[str, str]:
    """Return the columns that keep an amount as it was typed, else as the supply measures it."""
    number, unit = typed or (show_number(abs(steps) * supply.step), supply.measured_in)
    return {"entered": number, "entered_in": unit}


def refuse_amount(supply: Supply, steps: int) -> None:
    """Refuse an amount that is not above zero."""
    if steps <= 0:
        raise Refused(f'{supply.show(steps)} of "{supply.name}": an amount is above zero.', "Type it without a minus.")


def refuse_day(on: Day, today: date) -> None:
    """Refuse a day that has not come yet."""
    if on.first > today:
        raise Refused(
            f"{on.text} has not come yet (today is {today.isoformat()}).",
            "Type the day on which it happened, as --on 2025-10-03.",
        )


def name_given(what: str, text: str) -> str:
    """Return a name without blanks around it. Raises Refused for none, and for one that cannot be kept."""
    bare = text.strip()
    if not bare:
        raise Refused(f"No name of the {what} was given.", "Type one.")
    refuse_texts(**{what: bare})
    return bare


def reason_given(text: str, example: str) -> str:
    """Return a reason. Raises Refused for none, and for one that cannot be kept."""
    bare = text.strip()
    if not bare:
        raise Refused("No reason was given.", f'Add --reason "{example}".')
    refuse_texts(reason=bare)
    return bare
