"""The insurance schedule as a workbook: a summary whose sums are formulas over the sheet of things beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from collection import __version__
from collection.errors import Refused
from collection.exchange.formula_values import with_values
from collection.exchange.insurance_cells import INPUT, Cells, Side, bold, day_cell, money_form
from collection.exchange.insurance_items import write_identity, write_items
from collection.exchange.insurance_rows import Leave, Line
from collection.exchange.insurance_rows import lines as lines_of
from collection.exchange.insurance_told import Told, told_of
from collection.exchange.new_file import new_file, refuse_place
from collection.quantity import Money, minor_digits, show_day
from collection.views.insurance import BORROWED, CONTENTS, Schedule

SUMMARY = "Summary"
_WIDTHS = (46, 16, 16, 16, 16, 16, 16)


def refuse_workbook(file: Path, *, replace: bool = False) -> None:
    """Refuse beforehand what `save_workbook` would refuse: another ending, a file that is there, no folder."""
    if file.suffix.lower() != ".xlsx":
        raise Refused(f'"{file.name}" does not end in .xlsx.', "Type --workbook FILE.xlsx.")
    refuse_place(file, replace=replace)


def save_workbook(content: bytes, file: Path, *, replace: bool = False) -> None:
    """Write a workbook into its file, whole or not at all. Raises Refused as `refuse_workbook` does."""
    refuse_workbook(file, replace=replace)
    with new_file(file, replace=replace) as aside:
        aside.write_bytes(content)


def workbook(plan: Schedule, leave: Leave, pictures: Mapping[int | None, bytes], *, known: str) -> bytes:
    """Return the bytes of a workbook with the schedule.

    pictures: small JPEGs by unit. known: by what knowledge the schedule was made, in words.
    """
    from openpyxl import Workbook

    book = Workbook()
    front = book.worksheets[0]
    front.title = SUMMARY
    listed = lines_of(plan, leave)
    places = write_items(book, listed, leave, pictures)
    write_identity(book, listed)
    summary = _Summary(front, places)
    summary.write(plan, leave, listed, told_of(plan, leave, known))
    return with_values(book, {SUMMARY: summary.values})


class _Summary:
    """Writes the summary from the top down; `values` keeps what each formula comes to."""

    def __init__(self, sheet: Any, places: Mapping[str, str]) -> None:
        self.cells, self.places, self.row = Cells(sheet), places, 1
        self.values: dict[str, str] = {}

    def write(self, plan: Schedule, leave: Leave, listed: Sequence[Line], told: Told) -> None:
        """Write the whole sheet."""
        sheet = self.cells.sheet
        for at, width in enumerate(_WIDTHS):
            sheet.column_dimensions["ABCDEFG"[at]].width = width
        self.cells.put(1, 1, told.title, side="left")
        sheet.cell(1, 1).font = bold(15)
        sheet.row_dimensions[1].height, sheet.sheet_view.showGridLines, self.row = 26, False, 2
        for word, text in (
            ("book", plan.settings.name or "without a name"),
            ("as of", show_day(plan.day.isoformat(), plan.settings.date_form)),
            ("by", told.known),
            ("things", str(len(listed))),
            ("made with", f"Spindlebook {__version__}"),
        ):
            self._line(word, text)
        rows = self._totals(plan)
        self._policies(plan)
        self._average(told, rows)
        self._head("What to know")
        for text in told.notes:
            self._sentence(text)
        for what in ("location", "owner", "kind"):
            if not (what == "owner" and leave.owners):
                self._by(plan, what)
        self.cells.lie_down(1)

    def _totals(self, plan: Schedule) -> dict[str, int]:
        """Write the sums of each currency; return the row of each."""
        self._head("What it is worth", "currency", "contents", "borrowed", "together", "sum insured", "part insured")
        contents, borrowed, insured = plan.totals(CONTENTS), plan.totals(BORROWED), plan.insured()
        rows = {}
        for code in sorted({*contents, *borrowed, *insured}):
            own, lent, sure = (sums.get(code, Money(0, code)) for sums in (contents, borrowed, insured))
            at = rows[code] = self.row
            for column, section, amount in ((3, CONTENTS, own), (4, BORROWED, lent)):
                self._sum(column, amount, f'({self.places["section"]}="{section}")')
            self._formula(5, f"C{at}+D{at}", own + lent)
            if code in insured:
                self.cells.put(at, 6, sure)
                share = min(Decimal(1), Decimal(sure.minor) / Decimal(own.minor)) if own.minor else Decimal(1)
                self._formula(7, f"IF(C{at}>0,MIN(1,F{at}/C{at}),1)", share, "0.0%")
            self._line("", code)
        if not rows:
            self._line("", "nothing of value")
        return rows

    def _policies(self, plan: Schedule) -> None:
        self._head("Policies in force", "currency", "sum insured", "from", "to", "insurer", side="left")
        for policy in plan.policies:
            told = (policy.insured or "no sum told", day_cell(policy.from_date), day_cell(policy.to_date))
            for column, value in enumerate((*told, policy.insurer), 3):
                self.cells.put(self.row, column, value, side="left")
            self._line(policy.name, policy.insured.currency if policy.insured else "")
        if not plan.policies:
            self._line("none", "")

    def _average(self, told: Told, rows: Mapping[str, int]) -> None:
        """Write what a claim would be paid; the losses may be overwritten, the rest follows."""
        if not told.claims:
            return
        self._head("What the condition of average does to a claim", "currency", "loss", "is paid", "not paid")
        for claim in told.claims:
            at, code = self.row, claim.loss.currency
            self.cells.put(at, 3, claim.loss, fill=INPUT)
            value, sure = f"$C${rows[code]}", f"$F${rows[code]}"
            part = f"ROUND(C{at}*MIN(1,{sure}/{value}),{minor_digits(code)})"
            self._formula(4, f"MIN(C{at},{sure},IF({value}>0,{part},C{at}))", claim.paid)
            self._formula(5, f"C{at}-D{at}", Money(claim.loss.minor - claim.paid.minor, code))
            self._line(claim.of, code)
        self._sentence("Type another loss over a yellow one: what is paid follows. " + told.average)

    def _by(self, plan: Schedule, what: str) -> None:
        """Write the sums of the contents by location, owner or kind, and what they add up to."""
        self._head(f"Contents by {what}", "currency", "with a value", "worth")
        first, sums = self.row, plan.by(what, CONTENTS)
        for each in sums:
            name = f"$A{self.row}" if each.name else '""'
            # EXACT, since = takes "Drive" for "drive", and a name like "a*" would be a pattern for SUMIFS.
            which = f'({self.places["section"]}="{CONTENTS}")*EXACT({self.places[what]},{name})'
            self._formula(3, f"SUMPRODUCT({which}*{self._counted()})", each.things)
            self._sum(4, each.total, which)
            self._line(each.name or "(not told)", each.total.currency)
        last = self.row - 1
        for code, total in sorted(plan.totals(CONTENTS).items()):
            things = sum(each.things for each in sums if each.total.currency == code)
            for column, letter, value in ((3, "C", things), (4, "D", total)):
                same = f"$B${first}:$B${last},$B{self.row}"
                self._formula(column, f"SUMIF({same},{letter}${first}:{letter}${last})", value)
            self._line("together", code)
            self.cells.total(self.row - 1, 4)

    def _counted(self) -> str:
        """Return which things count in the currency of this row."""
        return f'({self.places["counts"]}="yes")*({self.places["currency"]}=$B{self.row})'

    def _sum(self, column: int, amount: Money, which: str) -> None:
        """Add up what counts of the things of some condition."""
        self._formula(column, f"SUMPRODUCT({which}*{self._counted()},{self.places['present value']})", amount)

    def _formula(self, column: int, formula: str, value: Money | Decimal | int, form: str = "0") -> None:
        if isinstance(value, Money):
            form = money_form(value.currency)
        cell = self.cells.formula(self.row, column, formula, form)
        self.values[cell.coordinate] = value.text if isinstance(value, Money) else str(value)

    def _head(self, title: str, *headings: str, side: Side = "right") -> None:
        self.row += 1
        texts = (title, *headings)
        for at in range(1, len(_WIDTHS) + 1):
            self.cells.heading(self.row, at, texts[at - 1] if at <= len(texts) else "", side=side if at > 2 else "left")
        self.row += 1

    def _line(self, first: str, second: str) -> None:
        """Fill the first two cells of this row, and go to the next."""
        self.cells.put(self.row, 1, first)
        self.cells.put(self.row, 2, second, side="left")
        self.row += 1

    def _sentence(self, text: str) -> None:
        """Write a sentence over the whole width."""
        self.cells.put(self.row, 1, text)
        sheet = self.cells.sheet
        sheet.merge_cells(start_row=self.row, start_column=1, end_row=self.row, end_column=len(_WIDTHS))
        sheet.row_dimensions[self.row].height = 14.5 * -(-len(text) // 140) + 2
        self.row += 1
