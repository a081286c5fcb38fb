"""What is left on a unit that gives its parts: the parts of its kind, without those that were taken.

Which parts a unit of a kind has is common practice, no source. A part is any words a person types; these are the
ones that are looked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from collection.analysis.mechanisms import MECHANISM
from collection.errors import fold

_OF_A_MECHANISM = ("head", "spindle motor", "stepper motor")
_OF_A_KIND = {
    "drive": (MECHANISM, "board", *_OF_A_MECHANISM, "front"),
    "mechanism": _OF_A_MECHANISM,
    "supply unit": ("board", "transformer", "fan", "case"),
    "pc supply": ("board", "transformer", "fan", "case"),
    "computer": ("board", "supply", "keyboard", "case"),
    "test gear": ("board", "supply", "case"),
}
_BELT, _SUPPLY = "belt", "supply"
_GOES_WITH = dict.fromkeys((*_OF_A_MECHANISM, _BELT), MECHANISM)  # taken whole, a mechanism has these on it
IN_PLACE, LOOSE = "in place", "loose"
_OTHER_NAMES = {"motor": "spindle motor", "drive belt": _BELT, "heads": "head"}
_WITH_MAINS = ("supply unit", "pc supply")
MAINS_CAUTION = (
    "Caution: a supply unit has mains and charged capacitors in it. Plug out; a qualified person opens it, "
    "and local rules come first."
)


def part_word(part: str) -> str:
    """Return the form in which parts are compared: "Motor" is the spindle motor."""
    folded = fold(part)
    return _OTHER_NAMES.get(folded, folded)


def has_mains(kind: str) -> bool:
    """Say whether a unit of this kind is opened by qualified people only."""
    return fold(kind) in _WITH_MAINS


def parts_of_kind(kind: str, drive_type: str, *, supply_inside: bool) -> tuple[str, ...]:
    """Return the parts that a unit of this kind has when it is whole; none for a kind of which it is not known."""
    belt = (_BELT,) if drive_type == "belt" else ()
    supply = (_SUPPLY,) if supply_inside and fold(kind) == "drive" else ()
    known = _OF_A_KIND.get(fold(kind), ())
    return (*known, *belt, *supply) if known else ()


class Move(NamedTuple):
    """Something that happened to a part of a unit on a day (ISO text).

    what: "fitted" into it, "taken" out of it for another unit, "removed" from it. row: of the fitting that began or
    ended, or that took it. to: the tag of the unit that got it. own: it is told to be the part the unit was built with.
    """

    day: str
    what: str
    row: int
    part: str
    to: str = ""
    own: bool = False


class Gone(NamedTuple):
    """A part that is not on its unit any more: since when, to which unit ("" for none), and with which part."""

    part: str
    day: str
    to: str
    whole: str

    def __str__(self) -> str:
        went = f"went to {self.to}" if self.to else "was removed"
        return f"{went} with the {self.whole} on {self.day}" if self.whole else f"{went} on {self.day}"


_ORDER = {"fitted": 0, "taken": 1, "removed": 2}


def gone_by(moves: Iterable[Move], part: str, day: str) -> Gone | None:
    """Return where a part of a unit has gone by the end of a day, None while it is there."""
    return _walk(_of_part(moves, part), part, day)


def gone_after(moves: Iterable[Move], part: str, day: str) -> Gone | None:
    """Return where the part that is there on a day goes later, None where it stays or another takes its place."""
    relevant = [move for move in _of_part(moves, part) if move.day > day]
    for move in relevant:
        if move.what == "fitted":
            return None
        if _is_out(move):
            return _gone(move, part)
    return None


def own_part(moves: Iterable[Move], part: str, day: str) -> str:
    """Return where the part that a unit was built with is on a day: IN_PLACE, LOOSE, or the tag of the unit it is in.

    A unit that "gave its own" gave the part that lay loose, whatever sat in its place.
    """
    where, row = IN_PLACE, 0
    for move in _of_part(moves, part):
        if move.day > day or part_word(move.part) != part_word(part):
            continue
        if move.what == "fitted":
            where, row = (IN_PLACE, move.row) if move.own else (LOOSE if where == IN_PLACE else where, row)
        elif move.what == "removed":
            where = LOOSE if move.row == row else where
        elif move.own or where == IN_PLACE:
            where, row = move.to, move.row
    return where


def left_of(moves: Sequence[Move], parts: Iterable[str], day: str) -> list[str]:
    """Return which of these parts are still on a unit on a day."""
    return [part for part in parts if gone_by(moves, part, day) is None]


def _of_part(moves: Iterable[Move], part: str) -> list[Move]:
    wanted = part_word(part)
    words = {wanted, _GOES_WITH.get(wanted, wanted)}
    return sorted(
        (move for move in moves if part_word(move.part) in words),
        key=lambda move: (move.day, _ORDER[move.what], move.row),
    )


def _walk(moves: Iterable[Move], part: str, day: str) -> Gone | None:
    """Work through the moves of a part and of what it sits on; a removal counts only of the fitting that holds."""
    gone: dict[str, Gone | None] = {}
    holds: dict[str, int] = {}
    for move in moves:
        if move.day > day:
            break
        word = part_word(move.part)
        if move.what == "fitted":
            gone[word], holds[word] = None, move.row
            if word == MECHANISM and not move.own:
                gone.clear()
        elif gone.get(word) is None and (_is_out(move) or holds.get(word) == move.row):
            gone[word] = _gone(move, part)
    return next((each for each in gone.values() if each is not None), None)


def _is_out(move: Move) -> bool:
    """Say whether a move takes what sits in the unit; its own part, where that is told, lay loose."""
    return move.what == "taken" and not move.own


def _gone(move: Move, part: str) -> Gone:
    return Gone(move.part, move.day, move.to, "" if part_word(move.part) == part_word(part) else move.part)
