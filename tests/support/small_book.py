"""A small model of the book: what must be so after the lines that were accepted and not taken back, told in a few sums.

It knows nothing of tables. Whatever counts is worked out anew from the lines, in the order in which they were typed.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from tests.support.cli import Ran

GREASE = "rail grease"  # no line but supply receive, use and count touches it
RAIL = "rail voltage[+5 V]"
_PLACED = frozenset({("unit", "enter", "--location"), ("unit", "move", "--to")})
_UNITS = frozenset({"D1", "D2", "D3", "D4", "D7", "D9", "P1"})  # never renamed


@dataclass
class SmallBook:
    """Lines by the number of their act; `took_back` has the target of each undo."""

    lines: dict[int, Sequence[str]] = field(default_factory=dict)
    took_back: dict[int, int] = field(default_factory=dict)

    def did(self, act: int, words: Sequence[str]) -> None:
        """Note a line that was accepted."""
        self.lines[act] = words

    def undid(self, act: int, target: int) -> None:
        """Note that an act was taken back."""
        self.took_back[act] = target

    def counts(self, act: int) -> bool:
        """Say whether an act counts."""
        return not any(self.counts(by) for by, target in self.took_back.items() if target == act)

    def root(self, act: int) -> int:
        """Return the line that an undo, or an undo of one, is about."""
        while act in self.took_back:
            act = self.took_back[act]
        return act

    def counting(self, *words: str) -> Iterator[Sequence[str]]:
        """Yield the lines that count and begin with some words."""
        for act, line in sorted(self.lines.items()):
            if tuple(line[: len(words)]) == words and self.counts(act):
                yield line

    def on_loan(self) -> dict[str, str]:
        """Return the units that are lent, each with its borrower."""
        out: dict[str, str] = {}
        for act, line in sorted(self.lines.items()):
            if self.counts(act) and line[:2] == ["loan", "out"] and "--came-back" not in line:
                out |= {tag: option(line, "--to") for tag in _tags(line)}
            elif self.counts(act) and line[:2] == ["loan", "back"]:
                for tag in _tags(line):
                    out.pop(tag, None)
        return out

    def places(self) -> dict[str, str]:
        """Return where the units are by the last day told, of one day by the last line."""
        told = [
            line
            for act, line in sorted(self.lines.items())
            if self.counts(act) and (*line[:2], *line[3:4]) in _PLACED and line[2] in _UNITS
        ]
        told.sort(key=lambda line: option(line, "--on"))
        return {line[2]: line[4] for line in told}

    def grease(self) -> float:
        """Return how much grease there is: a count of the first lot settles what is before it in the ledger."""
        moves = [*self.counting("supply", "receive", GREASE), *self.counting("supply", "use", GREASE)]
        others = sum(float(line[3]) for line in moves if line[1] == "receive" and "--lot" not in line)
        lot = sorted(
            (option(line, "--on"), act, line)
            for act, line in self.lines.items()
            if self.counts(act) and line[0] == "supply" and line[2] == GREASE and "--lot" in line
        )
        left = 0.0
        for _day, _act, line in lot:
            amount = float(line[3])
            left = {"receive": left + amount, "use": left - amount, "count": amount}[line[1]]
        return left + others

    def rails(self) -> Counter[str]:
        """Return how often the rail of each unit was read."""
        return Counter(line[2] for line in self.counting("reading", "add") if line[3] == RAIL and line[2] in _UNITS)

    def compare(self, ask: Callable[[Sequence[str]], Ran]) -> None:
        """Ask the book by its own lists."""

        def rows(*words: str) -> list[dict[str, object]]:
            ran = ask([*words, "--json"])
            assert ran.code == 0, ran
            listed: list[dict[str, object]] = json.loads(ran.out)
            return listed

        assert self.on_loan() == {
            str(row["tag"]): row["person"]
            for row in rows("loan", "list")
            if row["tag"] in _UNITS and row["direction"] == "out"
        }
        units = rows("unit", "list") + rows("unit", "list", "--standing", "gone")
        listed = {str(row["tag"]): row["location"] for row in units if row["location"]}
        assert self.places() == {tag: place for tag, place in listed.items() if tag in _UNITS}
        held = rows("stock", GREASE) if any(self.counting("supply", "add", GREASE)) else []  # a long run takes it back
        assert self.grease() == sum(float(str(row["quantity"])) for row in held)


def option(line: Sequence[str], name: str) -> str:
    """Return what a line says behind an option."""
    return line[line.index(name) + 1]


def _tags(line: Sequence[str]) -> list[str]:
    return [word for word in line if word in _UNITS]
