"""Supplies that a service uses up: out of the right lots, by what was measured or by the sheet."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.acts.amounts import read_amount
from collection.acts.service_given import GivenService, GivenUse
from collection.acts.take_out import book_short, refuse_past_date, take_out
from collection.acts.texts import refuse_texts_of
from collection.acts.work import Work
from collection.analysis.take_order import take
from collection.errors import Refused, fold
from collection.quantity import Day
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.procedures import Caution, Procedure, cautions_before, find_procedures
from collection.views.sheets import SheetAmount, sheet_amounts
from collection.views.shelves import shelf_of
from collection.views.supplies import Supply, find_lot, find_supply, supply_list
from collection.views.units import find_unit

NOT_COUNTED = {
    "no": "is not tracked: nothing was booked",
    "pack": "is tracked by the pack: nothing was booked; type spindlebook supply open when you open one",
}


class Occasion(NamedTuple):
    """On what a supply is used: the service of a unit with all its procedures so far, on a day; None outside one."""

    service_id: int | None
    unit_id: int
    on: Day
    procedures: tuple[Procedure, ...]
    past_date_anyway: bool


def take_supply(
    work: Work,
    occasion: Occasion,
    supply: Supply,
    steps: int,
    *,
    basis: str,
    planned: bool,
    procedure_id: int | None,
    entered: tuple[str, str],
    lot_id: int | None = None,
) -> int | None:
    """Book a use in a service, first expired first out; what the book does not have becomes a short row.

    A short row is marked as doubtful: stock was used that nobody booked in, or the work was cut short.
    Returns the lot taken from first, None where it is not known. Raises Refused as `take_out`.
    """
    shelf = shelf_of(work.conn, supply)
    lots = [each for each in shelf.lots_on(occasion.on.text) if lot_id is None or each.id == lot_id]
    _, short = take(lots, steps, occasion.on.first, expired_too=occasion.past_date_anyway)
    if not occasion.past_date_anyway:
        refuse_past_date(shelf, lots, occasion.on.first, steps, short, lot_id)
    common: dict[str, Any] = {
        "service_id": occasion.service_id,
        "procedure_id": procedure_id,
        "unit_id": occasion.unit_id,
        "entered": entered,
    }
    first = None
    if steps > short:
        taken = take_out(
            work,
            supply,
            steps - short,
            occasion.on,
            basis=basis,
            planned=planned,
            lot=lot_id,
            past_date_anyway=occasion.past_date_anyway,
            shelf=shelf,
            **common,
        )
        first = taken.taken[0].lot_id
    if short:
        row_id = book_short(work, supply, short, occasion.on, **common)
        says = f"{supply.show(steps)} used, {supply.show(steps - short)} in the book: please count"
        work.doubt("movement", row_id, "quantity", supply.show(short), says)
    return first


def take_told(work: Work, occasion: Occasion, uses: Sequence[GivenUse]) -> tuple[set[int], list[str]]:
    """Book the amounts that a person told; returns the supplies named and what was not booked, and why.

    An amount of zero books nothing and keeps the sheet's amount away; an empty one is what the sheet says.
    """
    named, notes = set[int](), []
    for use in uses:
        supply, lot_name = supply_and_lot(work.conn, use.supply, use.lot)
        named.add(supply.id)
        if supply.tracked in NOT_COUNTED:
            notes.append(f"{supply.name} {NOT_COUNTED[supply.tracked]}.")
            continue
        if not use.quantity:
            notes += take_by_the_sheet(work, occasion, occasion.procedures, (), only=supply.id)
            continue
        amount = read_amount(supply, f"{use.quantity} {use.measured_in}", zero=True)
        if amount.steps:
            planned, procedure_id = planned_by(work.conn, occasion, supply, use.procedure)
            take_supply(
                work,
                occasion,
                supply,
                amount.steps,
                basis="measured",
                planned=planned,
                procedure_id=procedure_id,
                entered=amount.typed,
                lot_id=find_lot(work.conn, supply, lot_name).id if lot_name else None,
            )
    return named, notes


def planned_by(conn: Connection, occasion: Occasion, supply: Supply, told: str = "") -> tuple[bool, int | None]:
    """Return whether a use is planned, and its procedure.

    It is planned where the sheet of a procedure of the service has the supply. Its procedure is the one told, else
    the only one whose sheet has it, else the only one of the service. Raises Refused for one that was not done.
    """
    able = {
        each.procedure.id
        for each in sheet_amounts(conn, occasion.procedures, occasion.unit_id)
        if each.supply.id == supply.id
    }
    if told:
        return bool(able), _named_procedure(told, supply, occasion.procedures)
    only = able or {procedure.id for procedure in occasion.procedures}
    return bool(able), next(iter(only)) if len(only) == 1 else None


def take_by_the_sheet(
    work: Work,
    occasion: Occasion,
    procedures: Sequence[Procedure],
    told: Collection[int | None],
    only: int | None = None,
) -> list[str]:
    """Book what the sheets say is always used, except supplies whose amount was told; only: of this supply alone.

    Returns what the sheets have for some tasks only, in words: nobody said whether it was used.
    """
    left_open = []
    for amount in sheet_amounts(work.conn, procedures, occasion.unit_id):
        if amount.supply.id in told or only not in (None, amount.supply.id):
            continue
        if amount.sometimes:
            left_open.append(f"Not booked, as it is not always used: {amount.shown}; if it was, type --used.")
            continue
        take_supply(
            work,
            occasion,
            amount.supply,
            amount.steps,
            basis="sheet",
            planned=True,
            procedure_id=amount.procedure.id,
            entered=amount.entered,
        )
    return left_open


def booked_in(conn: Connection, service_id: int) -> set[int]:
    """Return the supplies that a service has booked so far."""
    sql = f"SELECT DISTINCT m.supply_id FROM movement m WHERE m.service_id = :service AND {counts('m')}"
    return {row[0] for row in fetch(conn, sql, service=service_id)}


def supply_and_lot(conn: Connection, text: str, lot: str = "") -> tuple[Supply, str]:
    """Return the supply that "NAME" or "NAME/LOT" means, and the name of the lot or "".

    A supply may have a slash in its own name. Raises Refused for an unknown supply.
    """
    if not lot and "/" in text and fold(text) not in {fold(each.name) for each in supply_list(conn)}:
        name, _, lot = text.rpartition("/")
        return find_supply(conn, name.strip()), lot.strip()
    return find_supply(conn, text), lot


def _named_procedure(told: str, supply: Supply, procedures: Sequence[Procedure]) -> int:
    for procedure in procedures:
        if fold(procedure.name) == fold(told):
            return procedure.id
    done = ", ".join(procedure.name for procedure in procedures) or "none"
    raise Refused(
        f'"{supply.name}" was used for "{told}", which is not among the procedures done: {done}.',
        f'Add --did "{told}".',
    )


def cautions_for(conn: Connection, given: GivenService) -> list[Caution]:
    """Return what stands before the work that is told: of its procedures, their sheets, its supplies and parts."""
    refuse_texts_of(given)
    named = [(use.supply, use.lot) for use in given.used] + [(part.supply, part.lot) for part in given.parts]
    supplies = [supply_and_lot(conn, text, lot)[0] for text, lot in named if text]
    procedures = find_procedures(conn, given.did)
    return cautions_before(conn, procedures, [(supply.name, supply.kind) for supply in supplies])


def offered_by_sheet(conn: Connection, tag: str, given: GivenService) -> list[SheetAmount]:
    """Return what the sheets of the procedures told would take on a unit; nothing once anything is told."""
    if given.used or given.by_the_sheet:
        return []
    return [
        each
        for each in sheet_amounts(conn, find_procedures(conn, given.did), find_unit(conn, tag).id)
        if not each.sometimes
    ]
