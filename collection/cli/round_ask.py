"""The dialogue of a round: one line per unit, typed at a terminal, each kept before the next question."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from collection.cli.table import width_of
from collection.errors import Refused

BACK, SKIP, DROP = "back", "skip", "drop"


@dataclass(frozen=True, slots=True)
class Question:
    """The line that is asked of one unit; place: what the screen shows of it before the colon."""

    tag: str
    place: str


@dataclass(frozen=True, slots=True)
class Hands:
    """What the dialogue does through others: ask a line, look at an answer, keep it, print a line."""

    ask: Callable[[str], str]
    look: Callable[[str, str], str]
    keep: Callable[[str, str], None]
    tell: Callable[[str], None]


def lay_beside(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return each row as one text, its columns below each other; a column in which nothing stands is left out."""
    widths = [max(map(width_of, column)) for column in zip(*rows, strict=True)]
    return [
        "  ".join(cell + " " * (width - width_of(cell)) for cell, width in zip(row, widths, strict=True) if width)
        for row in rows
    ]


def walk(questions: Sequence[Question], answers: dict[str, str], hands: Hands, start: int | None = None) -> bool:
    """Ask every unit that has no answer yet, in order, or from the place `start` on; answers grows as they are typed.

    Enter passes a unit over, "back" returns to the one before, whose answer Enter then lets stand and "skip" takes
    away. An answer that is refused is asked for again. Returns False when the person broke off (Ctrl-C, or the end of
    the input).
    """
    at = _first_open(questions, answers, 0) if start is None else start
    try:
        while at < len(questions):
            one = questions[at]
            before = answers.get(one.tag, "")
            typed = hands.ask(f"{one.place} [{before}]: " if before else f"{one.place}: ") or before
            if typed.casefold() == BACK:
                at = _step_back(at, hands)
                continue
            if _taken(one.tag, typed, answers, hands):
                at = _first_open(questions, answers, at + 1)
    except (KeyboardInterrupt, EOFError):
        hands.tell("")
        return False
    return True


def ending(questions: Sequence[Question], answers: dict[str, str], hands: Hands) -> bool | None:
    """Ask at the end what to do with the answers.

    Returns True to write them, None to throw them away, False when the person broke off.
    """
    while True:
        told = sum(map(bool, answers.values()))
        if not told:
            return None
        try:
            typed = hands.ask(
                f"{_counted(told)} told. Enter puts {'it' if told == 1 else 'them'} into the book;"
                " back corrects the last; drop throws all away: "
            ).casefold()
        except (KeyboardInterrupt, EOFError):
            hands.tell("")
            return False
        if typed == BACK:
            if not walk(questions, answers, hands, start=len(questions) - 1):
                return False
        elif typed in ("", DROP):
            return True if not typed else None


def answered(answers: Mapping[str, str]) -> int:
    """Return how many units have a value, those passed over not counted."""
    return sum(map(bool, answers.values()))


def _counted(number: int) -> str:
    return "1 unit" if number == 1 else f"{number} units"


def _first_open(questions: Sequence[Question], answers: Mapping[str, str], start: int) -> int:
    at = start
    while at < len(questions) and questions[at].tag in answers:
        at += 1
    return at


def _step_back(at: int, hands: Hands) -> int:
    if at == 0:
        hands.tell("  This is the first one.")
        return 0
    return at - 1


def _taken(tag: str, typed: str, answers: dict[str, str], hands: Hands) -> bool:
    """Look at an answer and keep it; say why where it is refused, and what is to be seen in it otherwise."""
    typed = "" if typed.casefold() == SKIP else typed
    if typed:
        try:
            said = hands.look(tag, typed)
        except Refused as refusal:
            hands.tell(f"  {refusal}")
            return False
        if said:
            hands.tell(f"  {said}")
    hands.keep(tag, typed)
    answers[tag] = typed
    return True
