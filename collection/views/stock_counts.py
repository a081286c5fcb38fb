"""When each supply was counted last, and where its counts contradict the book or each other."""

from __future__ import annotations

from collections import defaultdict
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.ledger import Cell, CountDifference, Movement, count_differences
from collection.store.engine import fetch
from collection.views.drawer import MOVEMENTS_SQL


class CountSaid(NamedTuple):
    """The last day on which a supply was counted ("": never), and what is odd about it, in steps.

    more: by how much it was above the book, which no use explains. contradicting: pairs of counts of one lot at one
    place on that day that are not the same.
    """

    day: str = ""
    more: int = 0
    contradicting: tuple[tuple[int, int], ...] = ()


def counts_said(conn: Connection, day: str) -> dict[int, CountSaid]:
    """Return what the last counts of every counted supply say, as of a day."""
    rows = list(map(Movement._make, fetch(conn, MOVEMENTS_SQL, day=day)))
    on = {row.id: row.occurred_on for row in rows if row.kind == "count"}
    by_supply: defaultdict[int, list[CountDifference]] = defaultdict(list)
    counted = {row.supply for row in rows if row.kind == "count"}
    for each in count_differences(row for row in rows if row.supply in counted):
        by_supply[each.cell[0]].append(each)
    found = {}
    for supply, differences in by_supply.items():
        last = max(on[each.movement] for each in differences)
        of_day = [each for each in differences if on[each.movement] == last]
        first: dict[Cell, CountDifference] = {}
        pairs = []
        for each in of_day:
            before = first.get(each.cell)
            if before is not None and before.counted != each.counted and each.book == before.counted:
                pairs.append((before.counted, each.counted))
            first[each.cell] = each
        # The very first count opens the book of a lot: nothing was there to contradict.
        more = 0 if len(differences) == len(of_day) else sum(each.difference for each in of_day)
        found[supply] = CountSaid(last, max(0, more), tuple(pairs))
    return found
