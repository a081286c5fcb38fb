"""What an exported workbook would change in its book: told cell by cell, and the plan that writes it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from sqlalchemy.engine import Connection

from collection.acts.book_back_compare import (
    CHANGED,
    FOREIGN,
    GONE,
    NEW,
    Came,
    Compared,
    check_origin,
    compare_sheet,
    left_as_exported,
    let_names_go,
)
from collection.acts.book_back_given import LEFT_OUT, BackSheet, Origin
from collection.acts.book_back_rules import accounted, not_changed, refuse_what_stays, rests_on, stands_no_more
from collection.acts.book_back_tables import INSTEAD, OWN, Made, Role, make_tables
from collection.acts.bring_in import sheet as planned
from collection.acts.bring_in.plan import Plan, Tick, plan_import
from collection.acts.bring_in.sheet import Finding, Remark, Sheet
from collection.views.folder.form import FORMS

CONFLICT = "conflict"
KINDS = ("new", "changed", "same", CONFLICT, FOREIGN, "doubtful", "refused", LEFT_OUT)
_STOPPING = (CONFLICT, FOREIGN, "refused")
_COMMA = re.compile(r",? or add --decimal-comma.*")
_FILE = re.compile(r"\b(\w+)\.csv\b")
Prefer = Literal["", "book", "sheet"]
_ONE_SAME = {
    CONFLICT: "changed in the book as well since the export; write that here, or add --conflicts book or sheet",
    "taken back": "was taken back in the book since the export; to bring it in anew, empty its hidden row key",
    "there": "the book has it already, and says this; export anew, or add --conflicts book or sheet",
}


@dataclass
class BackPlan:
    """What bringing a workbook back would do.

    totals: how many findings of each kind `rows` yields: changed cells, else rows. plan: what is written; None where
    nothing was changed. resting: what the past rests on among it, in words. asides: readings that corrected ones take
    the place of. moved: how many cells were changed in the book alone.
    """

    sheets: Sequence[BackSheet]
    findings: list[Finding] = field(default_factory=list)
    totals: dict[str, int] = field(default_factory=lambda: dict.fromkeys(KINDS, 0))
    plan: Plan | None = None
    resting: list[str] = field(default_factory=list)
    asides: list[int] = field(default_factory=list)
    not_the_same: dict[str, set[int]] = field(default_factory=dict)
    prefer: Prefer = ""
    moved: int = 0

    @property
    def writable(self) -> bool:
        """Whether nothing stands against it."""
        return not any(self.totals[kind] for kind in _STOPPING)

    @property
    def changes_nothing(self) -> bool:
        """Whether there is nothing to write."""
        nothing = self.plan is None or (not self.plan.batches and not self.plan.updates and not self.plan.voids)
        return self.writable and nothing and not self.asides

    def rows(self) -> Iterator[Finding]:
        """Yield what is to be told of every row: first of what is not the same, sheet by sheet."""
        yield from self.findings
        for sheet in self.sheets:
            apart = self.not_the_same.get(sheet.file, set())
            for row in sheet.rows:
                if row.number not in apart:
                    yield Finding("same", _record(sheet, row.cells), sheet.file, row.number, sheet=sheet.name)

    def tell(self, finding: Finding) -> None:
        """Add a finding."""
        self.findings.append(finding)
        self.totals[finding.kind] += 1


def plan_back(
    conn: Connection,
    origin: Origin,
    sheets: Sequence[BackSheet],
    *,
    today: date,
    prefer: Prefer = "",
    tick: Tick | None = None,
) -> BackPlan:
    """Compare an exported workbook with its book and plan its changes; nothing is written.

    prefer: which stands where sheet and book both changed a cell; "" refuses such cells as conflicts. Raises Refused
    for a workbook of another book.
    """
    check_origin(conn, origin)
    compared, done, number = [], 0, sum(len(sheet.rows) for sheet in sheets)
    for sheet in sheets:
        compared.append(compare_sheet(conn, sheet, today))
        done += len(sheet.rows)
        if tick:
            tick(done, number)
    let_names_go(compared)
    for came in (came for each in compared for came in each.rows):
        if came.kind == CHANGED and prefer:
            came.changes += came.conflicts if prefer == "sheet" else ()
            came.conflicts = []
        if came.kind == CHANGED and came.changes and not came.conflicts and not came.refused:
            refuse_what_stays(conn, came)
    return _planned(conn, sheets, compared, today, prefer)


def _planned(
    conn: Connection, sheets: Sequence[BackSheet], compared: Sequence[Compared], today: date, prefer: Prefer
) -> BackPlan:
    made = make_tables(conn, compared, today)
    plan = plan_import(conn, [each.table() for each in made], today=today) if made else None
    if plan is not None and prefer == "book" and _drop_known(plan, made):
        return _planned(conn, sheets, compared, today, prefer)
    back = BackPlan(sheets, plan=plan, prefer=prefer, moved=sum(each.moved for each in compared))
    told: dict[int, list[Finding]] = {}
    beside: list[Finding] = []
    for each in made:
        planned_sheet = next(sheet for sheet in plan.sheets if sheet.form.file == each.file) if plan else None
        for index, role in enumerate(each.roles) if planned_sheet else ():
            about = _Row(conn, back, each, compared, planned_sheet, index)  # type: ignore[arg-type]
            (told.setdefault(id(role.came), []) if role.came else beside).extend(about.findings(role))
    for one in compared:
        _tell_sheet(back, one, told)
    for finding in [*beside, *(plan.told if plan else ())]:
        back.tell(finding)
    return back


def _drop_known(plan: Plan, made: Sequence[Made]) -> bool:
    """Take out new rows that the book has with other values, where the book is to stand; say whether there were any."""
    dropped = False
    for each in made:
        sheet = next(sheet for sheet in plan.sheets if sheet.form.file == each.file)
        for index, role in enumerate(each.roles):
            if role.kind == OWN and role.came and role.came.kind == NEW and sheet.kinds[index] == planned.CHANGED:
                role.came.kind = LEFT_OUT
                dropped = True
    return dropped


def _tell_sheet(back: BackPlan, one: Compared, told: dict[int, list[Finding]]) -> None:
    """Tell of every row of a sheet that is not the same, and count the others."""
    sheet = one.sheet
    for finding in sheet.findings:
        back.tell(finding)
    apart = back.not_the_same.setdefault(sheet.file, set())
    for came in one.rows:
        findings = [*_of_itself(came, back.prefer), *told.get(id(came), ())]
        if findings:
            apart.add(came.row.number)
        for finding in findings:
            back.tell(finding)
    back.totals["same"] += len(sheet.rows) - len(apart)


def _of_itself(came: Came, prefer: Prefer) -> Iterator[Finding]:
    """Yield what is told of a row before anything is planned for it."""
    if came.kind == GONE:
        kept = prefer == "book" or left_as_exported(came.sheet, came.row)
        yield _finding(came, LEFT_OUT if kept else CONFLICT, rule=_ONE_SAME["taken back"])
    elif came.kind == LEFT_OUT:
        yield _finding(came, LEFT_OUT, "the book has it already, and stands")
    elif came.kind == FOREIGN:
        rule = "its hidden row key is of no row of this book; to bring it in as a new row, empty that cell"
        yield _finding(came, FOREIGN, rule=rule)
    for column, rule in came.refused:
        yield _cell(came, "refused", column, rule)
    for change in came.conflicts:
        yield _cell(came, CONFLICT, came.sheet.columns[change.at].name, _ONE_SAME[CONFLICT], change.old)


@dataclass(slots=True)
class _Row:
    """One row of a table, after planning."""

    conn: Connection
    back: BackPlan
    made: Made
    compared: Sequence[Compared]
    sheet: Sheet
    index: int

    def findings(self, role: Role) -> list[Finding]:
        """Return what is to be told of it."""
        kind = self.sheet.kinds[self.index]
        came = role.came
        if came is None:
            return [self._beside(remark) for remark in self._remarks("refused")]
        if kind == planned.REFUSED:
            return [_cell(came, "refused", remark.column, remark.rule) for remark in self._remarks("refused")]
        also = [*(_of_remark(came, remark) for remark in self._remarks("doubtful")), *self._mentions(came)]
        if role.kind == INSTEAD:
            return self._instead(came, kind) + also
        return (self._new(came, kind) if came.kind == NEW else self._changed(came)) + also

    def _remarks(self, kind: str) -> list[Remark]:
        found = self.sheet.remarks.get(self.index, ())
        return [remark for remark in found if remark.kind == kind and remark.record is None]

    def _mentions(self, came: Came) -> Iterator[Finding]:
        for remark in self.sheet.remarks.get(self.index, ()):
            if remark.record is not None:
                yield _of_remark(came, remark)._replace(record=remark.record)

    def _beside(self, remark: Remark) -> Finding:
        row = self.made.numbers[self.index] or None
        return Finding("refused", self.sheet.record(self.index), self.made.file, row, remark.column, remark.value,
                       remark.rule)  # fmt: skip

    def _new(self, came: Came, kind: int) -> list[Finding]:
        if kind == planned.NEW:
            return [_finding(came, "new")]
        seen = next(each.seen for each in self.compared if each.sheet is came.sheet)
        ref = self.sheet.refs[self.index] or 0
        if ref in seen:
            return [_cell(came, "refused", FORMS[self.made.file].label[-1], f"stands twice: see row {seen[ref]}")]
        if kind == planned.SAME:
            return []
        told = [each for remark in self._remarks("changed") for each in str(remark.column).split(", ")]
        was = [each for remark in self._remarks("changed") for each in remark.rule.removeprefix("was ").split(", ")]
        if self.back.prefer == "sheet":
            return [_cell(came, "changed", name, None, old) for name, old in zip(told, was, strict=False)]
        return [_cell(came, CONFLICT, name, _ONE_SAME["there"], old) for name, old in zip(told, was, strict=False)]

    def _changed(self, came: Came) -> list[Finding]:
        told = {each for remark in self._remarks("changed") for each in str(remark.column).split(", ")}
        findings = []
        for name, change in came.changed.items():
            if accounted(name, told):
                findings.append(_cell(came, "changed", name, None, change.old, change.new))
            else:
                findings.append(_cell(came, "refused", name, not_changed(came, name), change.old))
        self._note_resting(came)
        return findings

    def _instead(self, came: Came, kind: int) -> list[Finding]:
        if kind != planned.NEW:
            return []  # it was corrected before
        against = stands_no_more(self.conn, came)
        if against:
            return [_cell(came, "refused", *against)]
        rule = "entered anew; the row before it stays in the history"
        if self.made.file == "readings.csv" and came.id is not None:
            self.back.asides.append(came.id)
            rule = "entered anew; the reading before it is set aside"
        self._note_resting(came)
        return [_cell(came, "changed", name, rule, each.old, each.new) for name, each in came.changed.items()]

    def _note_resting(self, came: Came) -> None:
        resting = rests_on(came)
        if resting:
            self.back.resting.append(f"{_record(came.sheet, came.stored)} {resting}")


def _of_remark(came: Came, remark: Remark) -> Finding:
    return _cell(came, remark.kind, remark.column, remark.rule)._replace(value=remark.value)


def _record(sheet: BackSheet, cells: Sequence[str]) -> str:
    """Return what a row is about, as "unit D1"."""
    form = FORMS[sheet.file]
    names = (cells[sheet.place(name)].strip() for name in form.label)
    return " ".join([form.record, *(name for name in names if name)])


def _finding(came: Came, kind: str, rule: str | None = None) -> Finding:
    record = _record(came.sheet, came.stored or came.row.cells)
    told = _of_the_sheets(rule) if rule else None
    return Finding(kind, record, came.sheet.file, came.row.number, rule=told, sheet=came.sheet.name)


def _of_the_sheets(rule: str) -> str:
    """Return a rule of the CSV form in the words of a workbook."""
    return _FILE.sub(r"sheet \1", _COMMA.sub("", rule)).replace("row 0 ", "a row of the book ")


def _cell(
    came: Came, kind: str, column: str | None, rule: str | None, old: str | None = None, new: str | None = None
) -> Finding:
    """Return a finding of one cell; new: what it says, where that is not what stands in the sheet."""
    sheet = came.sheet
    value = new
    if value is None and column in {each.name for each in sheet.columns}:
        value = came.row.cells[sheet.place(str(column))].strip()
    return _finding(came, kind, rule)._replace(column=sheet.shown(column), value=value, old=old)
