"""Units of the book that a folder calls gone: refused where something holds them here, as when it is typed.

What comes with all its history, as from another book, is taken as that book has it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from collection.acts.bring_in.sheet import NEW, Sheet
from collection.acts.bring_in.state import State
from collection.views.exits import GONE
from collection.views.holds import IN_SERVICE, OF_LOAN, RESERVED, Hold, first_by_unit, holds
from collection.views.inventory import last_seen


class Leaving(NamedTuple):
    """That a row calls a unit gone from a (partial) day on; column: the cell that says so."""

    sheet: Sheet
    row: int
    column: str
    unit: int
    day: str


def note_leaving(state: State, told: Leaving) -> None:
    """Keep that a row calls a unit gone, to be judged when all of the folder is known."""
    if told.unit > 0:
        state.shared.setdefault("leaving", []).append(told)


def note_held(state: State, sheet: Sheet, ends: str) -> None:
    """Keep which new rows hold a unit of the book here, their day of the end not told, until the folder is known."""
    held = state.shared.setdefault("held", [])
    for row in sheet.open_rows():
        unit = sheet.values["tag"][row]
        if sheet.kinds[row] == NEW and unit is not None and unit > 0 and sheet.values[ends][row] is None:
            held.append((sheet, row, ends, unit))


def settle_held(state: State, current: dict[tuple[int, str], tuple[str, object]]) -> None:
    """Refuse the rows that would hold a unit here that stands gone, as when it is typed; current: as `settle_leaving`.

    Where the folder itself calls the unit gone, that row is the one that is refused.
    """
    leaving = {each.unit for each in _leaving(state, current)}
    for sheet, row, ends, unit in state.shared.get("held", ()):
        since, stands = current.get((unit, "standing"), ("", ""))
        if stands == GONE and unit not in leaving:
            sheet.refuse(row, "tag", f"is gone since {since}; write {ends}, or in entries.csv that it is here again")


def settle_leaving(state: State, current: dict[tuple[int, str], tuple[str, object]]) -> None:
    """Refuse the rows by which a unit would stand gone that is on loan, borrowed, reserved, in service or seen since.

    current: what each unit stands as by all entries, since when. A unit that left and is here again is not asked about.
    """
    leaving = _leaving(state, current)
    if not leaving:
        return
    held, seen = first_by_unit(_holds(state)), last_seen(state.conn, state.today)
    for each in leaving:
        hold, last = held.get(each.unit), seen.get(each.unit)
        if hold is not None:
            mend = hold.mend(each.sheet.table.cell("tag", each.row))
            each.sheet.refuse(each.row, each.column, f"{hold._replace(person='').says}; {mend}")
        elif last is not None and last.day[: len(each.day)] > each.day:
            was = f"was here on {last.day}, after {each.day}: {last.what}"
            each.sheet.refuse(each.row, each.column, f"{was}; write a day on which it had left")


def _leaving(state: State, current: dict[tuple[int, str], tuple[str, object]]) -> list[Leaving]:
    """Return the rows by which a unit stands gone; one that a later entry follows holds no longer."""
    return [each for each in state.shared.get("leaving", ()) if current[each.unit, "standing"] == (each.day, GONE)]


def _holds(state: State) -> Iterator[Hold]:
    """Yield what holds units here when all of the folder is written."""
    yield from open_loans(state).values()
    closed = {each.row_id for each in state.updates if each.table == "service" and each.changes.get("closed_on")}
    for hold in holds(state.conn, state.today):
        if hold.how == RESERVED or (hold.how == IN_SERVICE and hold.row_id not in closed):
            yield hold
    for batch in state.batches:
        if batch.table == "service":
            ends = batch.columns.get("closed_on") or [None] * len(batch)
            rows = zip(batch.columns["unit_id"], batch.columns["opened_on"], ends, strict=True)
            yield from (Hold(unit, IN_SERVICE, 0, since) for unit, since, end in rows if end is None)


def open_loans(state: State) -> dict[tuple[int, str], Hold]:
    """Return the open loans by unit and how it is held, "on loan" or "borrowed", those of the folder included."""
    if "open loans" not in state.shared:
        held = holds(state.conn, state.today)
        state.shared["open loans"] = {(each.unit_id, each.how): each for each in held if each.how in OF_LOAN.values()}
    found: dict[tuple[int, str], Hold] = state.shared["open loans"]
    return found
