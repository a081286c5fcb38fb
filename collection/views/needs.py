"""What the due work of a time ahead takes of each supply."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from sqlalchemy.engine import Connection

from collection.analysis.needs import SheetAmount, jobs, models_of, names_of_model, needs
from collection.analysis.netting import Need
from collection.analysis.schedule import due_list
from collection.store.engine import fetch
from collection.views.due import due_facts

_AMOUNTS_SQL = """
SELECT a.procedure_id, a.supply_id, a.steps, a.chance, s.fits FROM amount a
JOIN supply s ON s.id = a.supply_id
WHERE a.void = 0 ORDER BY a.id"""


@dataclass(frozen=True, slots=True)
class Needs:
    """Needs of each supply until a day, by supply id; no_history: units of which nobody knows what is due."""

    until: date
    of_supply: dict[int, list[Need]]
    no_history: int


def needs_of_due_work(conn: Connection, today: date, within_days: int) -> Needs:
    """Return what the work that is due within so many days takes, by the sheets of its procedures."""
    facts = due_facts(conn, today)
    due = due_list(facts.of_units, facts.rules, today, within_days)
    until = today + timedelta(days=within_days)
    every = {rule.id: rule.every_months for rule in facts.rules}
    loans = {unit.id: unit.loan_due for unit in facts.of_units if unit.loan_due}
    models = {unit.id: names_of_model(unit.maker, unit.model) for unit in facts.of_units}
    work = jobs(due.rows, every, loans, models, today, until)
    return Needs(until, needs(work, sheet_amounts(conn)), len(due.no_history))


def sheet_amounts(conn: Connection) -> list[SheetAmount]:
    """Return what every procedure takes of every supply."""
    rows = fetch(conn, _AMOUNTS_SQL)
    return [
        SheetAmount(procedure, supply, steps, Fraction(1) if chance is None else Fraction(str(chance)), models_of(fits))
        for procedure, supply, steps, chance, fits in rows
    ]
