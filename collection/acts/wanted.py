"""Parts that a unit waits for: wanted, got or dropped. Fitting one settles it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection, Engine

from collection.acts.days import past_day
from collection.acts.edit import make_row
from collection.acts.texts import refuse_texts
from collection.acts.work import Work, open_work
from collection.errors import Refused, fold, typed
from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.supplies import find_supply
from collection.views.units import Found, Unit, find_unit, unit_on
from collection.views.wanted import (
    AWAITING,
    WantedPart,
    missing_for,
    open_wants,
    parts_came,
    there_for,
    wanted_list,
)

_MOST_PIECES = 1000


class GivenWant(NamedTuple):
    """A part as a person says it is wanted; empty text for what was not said."""

    part: str
    supply: str = ""
    pieces: int = 1
    on: str = ""
    note: str = ""


class Wanted(NamedTuple):
    """A wanted part as written, and how many pieces of it the drawer has (None: no supply is told)."""

    row: WantedPart
    there: int | None


def add_wanted(engine: Engine, tag: str, given: GivenWant, *, today: date, now: datetime) -> Wanted:
    """Note that a unit wants a part; a part that is called as a supply is that supply.

    Raises Refused for no part, an unknown supply, one not kept by the piece, a number of pieces outside 1 to 1000, and
    for what the unit wants already.
    """
    refuse_texts(note=given.note)
    with open_work(engine, "wanted add", today=today, now=now) as work:
        unit = find_unit(work.conn, tag)
        if not 1 <= given.pieces <= _MOST_PIECES:
            raise Refused(f"{given.pieces} pieces: a unit wants 1 to {_MOST_PIECES}.", "Type --pieces 1.")
        supply = given.supply or _supply_called(work.conn, given.part)
        told = {"part": given.part, "supply": supply, "pieces": str(given.pieces), "note": given.note}
        _refuse_wanted(work.conn, unit, given.part, supply)
        day = past_day(given.on, today, "--on")
        row_id = make_row(work, "wanted_part", told | {"wanted_on": day}, "A wanted part", unit_id=unit.id)
        row = next(each for each in wanted_list(work.conn, unit.id) if each.id == row_id)
        work.commit(f"{unit.tag}: wants {row.pieces} x {row.name}")
        ready = there_for(work.conn, [row], today)
    return Wanted(row, ready[row.supply_id].pieces if row.supply_id is not None else None)


def got_wanted(engine: Engine, tag: str, part: str, *, on: str = "", today: date, now: datetime) -> WantedPart:
    """Note that a wanted part is there. Raises Refused where it is not wanted, and for a day before it was."""
    return _end(engine, "wanted got", tag, part, "got_on", on, "", today, now)


def drop_wanted(
    engine: Engine, tag: str, part: str, *, reason: str, on: str = "", today: date, now: datetime
) -> WantedPart:
    """Note that a part is no longer wanted, and why. Raises Refused as `got_wanted` does, and without a reason."""
    if not reason.strip():
        raise Refused("A part is not dropped without a reason.", 'Add --reason "mended the old one".')
    return _end(engine, "wanted drop", tag, part, "dropped_on", on, reason, today, now)


def settle_wanted(work: Work, unit_id: int, part: str, supply_id: int | None, day: str) -> None:
    """Settle what a unit wanted once a part is fitted into it: by its supply, else by the name of the part.

    A part wanted in several pieces is wanted in one less. What was fitted before it was wanted settles nothing.
    """
    fitted = parse_day(day).last
    still = [row for row in wanted_list(work.conn, unit_id) if row.open and parse_day(row.wanted_on).first <= fitted]
    same = [row for row in still if supply_id is not None and row.supply_id == supply_id]
    same = same or [row for row in still if fold(row.part) == fold(part)]
    if same and same[0].pieces > 1:
        work.update("wanted_part", same[0].id, pieces=same[0].pieces - 1)
    elif same:
        work.update("wanted_part", same[0].id, got_on=max(day, same[0].wanted_on))


def received_notes(work: Work, supply_id: int) -> list[str]:
    """Say which units want a supply that has just come, and which of them are due by it."""
    notes = []
    for row in [each for each in open_wants(work.conn) if each.supply_id == supply_id]:
        unit = unit_on(work.conn, row.unit_id, work.today)
        notes.append(f"Wanted by {row.tag}: {_waits(work, unit)}.")
    return notes


def _waits(work: Work, unit: Unit) -> str:
    if unit.standing != AWAITING:
        return f"it stands {unit.standing or 'nowhere yet'}, and is not awaiting parts"
    if parts_came(work.conn, {unit.id: unit}, work.today):
        return "now on the due list"
    missing = ", ".join(row.name for row in missing_for(work.conn, unit.id, work.today))
    return f"still missing: {missing}" if missing else "it is there"


def _end(
    engine: Engine, command: str, tag: str, part: str, column: str, on: str, reason: str, today: date, now: datetime
) -> WantedPart:
    """Write the day on which a want ended."""
    with open_work(engine, command, today=today, now=now, reason=reason or None) as work:
        unit = find_unit(work.conn, tag)
        row = _which(unit, wanted_list(work.conn, unit.id), part)
        day = past_day(on, today, "--on")
        if parse_day(day).last < parse_day(row.wanted_on).first:
            raise Refused(f"{row.name} is wanted since {row.wanted_on}, after {day}.", "Type a later day: --on DATE.")
        ended: dict[str, Any] = {column: max(day, row.wanted_on), "reason": reason.strip() or None}
        work.update("wanted_part", row.id, **ended)
        made = next(each for each in wanted_list(work.conn, unit.id) if each.id == row.id)
        work.commit(f"{unit.tag}: {'got' if column == 'got_on' else 'no longer wants'} {row.name}")
    return made


def _which(unit: Found, rows: list[WantedPart], part: str) -> WantedPart:
    """Return the one open row that a text names, whole or by its words."""
    still = [row for row in rows if row.open]
    tests: tuple[Callable[[WantedPart], bool], ...] = (
        lambda row: fold(part) in (fold(row.part), fold(row.supply)),
        lambda row: all(word in fold(f"{row.part} {row.supply}") for word in fold(part).split()),
    )
    for test in tests:
        found = [row for row in still if test(row)]
        if len(found) == 1:
            return found[0]
        if found:
            break
    shown = ", ".join(f'"{row.name}"' for row in (found or still))
    if not still:
        raise Refused(f"{unit.tag} wants no part.", f'Type: spindlebook wanted add {typed(unit.tag)} "PART"')
    if not found:
        raise Refused(f'{unit.tag} wants no "{part}".', f"It wants: {shown}.")
    raise Refused(f'{unit.tag} wants {len(found)} parts called "{part}": {shown}.', "Type the whole name of one.")


def _refuse_wanted(conn: Connection, unit: Found, part: str, supply: str) -> None:
    if supply:
        kept = find_supply(conn, supply)
        if kept.measured_in != "piece":
            raise Refused(
                f'A part is wanted by the piece, and "{kept.name}" is kept in {kept.measured_in}.',
                f"To use it up: spindlebook supply use {typed(kept.name)} AMOUNT",
            )
    for row in wanted_list(conn, unit.id):
        if row.open and (fold(row.supply) if supply else fold(row.part)) == fold(supply or part):
            raise Refused(
                f"{unit.tag} wants {row.name} since {row.wanted_on} already ({row.pieces} x).",
                f"Drop it first: spindlebook wanted drop {typed(unit.tag)} {typed(row.name)} --reason TEXT",
            )


def _supply_called(conn: Connection, part: str) -> str:
    """Return the supply of just this name, "" where there is none."""
    rows = fetch(conn, "SELECT name FROM supply WHERE void = 0 AND name_folded = :name", name=fold(part))
    return str(rows[0][0]) if rows else ""
