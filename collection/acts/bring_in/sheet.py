"""A file while it is planned: its values, which book records its rows are, and what is to be said of each row."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from collection.acts.bring_in.tables import Table
from collection.views.folder.form import FileForm

OPEN, REFUSED, NEW, CHANGED, SAME = range(5)
KINDS = ("new", "changed", "same", "doubtful", "refused")
_WORDS = {REFUSED: "refused", NEW: "new", CHANGED: "changed", SAME: "same"}


class Finding(NamedTuple):
    """One row of the report. file and row say where it stands, record what it is about, as "unit D1".

    kind: new, changed, same, doubtful (written with a mark) or refused (nothing is written at all).
    sheet: of a workbook, whose cells it was made of. old: of a changed cell of an exported workbook, what the book has.
    """

    kind: str
    record: str
    file: str | None
    row: int | None
    column: str | None = None
    value: str | None = None
    rule: str | None = None
    sheet: str | None = None
    old: str | None = None


class Remark(NamedTuple):
    """What a row of the sheet has besides its kind; `record` where it is about another record than the row's own."""

    kind: str
    column: str | None
    value: str | None
    rule: str
    record: str | None = None


class Sheet:
    """The rows of one file, or those the book would write to it (`stored`), in the meaning of their cells.

    values: per column the parsed cells, None where empty. kinds: per row what becomes of it. refs: per row the id of
    its record in the book, or the reference (below zero) of the new one. match: per row the stored row it is; by_key:
    the rows whose key told so. ids: of stored rows.
    """

    def __init__(self, form: FileForm, table: Table, *, stored: bool = False) -> None:
        self.form = form
        self.table = table
        self.stored = stored
        self.size = len(table)
        self.values: dict[str, list[Any]] = {}
        self.kinds = bytearray(self.size)
        self.refs: list[int | None] = [None] * self.size
        self.match: list[int | None] = [None] * self.size
        self.by_key: set[int] = set()
        self.ids: Sequence[int] = ()
        self.remarks: dict[int, list[Remark]] = {}

    def open_rows(self) -> Iterator[int]:
        """Yield the rows that nothing speaks against."""
        return (row for row, kind in enumerate(self.kinds) if kind != REFUSED)

    def refuse(self, row: int, column: str | None, rule: str, value: str | None = None) -> None:
        """Refuse a row; the first reason of a column is the one that is told."""
        self.kinds[row] = REFUSED
        if self.stored:
            return
        remarks = self.remarks.setdefault(row, [])
        if not any(remark.kind == "refused" and remark.column == column for remark in remarks):
            remarks.append(Remark("refused", column, self._seen(row, column, value), rule))

    def doubt(self, row: int, column: str | None, rule: str, value: str | None = None) -> None:
        """Mark a row as doubtful, if it is written at all."""
        if not self.stored:
            remark = Remark("doubtful", column, self._seen(row, column, value), rule)
            self.remarks.setdefault(row, []).append(remark)

    def mention(self, row: int, kind: str, column: str, value: str, rule: str, record: str) -> None:
        """Tell of another record that the row brings about."""
        self.remarks.setdefault(row, []).append(Remark(kind, column, value, rule, record))

    def changed(self, row: int, columns: Sequence[str], before: Sequence[str]) -> None:
        """Mark a row as a change of these columns."""
        now = [self.table.cell(column, row) for column in columns]
        if self.kinds[row] == CHANGED:
            earlier = next(remark for remark in self.remarks[row] if remark.kind == "changed")
            self.remarks[row].remove(earlier)
            columns = [str(earlier.column), *columns]
            now, before = [str(earlier.value), *now], [earlier.rule.removeprefix("was "), *before]
        self.kinds[row] = CHANGED
        told = ", ".join(text or "empty" for text in before)
        remark = Remark("changed", ", ".join(columns), ", ".join(now), f"was {told}")
        self.remarks.setdefault(row, []).append(remark)

    def _seen(self, row: int, column: str | None, value: str | None) -> str | None:
        return value if value is not None or column is None else self.table.cell(column, row)

    def settle(self) -> None:
        """Drop doubts about what the book has already: they were marked when it was written."""
        for row, remarks in list(self.remarks.items()):
            kind = self.kinds[row]
            if kind == SAME:
                kept = [remark for remark in remarks if remark.kind != "doubtful"]
            elif kind == CHANGED:
                columns = {name for r in remarks if r.kind == "changed" for name in str(r.column).split(", ")}
                kept = [remark for remark in remarks if remark.kind != "doubtful" or remark.column in columns]
            else:
                continue
            if kept:
                self.remarks[row] = kept
            else:
                del self.remarks[row]

    def record(self, row: int) -> str:
        """Return what a row is about, as "unit D1"."""
        names = [self.table.cell(column, row) for column in self.form.label]
        return " ".join([self.form.record, *(name for name in names if name)])

    def findings(self) -> Iterator[Finding]:
        """Yield what is to be told of every row, in the order of the file."""
        for row, kind in enumerate(self.kinds):
            remarks, own = self.remarks.get(row, ()), False
            place = (self.form.file, self.table.rows[row])
            for remark in _most_telling(remarks):
                own = own or remark.record is None
                about = remark.record or self.record(row)
                yield Finding(remark.kind, about, *place, remark.column, remark.value, remark.rule)
            if not own and kind in _WORDS:
                yield Finding(_WORDS[kind], self.record(row), *place)

    def totals(self) -> dict[str, int]:
        """Return how many findings there are of each kind, without making them."""
        counts = dict.fromkeys(KINDS, 0)
        for code, word in _WORDS.items():
            counts[word] += self.kinds.count(code)
        for row, all_remarks in self.remarks.items():
            remarks = _most_telling(all_remarks)
            own_word = _WORDS.get(self.kinds[row])
            if own_word is not None and any(remark.record is None for remark in remarks):
                counts[own_word] -= 1
            for remark in remarks:
                counts[remark.kind] += 1
        return counts


def _most_telling(remarks: Sequence[Remark]) -> list[Remark]:
    """Return refusals alone where there are any, else everything: a refused row has no other kind."""
    own = [remark for remark in remarks if remark.record is None]
    for kind in ("refused", "doubtful"):
        chosen = [remark for remark in own if remark.kind == kind]
        if chosen:
            return chosen + [remark for remark in remarks if remark.record is not None]
    return list(remarks)
