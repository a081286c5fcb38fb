"""What counts tell of use: what went since the count before is spread over the uses booked by the sheet.

Between two counts of a lot the ledger knows what was weighed, and of the rest only what the sheets say. What really
went is what the sheets said and what the second count found missing besides; it belongs to those uses, each in
proportion to what was booked for it. Where no use was booked by the sheet, an open lot of what is weighed or poured has
dried, and anything else that is missing was taken by somebody who wrote nothing down.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import sqrt
from typing import NamedTuple

from collection.analysis.use_occasions import Key, LedgerRow, Occasion, key_of
from collection.quantity import parse_day

Spot = tuple[int | None, int | None]  # lot (None: unknown), place (None: not told)

_DRYING_SPREAD = 0.35  # of a rate of drying, as a part of it, from one pair of counts; common practice, no source


class Counting(NamedTuple):
    """What one day's counts say of the time since the counts before, for one supply.

    by_sheet: of each occasion booked by the sheet, the steps that were taken from the lots counted. missing: steps that
    went besides all that was booked, below zero where less went. open_days: days that the lots counted were open.
    """

    on: str
    by_sheet: Mapping[Key, int]
    missing: int
    open_days: int

    @property
    def booked(self) -> int:
        """The steps that were booked by the sheet."""
        return sum(self.by_sheet.values())


@dataclass(slots=True)
class _Cell:
    """A lot at one place since it was last known what it holds: from when, what is booked on it, and by the sheet."""

    since: str
    book: int
    by_sheet: defaultdict[Key, int] = field(default_factory=lambda: defaultdict(int))


def countings(rows: Sequence[LedgerRow], found: Mapping[Key, Occasion]) -> list[Counting]:
    """Return what the counts of one supply say, by day; rows stand in ledger order.

    A lot is known from the day on which it came or was first counted; what was booked before tells nothing.
    """
    opened = _opened(rows)
    days, _ = _replay(rows, found)
    return [_counting(on, counted, opened) for on, counted in days.items()]


def since_counts(rows: Sequence[LedgerRow], found: Mapping[Key, Occasion], today: str) -> Counting:
    """Return what was booked by the sheet since the lots on the shelf were last known, and how long they were open.

    Nothing is missing yet: the next count will tell.
    """
    _, cells = _replay(rows, found)
    held = [(spot, cell, cell.book) for spot, cell in cells.items() if cell.book > 0]
    return _counting(today, held, _opened(rows))


def _replay(
    rows: Sequence[LedgerRow], found: Mapping[Key, Occasion]
) -> tuple[dict[str, list[tuple[Spot, _Cell, int]]], dict[Spot, _Cell]]:
    """Return by day what each count closed, with what was counted, and the cells as they stand in the end."""
    cells: dict[Spot, _Cell] = {}
    days: defaultdict[str, list[tuple[Spot, _Cell, int]]] = defaultdict(list)
    for row in rows:
        spot = (row.lot, row.place)
        cell = cells.get(spot)
        if row.kind == "count":
            if cell is not None:
                days[row.on].append((spot, cell, row.steps))
            cells[spot] = _Cell(row.on, row.steps)
        elif row.kind in ("open", "short"):
            continue
        elif cell is not None:
            cell.book += row.steps
            if row.kind == "use" and not found[key_of(row)].told:
                cell.by_sheet[key_of(row)] -= row.steps
        elif row.lot is not None and row.steps > 0:
            cells[spot] = _Cell(row.on, row.steps)
    return days, cells


def _counting(on: str, counted: Iterable[tuple[Spot, _Cell, int]], opened: Mapping[int | None, str]) -> Counting:
    by_sheet: defaultdict[Key, int] = defaultdict(int)
    missing, open_days = 0, dict[int | None, int]()
    for (lot, _), cell, steps in counted:
        missing += cell.book - steps
        for key, taken in cell.by_sheet.items():
            by_sheet[key] += taken
        if opened.get(lot, on) < on and cell.book > 0:
            open_days[lot] = max(open_days.get(lot, 0), _days(max(opened[lot], cell.since), on))
    return Counting(on, {key: taken for key, taken in by_sheet.items() if taken > 0}, missing, sum(open_days.values()))


def _opened(rows: Iterable[LedgerRow]) -> dict[int | None, str]:
    """Return the day on which each lot was opened, else that of its first use."""
    used: dict[int | None, str] = {}
    opened: dict[int | None, str] = {}
    for row in rows:
        if row.kind == "use":
            used.setdefault(row.lot, row.on)
        elif row.kind == "open":
            opened.setdefault(row.lot, row.on)
    return used | opened


def _days(start: str, end: str) -> int:
    return max(0, (parse_day(end).first - parse_day(start).first).days)


def drying_of(counts: Iterable[Counting]) -> tuple[float, float]:
    """Return the steps a day that an open lot loses, and the standard deviation of that, from counts of fluids.

    Only counts that no use booked by the sheet stands before tell; without any nothing is taken to dry. The deviation
    is that of the mean between the counts, and at least what one pair of counts leaves open.
    """
    dry = [each for each in counts if _is_dry(each)]
    days = sum(each.open_days for each in dry)
    rate = sum(each.missing for each in dry) / days if days else 0.0
    if rate <= 0:
        return 0.0, 0.0
    between = 0.0
    if len(dry) > 1:
        squares = sum(each.open_days * (each.missing / each.open_days - rate) ** 2 for each in dry)
        between = sqrt(squares / (len(dry) - 1) / days)
    return rate, max(between, _DRYING_SPREAD * rate / sqrt(len(dry)))


def _is_dry(count: Counting) -> bool:
    return not count.by_sheet and count.open_days > 0


def went_by_sheet(count: Counting, drying: float) -> float:
    """Return what really went in the uses that were booked by the sheet before a count, in steps."""
    return max(0.0, count.booked + count.missing - drying * count.open_days)


def unwritten(counts: Iterable[Counting], *, dries: bool) -> list[Counting]:
    """Return the counts that found something missing that no use and no drying explains: somebody took it.

    dries: the supply is one that is weighed or poured.
    """
    return [each for each in counts if each.missing > 0 and not each.by_sheet and not (dries and each.open_days)]
