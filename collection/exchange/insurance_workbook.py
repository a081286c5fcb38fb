"""The insurance schedule as a workbook: a summary whose sums are formulas over the sheet of things beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any, Literal

from collection import __version__
from collection.errors import Refused
from collection.exchange.formula_values import with_values
from collection.exchange.insurance_items import (
    DAY,
    bold,
    day_cell,
    lie_down,
    money_form,
    put,
    write_identity,
    write_items,
)
from collection.exchange.insurance_rows import Leave, Line
from collection.exchange.insurance_rows import lines as lines_of
from collection.exchange.insurance_told import Told, told_of
from collection.quantity import Money, minor_digits, show_day
from collection.store.place import beside, put_in_place, put_over
from collection.views.insurance import BORROWED, CONTENTS, Schedule

SUMMARY = "Summary"
_WIDTHS = (46, 16, 16, 16, 16, 16, 16)
_HEADING_FILL, _INPUT_FILL = "FFE8EEF4", "FFFFF9E5"


def refuse_workbook(file: Path, *, replace: bool = False) -> None:
    """Refuse beforehand what `save_workbook` would refuse: another ending, a file that is there, no folder."""
    if file.suffix.lower() != ".xlsx":
        raise Refused(f'"{file.name}" does not end in .xlsx.', "Type --workbook FILE.xlsx.")
    if not file.absolute().parent.is_dir():
        raise Refused(f"There is no folder {file.parent}.", "Name a file in a folder that is there.")
    if file.exists() and not replace:
        raise Refused(f"{file} is there already.", "Name another file, or add --replace to write over it.")


def save_workbook(content: bytes, file: Path, *, replace: bool = False) -> None:
    """Write a workbook into its file, whole or not at all. Raises Refused as `refuse_workbook` does."""
    refuse_workbook(file, replace=replace)
    try:
        with beside(file) as aside:
            aside.write_bytes(content)
            (put_over if replace else put_in_place)(aside, file)
    except FileExistsError:
        raise Refused(f"{file} is there already.", "Name another file, or add --replace.") from None
    except OSError as error:
        raise Refused(f"{file} cannot be written: {error.strerror}.", "Name a file where you may write.") from None


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
        self.sheet, self.places, self.row = sheet, places, 1
        self.values: dict[str, str] = {}

    def write(self, plan: Schedule, leave: Leave, listed: Sequence[Line], told: Told) -> None:
        for at, width in enumerate(_WIDTHS):
            self.sheet.column_dimensions["ABCDEFG"[at]].width = width
        put(self.sheet, 1, 1, told.title).font = bold(15)
        self.sheet.cell(1, 1).alignment = self._unwrapped()
        self.sheet.row_dimensions[1].height = 26
        self.row = 2
        form = plan.settings.date_form
        facts = (
            ("book", plan.settings.name or "without a name"),
            ("as of", show_day(plan.day.isoformat(), form)),
            ("by", told.known),
            ("things", str(len(listed))),
            ("made with", f"Spindlebook {__version__}"),
        )
        for word, text in facts:
            self._text(1, word, 2, text)
        first, last = self._totals(plan)
        self._policies(plan)
        self._average(told, first, last)
        self._notes(told)
        for what, word in (("location", "location"), ("owner", "owner"), ("kind", "kind")):
            if not (what == "owner" and leave.owners):
                self._by(plan, what, word)
        self._paper()

    def _totals(self, plan: Schedule) -> tuple[int, int]:
        """Write the sums of each currency; return the first and the last of their rows."""
        self._head(
            "What it is worth", "currency", "contents", "borrowed", "together", "sum insured", "part of contents"
        )
        contents, borrowed, insured = plan.totals(CONTENTS), plan.totals(BORROWED), plan.insured()
        first = self.row
        for code in sorted({*contents, *borrowed, *insured}):
            own, lent, sure = (sums.get(code, Money(0, code)) for sums in (contents, borrowed, insured))
            at = self.row
            put(self.sheet, at, 1, "")
            put(self.sheet, at, 2, code)
            self._sum(3, own, f'({self.places["section"]}="{CONTENTS}")', f"$B{at}")
            self._sum(4, lent, f'({self.places["section"]}="{BORROWED}")', f"$B{at}")
            self._formula(5, f"C{at}+D{at}", own + lent)
            if code in insured:
                put(self.sheet, at, 6, sure)
                share = min(Decimal(1), Decimal(sure.minor) / Decimal(own.minor)) if own.minor else Decimal(1)
                self._formula(7, f"IF(C{at}>0,MIN(1,F{at}/C{at}),1)", share, "0.0%")
            self.row += 1
        if self.row == first:
            put(self.sheet, first, 2, "nothing of value")
            self.row += 1
        return first, self.row - 1

    def _policies(self, plan: Schedule) -> None:
        self._head("Policies in force", "currency", "sum insured", "from", "to", "insurer")
        for policy in plan.policies:
            at = self.row
            put(self.sheet, at, 1, policy.name)
            put(self.sheet, at, 2, policy.insured.currency if policy.insured else "")
            put(self.sheet, at, 3, policy.insured or "no sum told").alignment = self._to_the("left")
            for column, day in ((4, policy.from_date), (5, policy.to_date)):
                put(self.sheet, at, column, day_cell(day), DAY).alignment = self._to_the("left")
            put(self.sheet, at, 6, policy.insurer)
            self.row += 1
        if not plan.policies:
            put(self.sheet, self.row, 1, "none")
            self.row += 1

    def _average(self, told: Told, first: int, last: int) -> None:
        """Write what a claim would be paid; the losses may be overwritten, the rest follows."""
        from openpyxl.styles import PatternFill

        if not told.claims:
            return
        self._head("What the condition of average does to a claim", "currency", "loss", "is paid", "not paid")
        rows = {self.sheet.cell(at, 2).value: at for at in range(first, last + 1)}
        for claim in told.claims:
            at, code = self.row, claim.loss.currency
            put(self.sheet, at, 1, claim.of)
            put(self.sheet, at, 2, code)
            put(self.sheet, at, 3, claim.loss).fill = PatternFill("solid", fgColor=_INPUT_FILL)
            value, sure, digits = f"$C${rows[code]}", f"$F${rows[code]}", minor_digits(code)
            paid = f"MIN(C{at},{sure},IF({value}>0,ROUND(C{at}*MIN(1,{sure}/{value}),{digits}),C{at}))"
            self._formula(4, paid, claim.paid)
            self._formula(5, f"C{at}-D{at}", Money(claim.loss.minor - claim.paid.minor, code))
            self.row += 1
        self._line("Type another loss over a yellow one: what is paid follows. " + told.average)

    def _by(self, plan: Schedule, what: str, word: str) -> None:
        self._head(f"Contents by {word}", "currency", "things", "worth")
        first, sums = self.row, plan.by(what, CONTENTS)
        for each in sums:
            at, name = self.row, each.name
            put(self.sheet, at, 1, name or "(not told)")
            put(self.sheet, at, 2, each.total.currency)
            same = f"({self.places[what]}={f'$A{at}' if name else chr(34) * 2})"
            section = f'({self.places["section"]}="{CONTENTS}")'
            counted = f'({self.places["counts"]}="yes")*({self.places["currency"]}=$B{at})'
            self._formula(3, f"SUMPRODUCT({section}*{same}*{counted})", each.things)
            self._sum(4, each.total, f"{section}*{same}", f"$B{at}")
            self.row += 1
        for code, total in sorted(plan.totals(CONTENTS).items()):
            put(self.sheet, self.row, 1, "together")
            put(self.sheet, self.row, 2, code)
            things = sum(each.things for each in sums if each.total.currency == code)
            for column, letter, value in ((3, "C", things), (4, "D", total)):
                last = first + len(sums) - 1
                same = f"$B${first}:$B${last},$B{self.row}"
                self._formula(column, f"SUMIF({same},{letter}${first}:{letter}${last})", value)
            self._bold(self.row, 4)
            self.row += 1

    def _notes(self, told: Told) -> None:
        self._head("What to know")
        for text in told.notes:
            self._line(text)

    def _sum(self, column: int, amount: Money, which: str, currency: str) -> None:
        """Add up what counts of the things of some condition, in the currency of a cell."""
        of = self.places
        counted = f'({of["counts"]}="yes")*({of["currency"]}={currency})'
        self._formula(column, f"SUMPRODUCT({which}*{counted},{of['present value']})", amount)

    def _formula(self, column: int, formula: str, value: Money | Decimal | int, form: str = "0") -> None:
        cell = self.sheet.cell(self.row, column, f"={formula}")
        cell.number_format = money_form(value.currency) if isinstance(value, Money) else form
        cell.alignment = self._to_the("right")
        self.values[cell.coordinate] = value.text if isinstance(value, Money) else str(value)

    def _head(self, title: str, *headings: str) -> None:
        from openpyxl.styles import Alignment, Border, PatternFill, Side

        self.row += 1
        for at in range(1, len(_WIDTHS) + 1):
            cell = put(self.sheet, self.row, at, (title, *headings)[at - 1] if at <= len(headings) + 1 else "")
            cell.font, cell.fill = bold(), PatternFill("solid", fgColor=_HEADING_FILL)
            cell.border = Border(bottom=Side("thin", color="FF7F8C99"))
            right = at > 2 and title != "Policies in force"
            cell.alignment = Alignment(horizontal="right" if right else "left", wrap_text=at > 1)
        self.row += 1

    def _text(self, column: int, word: str, at: int, text: str) -> None:
        put(self.sheet, self.row, column, word)
        put(self.sheet, self.row, at, text).alignment = self._unwrapped()
        self.row += 1

    def _line(self, text: str) -> None:
        """Write a sentence over the whole width."""
        from openpyxl.styles import Alignment

        put(self.sheet, self.row, 1, text).alignment = Alignment(wrap_text=True, vertical="top")
        self.sheet.merge_cells(start_row=self.row, start_column=1, end_row=self.row, end_column=len(_WIDTHS))
        self.sheet.row_dimensions[self.row].height = 14.5 * -(-len(text) // 140) + 2
        self.row += 1

    def _bold(self, row: int, columns: int) -> None:
        from openpyxl.styles import Border, Side

        for at in range(1, columns + 1):
            cell = self.sheet.cell(row, at)
            cell.font, cell.border = bold(), Border(top=Side("thin", color="FF7F8C99"))

    def _unwrapped(self) -> Any:
        return self._to_the("left")

    def _to_the(self, side: Literal["left", "right"]) -> Any:
        from openpyxl.styles import Alignment

        return Alignment(vertical="top", horizontal=side)

    def _paper(self) -> None:
        lie_down(self.sheet, 1)
        self.sheet.sheet_properties.pageSetUpPr.fitToPage = True
        self.sheet.sheet_view.showGridLines = False
        self.sheet.oddFooter.right.text = "&A, page &P of &N"
