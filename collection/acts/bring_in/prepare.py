"""Values that take more than one cell: sums with their currency, quantities of a supply, names of two parts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import Any

from collection.acts.bring_in.form import PARSERS
from collection.acts.bring_in.parse import parse_sheet, sentence
from collection.acts.bring_in.sheet import Sheet
from collection.acts.bring_in.state import State
from collection.acts.bring_in.tables import Table
from collection.analysis.currencies import is_currency
from collection.errors import Refused
from collection.quantity import parse_money, parse_number, to_steps
from collection.store.engine import fetch
from collection.views.folder.form import FORMS


def folder_sheet(state: State, table: Table) -> Sheet:
    """Read the cells of a file of the folder."""
    sheet = Sheet(FORMS[table.file], table)
    for aside in table.asides:
        say = sheet.refuse if aside.kind == "refused" else sheet.doubt
        say(aside.row, aside.column, aside.rule, aside.value)
    parse_sheet(sheet, PARSERS[table.file], state)
    return sheet


def book_sheet(state: State, file: str, unit_ids: Sequence[int] | None = None) -> Sheet:
    """Read the rows that the book would write to a file, by the same rules."""
    table, ids = state.stored_table(file, unit_ids)
    sheet = Sheet(FORMS[file], table, stored=True)
    sheet.ids = ids
    state.reading_book = True
    parse_sheet(sheet, PARSERS[file], state)
    state.reading_book = False
    return sheet


def concerned(sheet: Sheet, column: str = "tag") -> list[int] | None:
    """Return the units of the book that a sheet is about, or None where all of them had better be read."""
    if any(sheet.values["key"]):
        return None
    units = {ref for ref in set(sheet.values[column]) if ref is not None and ref > 0}
    return sorted(units) if len(units) <= _FEW_UNITS else None


_FEW_UNITS = 400


def joint(
    sheet: Sheet,
    columns: Sequence[str],
    told_on: str,
    meaning: Callable[..., Any],
    naming: State | None = None,
) -> list[Any]:
    """Return what several cells mean together; every different combination is worked out once.

    meaning takes the values of the columns and raises Refused, which is told on one column. Rows whose `told_on`
    is empty mean None. naming: given where meaning may bring about new records.
    """
    known: dict[tuple[Any, ...], Any] = {}
    wrong: dict[tuple[Any, ...], str] = {}
    keys = list(zip(*(sheet.values[column] for column in columns), strict=True))
    at = list(columns).index(told_on)
    for key in dict.fromkeys(keys):
        try:
            known[key] = None if key[at] is None else meaning(*key)
        except Refused as refusal:
            known[key], wrong[key] = None, sentence(refusal)
        for mention in naming.take_mentions() if naming else ():
            row = keys.index(key)
            text = sheet.table.cell(told_on, row)
            sheet.mention(row, mention.kind, told_on, text, mention.rule, mention.record)
    if wrong:
        for row, key in enumerate(keys):
            if key in wrong:
                sheet.refuse(row, told_on, wrong[key])
    return [known[key] for key in keys]


def read_money(state: State, sheet: Sheet, amount: str) -> None:
    """Turn the numbers of a column into minor units of the row's currency, the book's own where none is given."""
    own = state.settings.currency

    def minor(text: str, currency: str | None) -> int:
        return parse_money(text, currency or own).minor

    values = sheet.values
    values[amount] = joint(sheet, (amount, "currency"), amount, minor)
    values["currency"] = [
        code or (None if sum_ is None else own) for sum_, code in zip(values[amount], values["currency"], strict=True)
    ]
    for row, code in enumerate(values["currency"]):
        if code not in (None, own) and not is_currency(code):  # of an older book, it may be: it is not lost
            sheet.doubt(row, "currency", "is not the code of a currency (ISO 4217)")


def in_order(sheet: Sheet, begin: str, end: str) -> None:
    """Refuse what ends before it begins; a partial day may be any of its days."""
    for row, (first, last) in enumerate(zip(sheet.values[begin], sheet.values[end], strict=True)):
        if first is not None and last is not None and last[: len(first)] < first[: len(last)]:
            sheet.refuse(row, end, f"is earlier than {begin} {first}")


class Measures:
    """How supplies are measured: unit, smallest step and density, of the book's and of new ones."""

    def __init__(self, state: State) -> None:
        sql = "SELECT id, measured_in, smallest_step, density FROM supply WHERE void = 0"
        self._of: dict[int, tuple[str, Decimal, str | None]] = {
            row[0]: (row[1], Decimal(row[2]), row[3]) for row in fetch(state.conn, sql)
        }

    def set(self, supply: int, measured_in: str, step: str, density: str | None) -> None:
        """Take in a supply that is new or changes."""
        self._of[supply] = (measured_in, Decimal(step), density)

    def unit(self, supply: int) -> str:
        """Return the unit a supply is measured in."""
        return self._of[supply][0]

    def steps(self, supply: int, number: str, unit: str | None = None) -> int:
        """Return a quantity in steps. Raises Refused where it does not fit the supply."""
        measured_in, step, density = self._of[supply]
        exact = Decimal(density) if density else None
        return to_steps(parse_number(number), unit or measured_in, measured_in, step, exact)


def measures(state: State) -> Measures:
    """Return how supplies are measured, read on first use."""
    if "measures" not in state.shared:
        state.shared["measures"] = Measures(state)
    found: Measures = state.shared["measures"]
    return found


def read_quantity(state: State, sheet: Sheet, column: str = "quantity", unit: str | None = None) -> list[Any]:
    """Return the steps of each row's quantity of its supply (`values["supply"]`), in its own unit or another."""
    of = measures(state)
    if unit is None:
        return joint(sheet, ("supply", column), column, lambda s, n: None if s is None else of.steps(s, n))
    return joint(sheet, ("supply", column, unit), column, lambda s, n, u: None if s is None else of.steps(s, n, u))
