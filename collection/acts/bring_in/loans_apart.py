"""Loans of a folder beside one another and beside those of the book: a unit is on one of a direction at a time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from collection.acts.bring_in.sheet import NEW, Sheet
from collection.acts.bring_in.state import State
from collection.store.engine import fetch
from collection.views.holds import OF_LOAN, Hold

_ITEMS_SQL = """
SELECT i.id, i.unit_id, l.id, l.name, l.direction, l.out_on, i.back_on FROM loan_item i JOIN loan l ON l.id = i.loan_id
WHERE i.void = 0 AND l.void = 0 ORDER BY i.id
"""


class _Away(NamedTuple):
    """That a unit is on a loan from one (partial) day until another, None while it is not back."""

    loan: str
    out_on: str
    back_on: str | None

    def meets(self, other: _Away) -> bool:
        """Say whether both certainly share days; one may begin on the day on which the other ended."""
        return _before(self.out_on, other.back_on) and _before(other.out_on, self.back_on)


class _Item(NamedTuple):
    """A unit on a loan of the book as the folder would have it; moved: whether the folder changes its days."""

    unit: int
    loan_id: int
    direction: str
    away: _Away
    moved: bool


def _before(day: str, end: str | None) -> bool:
    """Say whether a day is certainly before another, or before an end that has not come; "2025" may be any of it."""
    return end is None or day[: len(end)] < end[: len(day)]


def refuse_at_once(state: State, sheet: Sheet, items: Sequence[int]) -> None:
    """Refuse rows by which a unit would stand on two loans of one direction at a time, and note what is on loan.

    A unit that was borrowed may be lent on. items: what the rows of the book are that rows of the folder match.
    """
    of_book = _of_book(state)
    away: defaultdict[tuple[int, str], dict[int, _Away]] = defaultdict(dict)
    for item, one in of_book.items():
        away[one.unit, one.direction][item] = one.away
    for item, row in _moved(sheet, items, of_book):
        one = of_book[item]
        _refuse(sheet, row, one.away, {key: each for key, each in away[one.unit, one.direction].items() if key != item})
    for row in sheet.open_rows():
        if sheet.kinds[row] == NEW:
            unit, direction, *days = (
                sheet.values[name][row] for name in ("tag", "direction", "loan", "out_on", "back_on")
            )
            _refuse(sheet, row, _Away(*days), away[unit, direction])
            away[unit, direction][-1 - row] = _Away(*days)
    state.shared["open loans"] = {
        (unit, OF_LOAN[way]): Hold(unit, OF_LOAN[way], item, one.out_on, loan=one.loan)
        for (unit, way), all_of in away.items()
        for item, one in all_of.items()
        if one.back_on is None
    }


def _of_book(state: State) -> dict[int, _Item]:
    """Return what of the book is on loan when, by item."""
    changed = {(each.table, each.row_id): each.changes for each in state.updates}
    found = {}
    for item, unit, loan_id, loan, way, out_on, back_on in fetch(state.conn, _ITEMS_SQL):
        of_loan, of_item = changed.get(("loan", loan_id), {}), changed.get(("loan_item", item), {})
        away = _Away(loan, of_loan.get("out_on", out_on), of_item.get("back_on", back_on))
        direction = of_loan.get("direction", way)
        moved = (direction, *away) != (way, loan, out_on, back_on)
        found[item] = _Item(unit, loan_id, direction, away, moved)
    return found


def _moved(sheet: Sheet, items: Sequence[int], of_book: dict[int, _Item]) -> Iterator[tuple[int, int]]:
    """Yield the items of the book whose days the folder changes, with the row that does: its own, else of its loan."""
    rows = {items[match]: row for row in sheet.open_rows() if (match := sheet.match[row]) is not None}
    of_loan = {of_book[item].loan_id: row for item, row in rows.items()}
    for item, one in of_book.items():
        if one.moved:
            yield item, rows.get(item, of_loan.get(one.loan_id, 0))


def _refuse(sheet: Sheet, row: int, one: _Away, others: dict[int, _Away]) -> None:
    """Refuse a row that shares days with another loan; one that is not over is told first."""
    met = sorted((other for other in others.values() if one.meets(other)), key=lambda other: other.back_on is not None)
    if not met:
        return
    loan, out_on, back_on = met[0]
    if back_on is None:
        told = f"stands on loan {loan} since {out_on} and is not back; give that row its key and back_on"
    else:
        told = f"was on loan {loan} from {out_on} to {back_on}, and a unit is on one loan at a time; correct the days"
    sheet.refuse(row, "tag", told)
