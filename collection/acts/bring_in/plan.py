"""Compare a folder with the book: what is new, changed, the same, doubtful or refused. Nothing is changed here."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy.engine import Connection

from collection.acts.bring_in.baseline import plan_baselines
from collection.acts.bring_in.entries import plan_entries, settle_wishes
from collection.acts.bring_in.equipment import plan_locations, plan_pairings, plan_parts
from collection.acts.bring_in.ledger import plan_counts, plan_uses, settle_drawer
from collection.acts.bring_in.lots import plan_lots
from collection.acts.bring_in.maintenance import plan_amounts, plan_faults, plan_hours, plan_procedures
from collection.acts.bring_in.measurement import plan_instruments, plan_limits, plan_measurements
from collection.acts.bring_in.models import plan_models
from collection.acts.bring_in.people import plan_loans, plan_people, plan_policies, plan_valuations
from collection.acts.bring_in.prepare import folder_sheet
from collection.acts.bring_in.readings import plan_readings
from collection.acts.bring_in.services import plan_services
from collection.acts.bring_in.sheet import CHANGED, KINDS, NEW, Finding, Sheet
from collection.acts.bring_in.state import Batch, Mark, Options, State, Update
from collection.acts.bring_in.supplies import plan_offers, plan_orders, plan_suppliers, plan_supplies
from collection.acts.bring_in.tables import Table
from collection.acts.bring_in.units import plan_units
from collection.store.engine import fetch
from collection.views.folder.form import FORMS

Planner = Callable[[State, Sheet], None]
Tick = Callable[[int, int], None]

PLANNERS: dict[str, Planner] = {
    "measurements.csv": plan_measurements,
    "models.csv": plan_models,
    "locations.csv": plan_locations,
    "people.csv": plan_people,
    "units.csv": plan_units,
    "entries.csv": plan_entries,
    "pairings.csv": plan_pairings,
    "instruments.csv": plan_instruments,
    "limits.csv": plan_limits,
    "supplies.csv": plan_supplies,
    "procedures.csv": plan_procedures,
    "amounts.csv": plan_amounts,
    "suppliers.csv": plan_suppliers,
    "offers.csv": plan_offers,
    "lots.csv": plan_lots,
    "orders.csv": plan_orders,
    "services.csv": plan_services,
    "parts.csv": plan_parts,
    "readings.csv": plan_readings,
    "uses.csv": plan_uses,
    "counts.csv": plan_counts,
    "hours.csv": plan_hours,
    "faults.csv": plan_faults,
    "valuations.csv": plan_valuations,
    "policies.csv": plan_policies,
    "loans.csv": plan_loans,
}
# Whose doubtful rows are marked here; readings and movements see to their own.
_TABLE_OF = {
    "units.csv": "unit",
    "pairings.csv": "pairing",
    "services.csv": "service",
    "parts.csv": "fitted_part",
    "faults.csv": "fault",
}


@dataclass(frozen=True)
class Plan:
    """What bringing in a folder would do.

    totals: how many rows of each kind `rows` yields. last_act: the last act of the book when it was compared.
    """

    tables: Sequence[Table]
    options: Options
    totals: dict[str, int]
    last_act: int
    sheets: Sequence[Sheet]
    told: Sequence[Finding]
    batches: Sequence[Batch]
    updates: Sequence[Update]
    voids: Sequence[tuple[str, int]]
    marks: Sequence[Mark]

    @property
    def writable(self) -> bool:
        """Whether nothing is refused."""
        return not self.totals["refused"]

    @property
    def changes_nothing(self) -> bool:
        """Whether the book has all of it already."""
        return self.writable and not self.batches and not self.updates and not self.voids

    def rows(self) -> Iterator[Finding]:
        """Yield what is to be told of every row of the folder, then of what its options bring about."""
        for sheet in self.sheets:
            yield from sheet.findings()
        yield from self.told


def plan_import(
    conn: Connection,
    tables: Sequence[Table],
    *,
    today: date,
    options: Options | None = None,
    tick: Tick | None = None,
) -> Plan:
    """Compare the tables of a folder with the book, in the order in which they refer to one another.

    tick: called with the rows done and their number after each file.
    """
    options = options or Options()
    state = State(conn, today, options)
    of_file = {table.file: table for table in tables}
    sheets: dict[str, Sheet] = {}
    state.shared["sheets"] = []
    done, number = 0, sum(map(len, tables))
    for file, planner in PLANNERS.items():
        if file in of_file:
            sheets[file] = folder_sheet(state, of_file[file])
            planner(state, sheets[file])
            state.shared["sheets"].append(sheets[file])
            done += sheets[file].size
            if tick:
                tick(done, number)
    settle_drawer(state)
    settle_wishes(state)
    told = [*state.told, *plan_baselines(state, sheets)]
    for sheet in sheets.values():
        sheet.settle()
        _mark(state, sheet)
    totals = dict.fromkeys(KINDS, 0)
    for each in (*(sheet.totals() for sheet in sheets.values()), Counter(finding.kind for finding in told)):
        for kind, rows in each.items():
            totals[kind] += rows
    ordered = sorted(sheets.values(), key=lambda sheet: list(FORMS).index(sheet.form.file))
    return Plan(
        tables, options, totals, last_act(conn), ordered, told, state.batches, state.updates, state.voids, state.marks
    )


def unreadable(tables: Sequence[Table], refused: Sequence[Finding]) -> Plan:
    """Return the plan of a folder that could not be read whole: it refuses, and compares nothing."""
    totals = {**dict.fromkeys(KINDS, 0), "refused": len(refused)}
    return Plan(tables, Options(), totals, 0, (), refused, (), (), (), ())


def _mark(state: State, sheet: Sheet) -> None:
    """Gather the marks of doubtful rows that are written."""
    table = _TABLE_OF.get(sheet.form.file)
    if table is None:
        return
    for row, remarks in sheet.remarks.items():
        ref = sheet.refs[row]
        if ref is None or sheet.kinds[row] not in (NEW, CHANGED):
            continue
        for remark in remarks:
            if remark.kind == "doubtful" and remark.record is None:
                state.marks.append(Mark(table, ref, remark.column, remark.value, remark.rule))


def last_act(conn: Connection, before: int | None = None) -> int:
    """Return the last act of the book, or the last before another."""
    if before is None:
        return int(fetch(conn, "SELECT coalesce(max(id), 0) FROM act")[0][0])
    return int(fetch(conn, "SELECT coalesce(max(id), 0) FROM act WHERE id < :act", act=before)[0][0])
