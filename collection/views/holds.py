"""What holds units here: somebody else has them, owns them for the time, was promised them or works on them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.errors import typed
from collection.store.engine import fetch
from collection.views.units import ON_LOAN

BORROWED, RESERVED, IN_SERVICE = "borrowed", "reserved", "in service"
OF_LOAN = {"out": ON_LOAN, "in": BORROWED}
_IN_TURN = (ON_LOAN, BORROWED, RESERVED, IN_SERVICE)
# What nothing that is called gone may be; day: today.
HOLDS_SQL = f"""
SELECT i.unit_id AS unit_id, CASE l.direction WHEN 'out' THEN '{ON_LOAN}' ELSE '{BORROWED}' END AS how, i.id AS row_id,
       l.out_on AS since, l.due_on AS until, p.name AS person, l.name AS loan
FROM loan_item i JOIN loan l ON l.id = i.loan_id JOIN person p ON p.id = l.person_id
WHERE i.void = 0 AND l.void = 0 AND i.back_on IS NULL
UNION ALL
SELECT r.unit_id, '{RESERVED}', r.id, r.from_date, r.to_date, p.name, ''
FROM reservation r JOIN person p ON p.id = r.person_id
WHERE r.void = 0 AND r.closed_on IS NULL AND r.to_date >= :day
UNION ALL
SELECT s.unit_id, '{IN_SERVICE}', s.id, s.opened_on, '', '', '' FROM service s WHERE s.void = 0 AND s.closed_on IS NULL
"""


class Hold(NamedTuple):
    """That a unit is held here: how, as "on loan", and by which row of loan_item, reservation or service.

    since, until: (partial) days, of a loan the one on which it is due. person, loan: "" for what is not told.
    """

    unit_id: int
    how: str
    row_id: int
    since: str
    until: str = ""
    person: str = ""
    loan: str = ""

    @property
    def says(self) -> str:
        """What holds the unit, in words that follow its tag."""
        if self.how == ON_LOAN:
            return f"is on loan{self._person('to')} since {self.since} (loan {self.loan})"
        if self.how == BORROWED:
            return f"is borrowed{self._person('from')} since {self.since} (loan {self.loan})"
        if self.how == RESERVED:
            return f"is reserved{self._person('for')} from {self.since} to {self.until}"
        return f"has a service open since {self.since}"

    def mend(self, tag: str) -> str:
        """Return what ends it, with what to type; it begins with a small letter."""
        unit = typed(tag)
        if self.how == ON_LOAN:
            back = f"spindlebook loan back {unit}"
            return f'end the loan first: {back}; if it is lost: {back} --lost "WHAT BECAME OF IT"'
        if self.how == BORROWED:
            lost = f'spindlebook damage add {unit} "WHAT BECAME OF IT" --lost unit'
            return f"it goes back, and nowhere else: spindlebook loan give-back {unit}; if it is lost: {lost}"
        if self.how == RESERVED:
            return f"give that up first: spindlebook loan unreserve {unit} --from {self.since}"
        return f"close it first: spindlebook service close {unit} --outcome away"

    def _person(self, word: str) -> str:
        return f" {word} {self.person}" if self.person else ""


def holds(conn: Connection, today: date, unit_id: int | None = None) -> list[Hold]:
    """Return what holds units here today, of all of them or of one."""
    only, one = ("", {}) if unit_id is None else (" WHERE h.unit_id = :unit", {"unit": unit_id})
    rows = fetch(conn, f"SELECT h.* FROM ({HOLDS_SQL}) h{only}", day=today.isoformat(), **one)
    return [Hold(*row) for row in rows]


def first_by_unit(held: Iterable[Hold]) -> dict[int, Hold]:
    """Return of what holds each unit the one that is to be ended first."""
    found: dict[int, Hold] = {}
    for each in sorted(held, key=lambda hold: (_IN_TURN.index(hold.how), hold.since)):
        found.setdefault(each.unit_id, each)
    return found
