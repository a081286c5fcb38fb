"""The book against a shelf: what was found there, what the book has there, and what to do about each difference.

Inventory and audit, procedures 4 and 21 of Spectrum (Collections Trust), ask for it; how it is done here is common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from collection.errors import fold, nearest, typed

RIGHT, ELSEWHERE, NOT_HERE, UNKNOWN = "here", "here, and elsewhere in the book", "not here", "not known"
ON_LOAN = "here, and on loan in the book"
LOST = "here, and {standing} in the book"
_MOST_SLIPS = 20  # a text of another kind has thousands that are no tag, and each would be held against every unit
# Nobody looks for these on a shelf, whatever place the book has for them.
NOT_EXPECTED = ("on loan", "away", "missing", "gone")


class Book(NamedTuple):
    """What the book says of a unit: its location ("" for none), whether that is the shelf, and its standing.

    person: who has it, "" unless it is on loan.
    """

    tag: str
    location: str
    on_shelf: bool
    standing: str
    person: str


class Finding(NamedTuple):
    """One unit, or one text that is no tag, at the shelf; book: what the book says; do: commands to type, or words.

    seen: whether it was found there. misplaced: found, while the book has it elsewhere and it can simply be moved.
    """

    tag: str
    finding: str
    book: str
    do: tuple[str, ...]
    seen: bool
    misplaced: bool

    @property
    def differs(self) -> bool:
        """Whether book and shelf say different things."""
        return self.finding != RIGHT


def compare(shelf: str, units: Mapping[str, Book], found: Sequence[str]) -> list[Finding]:
    """Return what is to be said of a shelf, in the order found, then what the book has there and nobody found.

    units: every unit by its folded tag and by its other folded names. found: as typed; what was found twice counts
    once.
    """
    rows: dict[str, Finding] = {}
    tags, slips = [unit.tag for unit in _each_once(units.values())], 0
    for text in found:
        unit = units.get(fold(text))
        key = fold(text) if unit is None else fold(unit.tag)
        if key in rows:
            continue
        if unit is None:
            slips += 1
            rows[key] = _unknown(text, shelf, tags if slips <= _MOST_SLIPS else ())
        else:
            rows[key] = _seen(unit, shelf)
    for unit in _each_once(units.values()):
        if unit.on_shelf and unit.standing not in NOT_EXPECTED and fold(unit.tag) not in rows:
            rows[fold(unit.tag)] = _not_here(unit)
    return list(rows.values())


def _seen(unit: Book, shelf: str) -> Finding:
    misplaced = not unit.on_shelf
    move = (_move(unit.tag, shelf),) if misplaced else ()
    if unit.standing == "on loan":
        says = f"on loan to {unit.person}" if unit.person else "on loan"
        return Finding(unit.tag, ON_LOAN, says, (f"spindlebook loan back {typed(unit.tag)}", *move), True, misplaced)
    if unit.standing in NOT_EXPECTED:
        stand = f'spindlebook unit enter {typed(unit.tag)} --standing "on the bench"'
        return Finding(unit.tag, LOST.format(standing=unit.standing), unit.standing, (stand, *move), True, misplaced)
    if misplaced:
        return Finding(unit.tag, ELSEWHERE, unit.location or "no location", move, True, True)
    return Finding(unit.tag, RIGHT, unit.location, (), True, False)


def _not_here(unit: Book) -> Finding:
    elsewhere = f"look for it; where it is: spindlebook unit move {typed(unit.tag)} --to LOCATION"
    nowhere = f"if it is nowhere: spindlebook unit enter {typed(unit.tag)} --standing missing"
    return Finding(unit.tag, NOT_HERE, unit.location, (elsewhere, nowhere), False, False)


def _unknown(text: str, shelf: str, tags: Sequence[str]) -> Finding:
    near = nearest(text, tags)
    slip = (f"if it is a slip, nearest: {', '.join(near)}",) if near else ()
    new = f"if it is new: spindlebook unit add {typed(text)} --model MODEL --location {typed(shelf)}"
    return Finding(text, UNKNOWN, "", (*slip, new), True, False)


def _move(tag: str, shelf: str) -> str:
    return f"spindlebook unit move {typed(tag)} --to {typed(shelf)}"


def _each_once(units: Iterable[Book]) -> list[Book]:
    return list(dict.fromkeys(units))
