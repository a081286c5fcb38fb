"""The rules a ledger must keep, each one function from the ledger to the rows that break it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

from collection.analysis.ledger import WITHOUT_EFFECT, Cell, Movement, in_order, taken_back

_SIGNS: dict[str, tuple[Callable[[int], bool], str]] = {
    "receive": (lambda steps: steps >= 0, "zero or more"),
    "use": (lambda steps: steps <= 0, "zero or less"),
    "discard": (lambda steps: steps <= 0, "zero or less"),
    "return": (lambda steps: steps <= 0, "zero or less"),
    "open": (lambda steps: steps == 0, "zero"),
    "short": (lambda steps: steps >= 0, "zero or more, the amount that could not be had"),
    "count": (lambda steps: steps >= 0, "zero or more, the counted value"),
    "move": (lambda steps: steps != 0, "not zero"),
    "repack": (lambda steps: steps != 0, "not zero"),
}
KINDS = (*_SIGNS, "reverse")


class Broken(NamedTuple):
    """One broken rule: the movement, the rule's short name, and what was seen against the rule."""

    movement: int
    rule: str
    says: str


@dataclass(frozen=True, slots=True)
class _Ledger:
    """The rows in ledger order, by id, by cell, and those that still count (no reverse, not taken back)."""

    rows: list[Movement]
    by_id: dict[int, Movement]
    by_cell: dict[Cell, list[Movement]]
    standing: list[Movement]

    @classmethod
    def of(cls, rows: Iterable[Movement]) -> _Ledger:
        ordered = in_order(rows)
        dead = taken_back(ordered)
        standing = [row for row in ordered if row.kind != "reverse" and row.id not in dead]
        by_cell: defaultdict[Cell, list[Movement]] = defaultdict(list)
        for row in ordered:
            by_cell[row[1:4]].append(row)
        return cls(ordered, {row.id: row for row in ordered}, dict(by_cell), standing)


def check(rows: Iterable[Movement]) -> list[Broken]:
    """Return every broken rule, by movement id; `rows` are all rows of their supplies, in any order."""
    ledger = _Ledger.of(rows)
    return sorted(broken for rule in _RULES for broken in rule(ledger))


def _sign(ledger: _Ledger) -> Iterator[Broken]:
    """Each kind is known and its steps have the kind's sign."""
    for row in ledger.rows:
        if row.kind not in KINDS:
            yield Broken(row.id, "kind", f'kind "{row.kind}" is none of {", ".join(KINDS)}')
        elif row.kind in _SIGNS and not _SIGNS[row.kind][0](row.steps):
            yield Broken(row.id, "sign", f"{row.kind} has {row.steps} steps; must be {_SIGNS[row.kind][1]}")


def _lot_named(ledger: _Ledger) -> Iterator[Broken]:
    """Receive, open, return and repack are about one known lot."""
    for row in ledger.rows:
        if row.lot is None and row.kind in ("receive", "open", "return", "repack"):
            yield Broken(row.id, "lot", f"{row.kind} names no lot; it must name one")


def _discard_reason(ledger: _Ledger) -> Iterator[Broken]:
    """A discard says why."""
    for row in ledger.rows:
        if row.kind == "discard" and not (row.reason or "").strip():
            yield Broken(row.id, "reason", "discard has no reason; it must say why")


def _one_supply(ledger: _Ledger) -> Iterator[Broken]:
    """All rows of a lot belong to one supply."""
    owner: dict[int, int] = {}
    for row in ledger.rows:
        if row.lot is not None and owner.setdefault(row.lot, row.supply) != row.supply:
            other = owner[row.lot]
            says = f"lot {row.lot} is booked under supply {row.supply} and {other}; only one may be"
            yield Broken(row.id, "supply", says)


def _once_per_lot(ledger: _Ledger) -> Iterator[Broken]:
    """A lot comes into being once (by receive or as the new lot of a repack) and is opened once."""
    seen: dict[tuple[int | None, str], int] = {}
    for row in ledger.standing:
        comes = row.kind == "receive" or (row.kind == "repack" and row.steps > 0)
        if not comes and row.kind != "open":
            continue
        word = "came in" if comes else "was opened"
        first = seen.setdefault((row.lot, word), row.id)
        if first != row.id and row.lot is not None:
            says = f"lot {row.lot} {word} in movement {first} already; once is the rule"
            yield Broken(row.id, "once", says)


def _return_of_received(ledger: _Ledger) -> Iterator[Broken]:
    """Only what was received can be returned."""
    received = {row.lot for row in ledger.standing if row.kind == "receive"}
    for row in ledger.standing:
        if row.kind == "return" and row.lot is not None and row.lot not in received:
            yield Broken(row.id, "return", f"lot {row.lot} was never received; it cannot be returned")


def _reverse(ledger: _Ledger) -> Iterator[Broken]:
    """A reverse is the exact opposite of one earlier row, same lot, place and day, and stays."""
    for row in ledger.rows:
        if row.kind == "reverse":
            says = _wrong_reverse(row, ledger.by_id.get(row.reverses or 0))
        else:
            says = "only a reverse takes a row back" if row.reverses is not None else ""
        if says:
            yield Broken(row.id, "reverse", says)


def _wrong_reverse(row: Movement, target: Movement | None) -> str:
    """Say what is wrong with a reverse of `target`, or nothing."""
    if target is None or target.id >= row.id:
        return f"takes back movement {row.reverses}, which is not an earlier one"
    if target.kind == "reverse":
        return f"takes back movement {target.id}, a reverse; a reverse stays"
    if row[1:4] != target[1:4] or row.occurred_on != target.occurred_on:
        return f"differs from movement {target.id} in supply, lot, place or day; all must be the same"
    if row.steps != -target.steps:
        return f"has {row.steps} steps against {target.steps} of movement {target.id}; must be the opposite"
    return ""


def _reversed_once(ledger: _Ledger) -> Iterator[Broken]:
    """A row is taken back at most once."""
    seen: dict[int, int] = {}
    for row in ledger.rows:
        if row.kind != "reverse" or row.reverses is None:
            continue
        first = seen.setdefault(row.reverses, row.id)
        if first != row.id:
            yield Broken(row.id, "reverse", f"movement {row.reverses} was taken back by movement {first} already")


def _count_reversed_while_last(ledger: _Ledger) -> Iterator[Broken]:
    """A count can be taken back only while no later row of its lot and place rests on it."""
    for back in ledger.rows:
        count = ledger.by_id.get(back.reverses or 0) if back.kind == "reverse" else None
        if count is None or count.kind != "count":
            continue
        then = [row for row in ledger.by_cell[count[1:4]] if row.id < back.id]
        resting = _first_resting_on(count, then)
        if resting is not None:
            says = f"takes back count {count.id} although movement {resting.id} came after it; must count again"
            yield Broken(back.id, "count", says)


def _first_resting_on(count: Movement, rows: list[Movement]) -> Movement | None:
    """Return the first of the rows of a cell that stands after `count` and changes stock."""
    dead = taken_back(rows)
    for row in rows:
        after = (row.occurred_on, row.id) > (count.occurred_on, count.id)
        if after and row.kind not in WITHOUT_EFFECT and row.id not in dead:
            return row
    return None


def _pairs(ledger: _Ledger) -> Iterator[Broken]:
    """Standing moves and repacks come as pairs of one supply that sum to zero: nothing is lost on the way."""
    groups: defaultdict[tuple[str, str], list[Movement]] = defaultdict(list)
    for row in ledger.standing:
        if row.kind in ("move", "repack"):
            groups[row.kind, row.group or f"row {row.id}"].append(row)
    for (kind, _group), rows in groups.items():
        says = _wrong_pair(kind, rows)
        if says:
            yield Broken(rows[0].id, "pair", says)


def _wrong_pair(kind: str, rows: list[Movement]) -> str:
    """Say what is wrong with the rows of one move or repack, or nothing."""
    if len(rows) != 2:
        return f"{kind} stands in a group of {len(rows)}; must be a pair of rows"
    first, second = rows
    if first.steps + second.steps != 0:
        return f"{kind} of {first.steps} and {second.steps} steps; the pair must sum to zero"
    if first.supply != second.supply or first.occurred_on != second.occurred_on:
        return f"{kind} spans two supplies or days; must be one of each"
    same_lot, same_place = first.lot == second.lot, first.place == second.place
    if kind == "move" and (not same_lot or same_place):
        return "move must keep the lot and change the place"
    if kind == "repack" and same_lot:
        return "repack must lead from one lot to another"
    return ""


_RULES = (
    _sign,
    _lot_named,
    _discard_reason,
    _one_supply,
    _once_per_lot,
    _return_of_received,
    _reverse,
    _reversed_once,
    _count_reversed_while_last,
    _pairs,
)
