"""Where a guided service stands: which block of questions comes next, and which question in it."""

from __future__ import annotations

from typing import NamedTuple

BLOCKS = ("as found", "tasks", "supplies", "parts", "as left", "findings", "minutes", "outcome")


class Place(NamedTuple):
    """A block, and a question in it counted from 1."""

    block: str
    question: int = 1

    @property
    def spelt(self) -> str:
        """The place as the book keeps it: "as found", "as found 3"."""
        return self.block if self.question == 1 else f"{self.block} {self.question}"


FIRST = Place(BLOCKS[0])


def read_place(text: str) -> Place:
    """Return the place that a text spells; the first of all where it names no block."""
    block, _, number = text.rpartition(" ")
    if block in BLOCKS and number.isascii() and number.isdigit() and int(number) > 0:
        return Place(block, int(number))
    return Place(text) if text in BLOCKS else FIRST


def next_block(block: str) -> Place | None:
    """Return the first question of the block after one, or None after the last."""
    at = BLOCKS.index(block) + 1
    return Place(BLOCKS[at]) if at < len(BLOCKS) else None


def block_before(block: str) -> str:
    """Return the block before one; before the first there is none, and it is returned itself."""
    return BLOCKS[max(BLOCKS.index(block) - 1, 0)]
