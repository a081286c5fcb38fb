"""Turn the mapped tables of a workbook into the tables of the folder's form, and say what cannot be turned."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial

from collection.acts.bring_in.sheet import Finding
from collection.exchange.sheets_book import BookFacts, KnownSupplies, KnownUnits
from collection.exchange.sheets_drawer import DrawerRows
from collection.exchange.sheets_events import EventRows
from collection.exchange.sheets_map import LEAVE, TableMap, plain_name
from collection.exchange.sheets_rows import Gathered, Made, Source, source_of
from collection.exchange.sheets_tables import LeftOut
from collection.exchange.sheets_units import UnitRows

LEFT_OUT = "left out"
NO_UNIT = "it names no tag, serial or model"
NO_SUPPLY = "it names no supply"
ASKED = "the mapping says so"
_TAGS = {
    "services": "service.tag", "readings": "readings.tag", "faults": "fault.tag", "loans": "loan.tag",
    "valuations": "valuation.tag",
}  # fmt: skip
_NOTES = {
    "services": "findings", "readings": "note", "faults": "symptom", "loans": "purpose", "valuations": "evidence"
}  # fmt: skip


@dataclass
class Converted:
    """The rows made of a workbook, what is to be said besides them, and the tags proposed by place of their table."""

    gathered: Gathered
    findings: list[Finding] = field(default_factory=list)
    proposed: dict[str, list[str]] = field(default_factory=dict)


def convert(tables: Sequence[TableMap], left_out: Sequence[LeftOut], facts: BookFacts, book: str) -> Converted:
    """Make the rows: units first, then supplies, then what happened to them. book: the workbook's file name."""
    return _Converter(tables, left_out, facts, book).run()


class _Converter:
    def __init__(self, tables: Sequence[TableMap], left_out: Sequence[LeftOut], facts: BookFacts, book: str) -> None:
        self._tables, self._facts, self._book = tables, facts, book
        self._made = Converted(Gathered())
        self._known, supplies = KnownUnits(facts), KnownSupplies(facts)
        self._units = UnitRows(self._made.gathered, facts, self._known)
        self._drawer = DrawerRows(self._made.gathered, facts, supplies)
        self._events = EventRows(self._made.gathered, facts, supplies)
        for each in left_out:
            self._say(LEFT_OUT, each.sheet, each.row, each.column, each.value, each.rule)

    def run(self) -> Converted:
        for table in self._tables:
            self._say_of_table(table)
        sources = {id(table): self._sources(table) for table in self._tables if table.holds != LEAVE}
        of = [(table.holds, sources[id(table)]) for table in self._tables if table.holds != LEAVE]
        for holds, rows in of:
            if holds == "supplies":
                self._each(rows, self._drawer.row, NO_SUPPLY)
        units = [source for holds, rows in of if holds == "units" for source in rows]
        self._units.look_over(units)
        self._unit_rows(units)
        for holds, rows in of:
            if holds in _TAGS:
                self._each(rows, partial(self._event, holds), NO_UNIT)
        self._made.proposed = self._units.proposed
        return self._made

    def _sources(self, table: TableMap) -> list[Source]:
        """Return the rows of a table that are not to be left out."""
        rows = []
        for line in table.block.lines:
            source = source_of(table, line)
            if line.number in table.leave_rows:
                self._leave(source, ASKED)
            else:
                rows.append(source)
        return rows

    def _each(self, rows: Sequence[Source], make: Callable[[Source], bool], rule: str) -> None:
        for source in rows:
            if not make(source):
                self._leave(source, rule)

    def _unit_rows(self, sources: Sequence[Source]) -> None:
        begun: list[tuple[Source, Made]] = []
        for source in sources:
            made = self._units.begin(source)
            if made is None:
                self._leave(source, NO_UNIT)
            else:
                begun.append((source, made))
        for source, made in begun:
            self._events.of_unit(source, self._units.tag_now(made))
            self._units.finish(made)

    def _event(self, holds: str, source: Source) -> bool:
        """Make what a row of a list of events tells; says whether it names a unit at all."""
        tag, at, doubt = self._unit_of(holds, source)
        if at is None:
            return False
        make = {
            "services": self._events.service, "readings": self._events.reading, "faults": self._events.fault,
            "loans": self._events.loan, "valuations": self._events.valuation,
        }[holds]  # fmt: skip
        made = make(source, tag, at)
        made.doubt("tag", doubt, at)
        made.keep_rest(_NOTES[holds])
        return True

    def _unit_of(self, holds: str, source: Source) -> tuple[str, int | None, str]:
        """Return the tag of the unit a row is about, the column that names it, and the doubt about it."""
        named = None
        for name in (_TAGS[holds], "units.tag", "units.serial"):
            at = source.peek(name)
            if at is not None:
                tag, doubt = self._known.find(source.seen(at).strip())
                if tag:
                    return tag, at, doubt
                named = at if named is None else named
        return ("", None, "") if named is None else (source.seen(named).strip(), named, "")

    def _say_of_table(self, table: TableMap) -> None:
        """Say what keeps a table from being read, what is hidden in it, and what of its mapping is unsure."""
        block = table.block
        if table.holds == LEAVE:
            rule = "the mapping says so" if table.sure else "what it holds cannot be told"
            for line in block.lines:
                self._leave(source_of(table, line), rule)
            headings = ", ".join(column.heading for column in block.columns if column.heading)
            self._say(LEFT_OUT, block.sheet, block.heading_row, None, headings, rule)
            return
        for row, area, rule in block.refused:
            self._say("refused", block.sheet, row, None, area, rule)
        if block.hidden_sheet:
            self._say("doubtful", block.sheet, None, None, None, "the sheet is hidden; it is brought in too")
        for row in block.hidden:
            self._say("doubtful", block.sheet, row, None, None, "the row is hidden in the sheet; it is brought in too")
        if not table.sure:
            rule = f"taken as a table of {table.holds}; --map or an answer at a terminal settles it"
            self._say("doubtful", block.sheet, block.heading_row, None, block.place, rule)
        for each in table.columns:
            if not each.sure and each.samples and each.becomes not in ("note", LEAVE):
                rule = f"taken as {plain_name(each.becomes)}; --map or an answer at a terminal settles it"
                heading = each.column.heading
                self._say("doubtful", block.sheet, block.heading_row, each.column.letter, heading, rule)
            if each.becomes == LEAVE:
                self._leave_column(table, each.column.letter)

    def _leave_column(self, table: TableMap, letter: str) -> None:
        at = [each.column.letter for each in table.columns].index(letter)
        for line in table.block.lines:
            if line.cells[at].text.strip() and line.number not in table.leave_rows:
                shown = table.columns[at].column.shown
                self._say(LEFT_OUT, table.block.sheet, line.number, shown, line.cells[at].text, ASKED)

    def _leave(self, source: Source, rule: str) -> None:
        """Say every cell of a row that is left out."""
        for at, cell in enumerate(source.line.cells):
            if cell.text.strip():
                self._say(LEFT_OUT, source.sheet, source.number, source.column(at).shown, cell.text, rule)

    def _say(self, kind: str, sheet: str, row: int | None, column: str | None, value: str | None, rule: str) -> None:
        record = f"row {row} of {sheet}" if row is not None else f"sheet {sheet}"
        self._made.findings.append(Finding(kind, record, self._book, row, column, value, rule, sheet))
