"""Which wanted parts are there: who wanted first is served first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple


class Want(NamedTuple):
    """So many pieces of a supply (None: of none that the book has), wanted since a day text."""

    id: int
    supply_id: int | None
    pieces: int
    wanted_on: str


def served(wants: Iterable[Want], there: Mapping[int, int]) -> set[int]:
    """Return the wants that what is there serves in full; there: pieces by supply.

    What would serve a want only in part is left for the next one: a drive is not mended with half its belts.
    """
    left, found = dict(there), set()
    for want in sorted(wants, key=lambda each: (each.wanted_on, each.id)):
        if want.supply_id is not None and left.get(want.supply_id, 0) >= want.pieces:
            left[want.supply_id] -= want.pieces
            found.add(want.id)
    return found
