"""Adding procedures and changing what they ask for: whoever did the work before did it by an earlier revision."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.amounts import read_amount
from collection.acts.edit import Edited, Given, edit_record, make_row, needs_reason
from collection.acts.work import Work, open_work
from collection.errors import Refused
from collection.quantity import parse_number
from collection.store.engine import fetch
from collection.views.procedure_rules import procedure_rules
from collection.views.procedures import find_procedures
from collection.views.supplies import Supply, find_supply

# What may change while the work stays the same.
_SAME_WORK = frozenset({"procedure", "minutes", "source"})


def add_procedure(engine: Engine, name: str, given: Given, *, today: date, now: datetime) -> str:
    """Add a procedure, revision 1; returns its name.

    Raises Refused for a name that is given, and for what the due list cannot read.
    """
    with open_work(engine, "procedure add", today=today, now=now) as work:
        spelt = " ".join(name.split())
        make_row(work, "procedure", {"procedure": name, **given}, "A procedure", revision=1)
        procedure_rules(work.conn)  # what the due list cannot read is refused here
        work.commit(f"added the procedure {spelt}")
    return spelt


def edit_procedure(engine: Engine, name: str, given: Given, *, reason: str = "", today: date, now: datetime) -> Edited:
    """Change a procedure; what changes the work, or when it is due, raises its revision and needs a reason.

    Raises Refused as `edit_record` does.
    """

    def find(conn: Connection) -> tuple[int, str]:
        (procedure,) = find_procedures(conn, [name])
        return procedure.id, procedure.name

    return edit_record(
        engine, "procedure edit", "procedure", find, given, reason=reason, check=_raise_revision, today=today, now=now
    )


def set_amount(
    engine: Engine,
    name: str,
    supply: str,
    quantity: str,
    *,
    chance: str = "",
    reason: str = "",
    today: date,
    now: datetime,
) -> str:
    """Say how much of a supply a procedure takes, in place of what its sheet says; returns it in words.

    chance: how often it takes it at all, 0 to 1. Zero takes the supply off the sheet. Raises Refused for unknown
    names, what is no amount, and where the sheet has the supply already and no reason is given.
    """
    with open_work(engine, "procedure amount", today=today, now=now, reason=reason or None) as work:
        (procedure,) = find_procedures(work.conn, [name])
        kept = find_supply(work.conn, supply)
        amount = read_amount(kept, quantity, zero=True)
        columns = {
            "steps": amount.steps,
            "entered": amount.entered,
            "entered_in": amount.entered_in,
            "chance": _chance(chance),
        }
        row = _on_sheet(work, procedure.id, kept)
        if row is not None and not reason.strip():
            raise needs_reason(f'"{procedure.name}" takes {kept.show(row[1])} of "{kept.name}" by its sheet')
        if row is None:
            work.insert("amount", procedure_id=procedure.id, supply_id=kept.id, **columns)
        else:
            work.update("amount", row[0], None, **columns)
        work.update("procedure", procedure.id, None, revision=procedure.revision + 1)
        did = f'"{procedure.name}" takes {kept.show(amount.steps)} of "{kept.name}", revision {procedure.revision + 1}'
        work.commit(did)
    return did


def _raise_revision(work: Work, row_id: int, edited: Edited) -> None:
    procedure_rules(work.conn)  # what the due list cannot read is refused here
    if set(edited.names) - _SAME_WORK:
        revision = fetch(work.conn, "SELECT revision FROM procedure WHERE id = :id", id=row_id)[0][0]
        work.update("procedure", row_id, None, revision=revision + 1)


def _on_sheet(work: Work, procedure_id: int, supply: Supply) -> tuple[int, int] | None:
    sql = "SELECT id, steps FROM amount WHERE procedure_id = :procedure AND supply_id = :supply AND void = 0"
    rows = fetch(work.conn, sql, procedure=procedure_id, supply=supply.id)
    return (rows[0][0], rows[0][1]) if rows else None


def _chance(text: str) -> float | None:
    if not text:
        return None
    chance = float(parse_number(text))
    if not 0 <= chance <= 1:
        raise Refused(f"A chance of {text} is not within 0 to 1.", "Type how often it is used, as --chance 0.5.")
    return chance
