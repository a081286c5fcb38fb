"""How far a screw was turned: as people write it ("1/8", "45 deg"), as an exact part of a turn, and summed up."""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction

from collection.errors import Refused, fold, nearest

CLOCKWISE, COUNTER = "clockwise", "counter-clockwise"
MOST_TURNS = 100  # common practice, no source: trimmers have up to 25 turns, a lead screw some tens
_DIRECTIONS = {
    "clockwise": CLOCKWISE, "cw": CLOCKWISE,
    "counter-clockwise": COUNTER, "counterclockwise": COUNTER, "counter clockwise": COUNTER,
    "anticlockwise": COUNTER, "anti-clockwise": COUNTER, "ccw": COUNTER,
}  # fmt: skip
_AMOUNT = re.compile(
    r"(?:(?P<whole>\d{1,6})\s+)?(?P<top>\d{1,6})\s*/\s*(?P<bottom>\d{1,6})\s*(?P<turns>turns?)?"
    r"|(?P<number>\d{1,6}(?:\.\d{1,6})?|\.\d{1,6})\s*(?P<unit>turns?|deg|degrees?|\N{DEGREE SIGN})?",
    re.ASCII | re.IGNORECASE,
)
_PART_TURNS = (2, 3, 4, 5, 6, 8, 10, 12, 16, 32)
_FORMS = 'Type it as 1/8, "1 1/2", 0.5 (turns) or "45 deg".'


def parse_turns(text: str) -> Fraction:
    """Return the exact turns that `text` spells; a bare number is turns, "deg" are 360ths of one.

    Raises Refused for another form, for no turn at all, and above 100 turns.
    """
    match = _AMOUNT.fullmatch(text.strip())
    if match is None or (match["bottom"] and not int(match["bottom"])):
        raise Refused(f'"{text.strip()}" does not say how far a screw was turned.', _FORMS)
    if match["bottom"]:
        turns = Fraction(int(match["top"]), int(match["bottom"])) + int(match["whole"] or 0)
    else:
        turns = Fraction(match["number"])
        if match["unit"] and not fold(match["unit"]).startswith("turn"):
            turns /= 360
    if not 0 < turns <= MOST_TURNS:
        rule = "a turn is above nothing" if not turns else f"at most {MOST_TURNS} turns are kept"
        raise Refused(f"{text.strip()}: {rule}.", _FORMS)
    return turns


def parse_direction(text: str) -> str:
    """Return "clockwise" or "counter-clockwise", as seen facing the screw. Raises Refused for another word."""
    found = _DIRECTIONS.get(fold(text))
    if found is None:
        near = nearest(text, (CLOCKWISE, COUNTER))
        hint = f"Nearest: {near[0]}." if near else f"Type {CLOCKWISE} or {COUNTER}, as seen facing the screw."
        raise Refused(f'"{text.strip()}" is no direction of turning.', hint)
    return found


def net_turns(turned: Iterable[tuple[str, Fraction]]) -> Fraction:
    """Return where turns of one screw leave it: above zero clockwise of where it was, below it the other way."""
    return sum((turns if direction == CLOCKWISE else -turns for direction, turns in turned), Fraction())


def show_turns(turns: Fraction) -> str:
    """Return an amount of turning as a person writes it: "1/8 turn", "1 1/2 turns", "10 deg", "0.137 turn"."""
    whole, rest = divmod(abs(turns), 1)
    noun = "turn" if abs(turns) <= 1 else "turns"
    if not rest or rest.denominator in _PART_TURNS:
        parts = [str(whole)] if whole or not rest else []
        return " ".join([*parts, *([str(rest)] if rest else []), noun])
    if (abs(turns) * 360).denominator == 1:
        return f"{abs(turns) * 360} deg"
    return f"{float(abs(turns)):.3f}".rstrip("0") + f" {noun}"


def show_net(net: Fraction) -> str:
    """Return where a screw stands against where it was first turned from: "1/8 turn clockwise", "where it was"."""
    if not net:
        return "where it was"
    return f"{show_turns(net)} {CLOCKWISE if net > 0 else COUNTER}"
