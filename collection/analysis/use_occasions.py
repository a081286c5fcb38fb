"""The ledger as occasions: all that was taken of a supply, or asked for in vain, in one piece of work.

What is booked for one procedure of one service is one occasion, over however many lots it was split; outside a service
one use is one. Stock that was missing belongs to the occasion that asked for it: it is demand, though none was taken.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

SHEET = "sheet"  # the basis of what was booked unseen, by the procedure's sheet


class LedgerRow(NamedTuple):
    """One movement that stands, neither undone nor taken back. Columns as in the book; steps signed; on an ISO day.

    beyond: it was marked as more than the book had.
    """

    id: int
    supply: int
    lot: int | None
    place: int | None
    kind: str
    steps: int
    on: str
    basis: str | None
    planned: int | None
    service: int | None
    procedure: int | None
    unit: int | None
    group: str | None
    beyond: int = 0


class SheetLine(NamedTuple):
    """What a procedure's sheet has of a supply: steps (0: no amount is told), and how often any is taken."""

    steps: int
    chance: float


Key = tuple[str, object, int | None]


@dataclass(frozen=True, slots=True)
class Occasion:
    """What one piece of work took of a supply, in steps, what could not be had included.

    told: somebody weighed, counted or said the amount; else it was booked by the sheet. doubtful: the book had less,
    and no count has followed: a figure may be wrong, so it teaches no amount. planned: a schedule foresaw it; else it
    is an event. sheets: the procedures of the work whose sheets have the supply. on: its ISO day.
    """

    key: Key
    on: str
    steps: int
    told: bool
    planned: bool
    sheets: frozenset[int]
    unit: int | None
    doubtful: bool = False

    @property
    def teaches(self) -> bool:
        """Say whether its amount tells of what such work takes."""
        return self.told and not self.doubtful


def key_of(row: LedgerRow) -> Key:
    """Return what the rows of one occasion share."""
    if row.service is not None:
        return ("service", row.service, row.procedure)
    if row.group is not None:
        return ("group", row.group, None)
    return ("row", row.id, None)


def occasions(
    rows: Iterable[LedgerRow],
    sheets: Mapping[int, SheetLine],
    done: Mapping[int, frozenset[int]],
    foreseen: Collection[int],
) -> dict[Key, Occasion]:
    """Return the occasions of one supply, in order of their first row; rows stand in ledger order.

    sheets: by procedure what its sheet has of the supply. done: by service the procedures done in it. foreseen: the
    procedures that a schedule foresees.
    """
    groups: defaultdict[Key, list[LedgerRow]] = defaultdict(list)
    uncounted: set[int] = set()  # rows marked as beyond the book since the last count
    for row in rows:
        if row.kind == "count":
            uncounted.clear()
        elif row.kind in ("use", "short") and row.steps:
            groups[key_of(row)].append(row)
            uncounted |= {row.id} if row.beyond else set()
    found = {}
    for key, group in groups.items():
        first = group[0]
        steps = sum(abs(row.steps) for row in group)
        named = {first.procedure} if first.procedure is not None else done.get(first.service or 0, frozenset())
        listed = {number: sheets[number] for number in named if number in sheets}
        found[key] = Occasion(
            key=key,
            on=min(row.on for row in group),
            steps=steps,
            told=_is_told(group, steps, listed),
            planned=_is_planned(group, listed, foreseen),
            sheets=frozenset(listed),
            unit=first.unit,
            doubtful=any(row.id in uncounted for row in group),
        )
    return found


def _is_told(rows: Sequence[LedgerRow], steps: int, listed: Mapping[int, SheetLine]) -> bool:
    """Say whether the amount is more than the sheet's own; of a short row alone only the amount can tell."""
    if any(row.basis == SHEET for row in rows):
        return False
    return any(row.kind == "use" for row in rows) or steps not in {line.steps for line in listed.values()}


def _is_planned(rows: Sequence[LedgerRow], listed: Mapping[int, SheetLine], foreseen: Collection[int]) -> bool:
    """Say whether a schedule foresaw the use.

    The tag it was booked with goes first; it knows nothing of a sheet without an amount, and a short row has none.
    Where sheets have the supply but no schedule brings their procedures, nobody expects the use: it is an event.
    """
    tags = {row.planned for row in rows if row.planned is not None}
    if tags == {0} and (not listed or any(line.steps for line in listed.values())):
        return False
    if not listed:
        return 1 in tags
    return any(number in foreseen for number in listed)
