"""Units that leave for good: sold, given away, given back, scrapped or lost, decided by somebody for a reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.days import past_day
from collection.acts.edit import Edited, edit_record, make_row
from collection.acts.entries import Standing, enter_standing
from collection.acts.work import Work, open_work
from collection.errors import Refused, typed
from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.exits import GONE, Exit, exits_of
from collection.views.units import Unit, find_unit, unit_on

PAID = ("sold", "exchanged")
NOBODY = ("scrapped", "lost")  # ways out in which nobody receives the unit
_PAIRED = """
SELECT id, from_date FROM pairing
WHERE void = 0 AND to_date IS NULL AND :unit IN (drive_id, supply_unit_id) ORDER BY id
"""


@dataclass(frozen=True, slots=True)
class GivenExit:
    """A disposal as told, by the columns of FIELDS; "" for what is not told. price: as "120" or "120 EUR"."""

    how: str
    reason: str
    to: str = ""
    authority: str = ""
    price: str = ""
    receipt_on: str = ""
    note: str = ""


def dispose(engine: Engine, tag: str, given: GivenExit, *, on: str = "", today: date, now: datetime) -> Exit:
    """Let a unit leave for good from a (partial) day on; it stands gone, its pairings end, its tag stays its own.

    For a unit that is gone already with nothing told, what is told is added to that day. Raises Refused as
    `refuse_leaving` does, for one that left as told before, for a way out that is none, without a reason, and without
    somebody who receives it where the way out asks for one.
    """
    with open_work(engine, "unit dispose", today=today, now=now, reason=given.reason.strip() or None) as work:
        unit = unit_on(work.conn, find_unit(work.conn, tag).id, today)
        day = _day(unit, exits_of(work.conn, unit.id), on, today)
        fixed = {"unit_id": unit.id, "left_on": day}
        row_id = make_row(work, "unit_exit", asdict(given), f"The disposal of {unit.tag}", **fixed)
        made = next(each for each in exits_of(work.conn, unit.id) if each.id == row_id)
        _refuse_contradiction(made)
        if unit.standing != GONE:
            enter_standing(work, unit, Standing(GONE, day, f"{made.how}: {made.reason}"))
            end_pairings(work, unit.id, day)
        # No name of a person stands in a summary: it is sealed, and people can be forgotten.
        work.commit(f"{unit.tag}: gone, {made.how}")
    return made


def edit_exit(
    engine: Engine, tag: str, given: Mapping[str, str], *, reason: str = "", today: date, now: datetime
) -> Edited:
    """Put right what is told of the last disposal of a unit, by the columns of FIELDS; "" takes a value away.

    Raises Refused for a unit without one, as `edit_record` does, and for what contradicts the way out.
    """

    def find(conn: Connection) -> tuple[int, str]:
        unit = find_unit(conn, tag)
        told = exits_of(conn, unit.id)
        if not told:
            raise Refused(
                f"No disposal of {unit.tag} is told.", f"Type: spindlebook unit dispose {typed(unit.tag)} --how WORD"
            )
        return int(told[0].id or 0), f"{unit.tag}, gone {told[0].left_on}"

    def check(work: Work, row_id: int, _edited: Edited) -> None:
        unit_id = fetch(work.conn, "SELECT unit_id FROM unit_exit WHERE id = :id", id=row_id)[0][0]
        _refuse_contradiction(exits_of(work.conn, unit_id)[0])

    return edit_record(
        engine, "unit edit-disposal", "unit_exit", find, given, reason=reason, check=check, today=today, now=now
    )  # fmt: skip


def _day(unit: Unit, told: list[Exit], on: str, today: date) -> str:
    """Return the (partial) day it leaves: of a unit that is gone with nothing told, the day since which it is."""
    day = past_day(on, today, "--on")
    if unit.standing == GONE:
        if any(each.left_on == unit.standing_from for each in told):
            raise Refused(
                f"{unit.tag} left on {unit.standing_from} already.",
                f"To put right what is told: spindlebook unit edit-disposal {typed(unit.tag)}",
            )
        if on and day != unit.standing_from:
            raise Refused(f"{unit.tag} is gone since {unit.standing_from}, not since {day}.", "Leave --on out.")
        return unit.standing_from
    return day


def _refuse_contradiction(told: Exit) -> None:
    """Refuse a price of what was not sold, nobody who receives it, and a receipt from before it left."""
    if told.price and told.how not in PAID:
        raise Refused(f"{told.tag} was {told.how}, so it has no price.", "Leave --price out, or type --how sold.")
    if not told.to and told.how not in NOBODY:
        raise Refused(f"{told.tag} was {told.how}, and nobody is named who has it.", "Add --to PERSON.")
    if told.receipt_on and parse_day(told.receipt_on).last < parse_day(told.left_on).first:
        raise Refused(
            f"A receipt of {told.receipt_on} is from before it left on {told.left_on}.", "Type the day it was signed."
        )


def end_pairings(work: Work, unit_id: int, day: str) -> None:
    """End the open pairings of a unit that leaves on a (partial) day, none before it began."""
    for pairing_id, since in fetch(work.conn, _PAIRED, unit=unit_id):
        work.update("pairing", pairing_id, to_date=max(day, since))
