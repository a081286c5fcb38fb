"""A lot that is looked at: it is good for longer, or it is not to be used any more."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy.engine import Engine

from collection.acts.booking import Booked, day_of, nothing_left, seal, shelf_named
from collection.acts.days import day_given
from collection.acts.texts import refuse_texts
from collection.acts.work import Work, open_work
from collection.analysis.months import add_months
from collection.analysis.shelf_life import FAIL, PASS, Inspection, UsableThrough
from collection.errors import NeedsReason, Refused, fold, typed
from collection.quantity import parse_day
from collection.views.shelves import SupplyShelf
from collection.views.supplies import pick_lot

LONGEST_MONTHS = 60  # the longest extension of ISO 2230:2002, that of its group C; nothing is given more unasked


@dataclass(frozen=True, slots=True)
class GivenInspection:
    """What a person found of a lot; good_through "": the end of the extension that its material has, if it has one.

    anyway: why it is good for longer than its material is given.
    """

    lot: str
    result: str
    good_through: str = ""
    on: str = ""
    note: str = ""
    anyway: str = ""


def inspect_lot(engine: Engine, name: str, given: GivenInspection, *, today: date, now: datetime) -> Booked:
    """Note what an inspection of a lot found; from that day on its word goes before the dates of the lot.

    Raises Refused for another result than pass or fail, a lot that is not there, a day that has not come or before the
    lot came, a pass for which no end is known, and an end before the inspection or beside a failure. Raises NeedsReason
    for an end beyond the one extension of its material, or more than five years ahead where none is known.
    """
    refuse_texts(note=given.note, anyway=given.anyway)
    result = fold(given.result)
    if result not in (PASS, FAIL):
        raise Refused(f'"{given.result}" is no result of an inspection.', "Type --result pass or --result fail.")
    with open_work(engine, "supply inspect", today=today, now=now, reason=given.anyway or None) as work:
        shelf = shelf_named(work.conn, name)
        on = day_given(given.on, today)
        lot = _lot_there(shelf, given.lot, on)
        before = shelf.through(lot, on.isoformat())
        end = _good_through(_Asked(shelf, lot, on, before), result, given)
        seen = Inspection(on.isoformat(), result, None if end is None else end.isoformat(), given.note.strip() or None)
        _write(work, shelf, lot, seen)
        told = ("failed" if result == FAIL else "passed") + (f", good through {end}" if end else "")
        did = f'inspected lot "{shelf.name_of(lot)}" of "{shelf.supply.name}": {told}'
        return seal(work, shelf, did, _notes(shelf, lot, on, seen))


def note_again(work: Work, shelf: SupplyShelf, old: int, new: int) -> None:
    """Note of a lot that was filled from another what inspections found of that one."""
    for seen in shelf.inspections.get(old, ()):
        _write(work, shelf, new, seen)


@dataclass(frozen=True, slots=True)
class _Asked:
    """Which lot is looked at on which day, and through which day it was usable until then."""

    shelf: SupplyShelf
    lot: int
    on: date
    before: UsableThrough

    @property
    def name(self) -> str:
        """What a person calls the lot."""
        return f'lot "{self.shelf.name_of(self.lot)}" of "{self.shelf.supply.name}"'


def _lot_there(shelf: SupplyShelf, name: str, on: date) -> int:
    """Return the lot of this name. Raises Refused for one that is used up, or had not come by the day."""
    row = pick_lot(shelf.supply, list(shelf.lots.values()), name)
    if on < parse_day(row.received_on).first:
        raise Refused(
            f'Lot "{row.name}" of "{shelf.supply.name}" came on {row.received_on}, after {on}.',
            "Type the day on which it was inspected, as --on 2026-03-01.",
        )
    if not any(lot.id == row.id and lot.steps > 0 for lot in shelf.lots_on(day_of(on).text)):
        raise nothing_left(shelf, row.name)
    return row.id


def _good_through(asked: _Asked, result: str, given: GivenInspection) -> date | None:
    """Return through which day a lot is good, None for one that failed or whose own dates stay as they are."""
    if result == FAIL:
        if given.good_through:
            raise Refused(f"Where {asked.name} failed it is good through no day.", "Leave --good-through out.")
        return None
    limit, through = asked.before.after_inspection, asked.before.through
    if not given.good_through:
        return None if through is None or through >= asked.on else _by_its_material(asked, limit)
    end = parse_day(given.good_through).last
    if end < asked.on:
        raise Refused(
            f"--good-through {given.good_through} lies before the inspection on {asked.on}.",
            "Type a day from then on; if it is not fit for use: --result fail",
        )
    _refuse_beyond(asked, end, limit, anyway=given.anyway.strip())
    return end


def _by_its_material(asked: _Asked, limit: date | None) -> date:
    """Return the end of the extension that the material of a lot past its date has."""
    if limit is None:
        raise Refused(
            f"How long {asked.name} stays good after an inspection is not known.",
            "Say it: --good-through 2027-03-31, or the month, 2027-03.",
        )
    if limit < asked.on:
        raise Refused(
            f"The one extension of {asked.name} ended on {limit} ({asked.before.because}).",
            'Discard it; if it is used all the same: --good-through DATE --anyway "REASON"',
        )
    return limit


def _refuse_beyond(asked: _Asked, end: date, limit: date | None, *, anyway: str) -> None:
    most = add_months(asked.on, LONGEST_MONTHS) if limit is None else limit
    if end <= most or anyway:
        return
    five = f"{most}, five years from the inspection: no extension is longer"
    rule = five if limit is None else f"the end of its one extension, {most}"
    raise NeedsReason(
        f"Good through {end} would take {asked.name} beyond {rule}.", 'Type an earlier day, or add --anyway "REASON".'
    )


def _write(work: Work, shelf: SupplyShelf, lot: int, seen: Inspection) -> None:
    """Write one inspection and let the shelf know of it."""
    work.append("lot_inspection", lot_id=lot, **seen._asdict())
    shelf.inspections = {**shelf.inspections, lot: (*shelf.inspections.get(lot, ()), seen)}


def _notes(shelf: SupplyShelf, lot: int, on: date, seen: Inspection) -> list[str]:
    """Say what follows from an inspection."""
    if seen.result == FAIL:
        supply, name = shelf.supply.name, shelf.name_of(lot)
        discard = f'spindlebook supply discard {typed(supply)} --lot {typed(name)} --reason "failed inspection"'
        return [f"It is not used any more. When it is thrown away: {discard}"]
    found = shelf.through(lot, on.isoformat())
    until = f"Usable through {found.through}" if found.through else "No end is known"
    return [f"{until}: {found.because}."]
