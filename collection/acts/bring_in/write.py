"""Write what was planned, all or nothing, as one act."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import zip_longest
from typing import Any

from sqlalchemy.engine import Engine

from collection.acts.bring_in.plan import Plan, Tick, last_act, plan_import
from collection.acts.bring_in.state import Batch
from collection.acts.work import Work, open_work
from collection.errors import Moved, Refused
from collection.schema import APPEND_ONLY, TABLES

COMMAND = "import"
_CHUNK = 20_000
# Rows come after what they refer to; where two tables of a pair are alike, as gathered.
ORDER = (
    "person", "location", "measurement", "model", "supplier", "supply", "procedure", "unit", "unit_alias",
    "instrument", "instrument_use", "limit_range", "amount", "offer", "lot", "purchase_order", "order_line",
    "order_event", "service", "task", "loan", "loan_item", "unit_entry", "pairing", "fitted_part", "fault", "series",
    "reading", "reading_aside", "movement", "hour_reading", "valuation", "policy", "baseline",
)  # fmt: skip


@dataclass
class Written:
    """The ids that references below zero have become, per table."""

    ids: defaultdict[str, dict[int, int]]
    runs: dict[str, list[tuple[int, int, int]]]

    def take_in(self, table: str, refs: Sequence[int], ids: range) -> None:
        """Note which ids a batch got; references that fall one by one are kept as a run."""
        if isinstance(refs, range):
            self.runs.setdefault(table, []).append((refs.start, len(refs), ids.start))
        else:
            self.ids[table].update(zip(refs, ids, strict=True))

    def id_of(self, table: str, ref: int | None) -> int | None:
        """Return the id of a row of the book or of a row just written."""
        if ref is None or ref > 0:
            return ref
        for start, count, first in self.runs.get(table, ()):
            if start - count < ref <= start:
                return first + start - ref
        return self.ids[table][ref]


def write_plan(work: Work, plan: Plan, tick: Tick | None = None) -> None:
    """Write every new row, change and mark of a plan that refuses nothing."""
    written = Written(defaultdict(dict), {})
    batches = sorted(plan.batches, key=lambda batch: ORDER.index(batch.table))
    done, number = 0, sum(map(len, batches))
    for table in {table for table, _ in plan.voids}:
        work.set_void(table, [row_id for voided, row_id in plan.voids if voided == table], True)
    for batch in batches:
        for count in _write_batch(work, batch, written):
            done += count
            if tick:
                tick(done, number)
    for table, row_id, changes in plan.updates:
        targets = _targets(table)
        values = {
            name: written.id_of(targets[name], value) if name in targets else value for name, value in changes.items()
        }
        work.update(table, row_id, **values)
    marks = [
        (mark.table, written.id_of(mark.table, mark.ref), mark.column, mark.value, mark.rule) for mark in plan.marks
    ]
    if marks:
        work.append_many("doubt", ("table_name", "row_id", "field", "value", "rule"), marks)


def _write_batch(work: Work, batch: Batch, written: Written) -> Iterator[int]:
    """Write one batch in chunks; yields how many rows each had."""
    targets = _targets(batch.table)
    columns = [
        _resolver(written, targets[name])(cells) if name in targets else cells for name, cells in batch.columns.items()
    ]
    write = work.append_many if batch.table in APPEND_ONLY else work.insert_many
    first: int | None = None
    for start in range(0, len(batch), _CHUNK):
        rows = list(zip(*(cells[start : start + _CHUNK] for cells in columns), strict=True))
        ids = write(batch.table, tuple(batch.columns), rows)
        first = ids.start if first is None else first
        yield len(rows)
    if first is not None:
        written.take_in(batch.table, batch.refs, range(first, first + len(batch)))


def _resolver(written: Written, table: str) -> Callable[[list[Any]], list[Any]]:
    """Return what turns references to a table into ids, each different one once."""

    def resolve(cells: list[Any]) -> list[Any]:
        meaning = {ref: written.id_of(table, ref) for ref in set(cells)}
        return [meaning[ref] for ref in cells]

    return resolve


def _targets(table: str) -> dict[str, str]:
    """Return the table that each reference of a table leads to."""
    return {key.parent.name: key.column.table.name for key in TABLES[table].foreign_keys}


@dataclass(frozen=True, slots=True)
class BroughtIn:
    """What was written: how many rows of each kind."""

    totals: dict[str, int]


def bring_in(
    engine: Engine, plan: Plan, *, today: date, now: datetime, where: str, tick: Tick | None = None
) -> BroughtIn:
    """Write a plan as one act; `where` names the folder in the history.

    If the book moved since it was compared, it is compared again inside the act; raises Moved when that shows
    anything else than what was agreed to, and Refused for a plan that refuses anything.
    """
    if not plan.writable:
        raise Refused("Some rows of the folder are refused.", "Correct the files first.")
    with open_work(engine, COMMAND, today=today, now=now) as work:
        if last_act(work.conn, work.act_id) != plan.last_act:
            again = plan_import(work.conn, plan.tables, today=today, options=plan.options)
            if any(one != other for one, other in zip_longest(plan.rows(), again.rows())):
                raise Moved(
                    "The book was changed while you looked at this import, and it would now do something else.",
                    "Look at it again: repeat the command.",
                )
            plan = again
        write_plan(work, plan, tick)
        work.commit(_summary(plan, where))
    return BroughtIn(plan.totals)


def _summary(plan: Plan, where: str) -> str:
    counts = ", ".join(f"{number} {kind}" for kind, number in plan.totals.items() if number)
    return f"brought in {where}: {counts}"
