"""What bringing in a person's own workbook would do: the plan of a folder, told in sheets, rows and columns."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy.engine import Connection

from collection.acts.bring_in.plan import Plan, plan_import
from collection.acts.bring_in.sheet import Finding
from collection.acts.bring_in.state import Options
from collection.exchange.sheets_book import book_facts
from collection.exchange.sheets_convert import LEFT_OUT, Converted, convert
from collection.exchange.sheets_map import TableMap
from collection.exchange.sheets_tables import LeftOut


@dataclass(frozen=True)
class WorkbookPlan:
    """The plan of a workbook. totals: as of a folder, with what was left out besides."""

    plan: Plan
    converted: Converted
    book: str
    totals: dict[str, int]

    @property
    def writable(self) -> bool:
        """Whether nothing is refused."""
        return not self.totals["refused"]

    @property
    def changes_nothing(self) -> bool:
        """Whether the book has all of it already."""
        return self.writable and self.plan.changes_nothing

    def rows(self) -> Iterator[Finding]:
        """Yield what is to be told of every row, then of sheets and tables, then of what is left out."""
        yield from _told_once(self.converted.gathered.traced(finding, self.book) for finding in self.plan.rows())
        yield from self.converted.findings


def _told_once(findings: Iterable[Finding]) -> Iterator[Finding]:
    """Yield findings without a second refusal of one cell: a service and its readings fail by the same tag."""
    seen: set[tuple[object, ...]] = set()
    for finding in findings:
        if finding.kind == "refused":
            cell = (finding.sheet, finding.row, finding.column, finding.value, finding.rule)
            if cell in seen:
                continue
            seen.add(cell)
        yield finding


def plan_workbook(
    conn: Connection,
    tables: Sequence[TableMap],
    left_out: Sequence[LeftOut],
    *,
    book: str,
    today: date,
    options: Options | None = None,
) -> WorkbookPlan:
    """Compare the tables of a workbook, mapped, with the book; nothing is changed."""
    converted = convert(tables, left_out, book_facts(conn, today), book)
    plan = plan_import(conn, converted.gathered.tables(), today=today, options=options)
    counts = Counter(finding.kind for finding in converted.findings)
    totals = {kind: number + counts[kind] for kind, number in plan.totals.items()} | {LEFT_OUT: counts[LEFT_OUT]}
    made = WorkbookPlan(plan, converted, book, totals)
    if totals["refused"]:
        totals["refused"] = sum(finding.kind == "refused" for finding in made.rows())
    return made
