"""Policies: what is insured for how much, from when to when, by whom."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy.engine import Connection

from collection.errors import fold
from collection.quantity import Money, parse_day
from collection.store.engine import fetch
from collection.views.supplies import unknown

IN_FORCE, ENDED, AHEAD = "in force", "ended", "not begun"
_SQL = """
SELECT id, name, from_date, to_date, insurer, insured_minor, currency, note FROM policy WHERE void = 0
ORDER BY from_date, name_folded
"""


@dataclass(frozen=True, slots=True)
class Policy:
    """A policy; "" for what is not told. Its days may be partial. insured: None where no sum was told."""

    id: int
    name: str
    from_date: str
    to_date: str
    insurer: str
    insured: Money | None
    note: str

    def state(self, day: date) -> str:
        """Return how it stands on a day; its first and its last day count as in force."""
        if parse_day(self.from_date).first > day:
            return AHEAD
        return ENDED if self.to_date and parse_day(self.to_date).last < day else IN_FORCE


def policy_list(conn: Connection) -> list[Policy]:
    """Return every policy, by its first day."""
    return [_policy(*row) for row in fetch(conn, _SQL)]


def find_policy(conn: Connection, name: str) -> Policy:
    """Return the policy of this name. Raises Refused, naming the nearest."""
    listed = policy_list(conn)
    for each in listed:
        if fold(each.name) == fold(name):
            return each
    raise unknown("policy", name, [each.name for each in listed], "spindlebook policy list")


def _policy(row_id: int, name: str, first: str, last: str | None, insurer: str | None, *rest: Any) -> Policy:
    minor, currency, note = rest
    insured = None if minor is None or currency is None else Money(minor, currency)
    return Policy(row_id, name, first, last or "", insurer or "", insured, note or "")
