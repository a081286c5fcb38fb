"""The text that reminds a borrower of what is still noted as on loan to them: dates, tags, no threat."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class StillOut:
    """One unit that is past its day; days as the book writes them. along: what went with it, "" for nothing."""

    tag: str
    model: str
    loan: str
    out_on: str
    due_on: str
    along: str = ""


def reminder(person: str, units: Sequence[StillOut], sender: str) -> list[str]:
    """Return the lines of a plain text to send; sender: the name of the book, "" where it has none."""
    one = len(units) == 1
    it, has = ("it", "it has") if one else ("them", "they have")
    lines = [f"Dear {person},", "", f"{'this is' if one else 'these are'} still noted as on loan to you:"]
    lines += ["", *(line for unit in units for line in _lines(unit)), ""]
    lines += [
        f"Could you bring {it} back, or tell us until when you need {it}?",
        "We gladly note another day.",
        f"If {has} come back already, please tell us: then the mistake is ours.",
        f"Is anything wrong with {it}? A word on what you noticed is enough.",
        "Please open nothing and try nothing: inside there may be mains",
        "voltage, or a charge that stays after the plug is pulled.",
        "",
        "Thank you,",
        sender or "who keeps the book of the collection",
    ]
    return lines


def _lines(unit: StillOut) -> Iterator[str]:
    yield f"  {unit.tag}, {unit.model} (loan {unit.loan}): out since {unit.out_on}, due back {unit.due_on}"
    if unit.along:
        yield f"    with it: {unit.along}"
