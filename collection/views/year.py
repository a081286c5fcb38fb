"""The year of a collection: what there was, what was done, how units came in, what it took, who had what."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.errors import Refused
from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.units import Unit, unit_list
from collection.views.year_costs import Bought, Taken, supplies_bought, taken_of, units_bought
from collection.views.year_work import AsFound, Faults, Services, as_found_of, faults_of, services_of

NOT_TOLD = "not told"  # the standing of a unit of which nobody ever said one
_LOANS_SQL = """
SELECT l.direction, l.out_on, l.due_on, i.back_on FROM loan_item i JOIN loan l ON l.id = i.loan_id
WHERE i.void = 0 AND l.void = 0 AND l.out_on <= :last
"""


class Standings(NamedTuple):
    """How many units there were on a day, by standing; those that are gone or not there yet are not counted."""

    on: date
    units: Mapping[str, int]

    @property
    def total(self) -> int:
        """How many there were."""
        return sum(self.units.values())


class Loans(NamedTuple):
    """Loans of units in a year. days: on loan within the year, all units together; late: came back after their day.

    out: on loan on the last day; overdue: of these, past their day. borrowed: units borrowed from others in the year.
    """

    begun: int
    back: int
    late: int
    days: int
    out: int
    overdue: int
    borrowed: int


@dataclass(frozen=True, slots=True)
class Year:
    """A year until `last`, which is its end or today. standings: before it, and at the end of each month of it.

    came, left: tags of units that are there at the end and were not before it, and the other way round.
    as_found_before: of the year before.
    """

    year: int
    last: date
    standings: tuple[Standings, ...]
    came: tuple[str, ...]
    left: tuple[str, ...]
    services: Services
    as_found: AsFound
    as_found_before: AsFound
    faults: Faults
    taken: tuple[Taken, ...]
    supplies: Bought
    units: Bought
    loans: Loans

    @property
    def over(self) -> bool:
        """Say whether it is over."""
        return (self.last.month, self.last.day) == (12, 31)


def year_of(conn: Connection, year: int, today: date) -> Year:
    """Return what the book says today of a year. Raises Refused for one not begun, and where it says nothing of it."""
    if year > today.year:
        raise Refused(f"{year} has not begun (today is {today.isoformat()}).", f"Type a year up to {today.year}.")
    last = min(date(year, 12, 31), today)
    text, day = f"{year:04}", last.isoformat()
    days = [date(year, 1, 1) - timedelta(days=1), *_month_ends(year, last)]
    told = {unit.tag for unit in unit_list(conn, today) if unit.standing}
    present = [_present(conn, each, told) for each in days]
    first, end = present[0], present[-1]
    found = Year(
        year=year,
        last=last,
        standings=tuple(Standings(on, Counter(units.values())) for on, units in zip(days, present, strict=True)),
        came=tuple(tag for tag in end if tag not in first),
        left=tuple(tag for tag in first if tag not in end),
        services=services_of(conn, text, day),
        as_found=as_found_of(conn, text, day),
        as_found_before=as_found_of(conn, f"{year - 1:04}", f"{year - 1:04}-12-31"),
        faults=faults_of(conn, text, day),
        taken=tuple(taken_of(conn, text, day)),
        supplies=supplies_bought(conn, text, day),
        units=units_bought(conn, text, day),
        loans=_loans(conn, text, last),
    )
    if not (first or end or found.services.total or found.as_found.readings.judged or found.taken or found.loans.begun):
        other = today.year if year != today.year else year - 1
        raise Refused(f"The book says nothing of {year}.", f"Type another year, as: spindlebook report year {other}")
    return found


def _month_ends(year: int, last: date) -> list[date]:
    """Return the last day of each month of a year, and the last day told where a month is not over."""
    firsts = [date(year + month // 12, month % 12 + 1, 1) for month in range(1, 13)]
    ends = [first - timedelta(days=1) for first in firsts]
    return [*(end for end in ends if end < last), last]


def _present(conn: Connection, day: date, told: Collection[str]) -> dict[str, str]:
    """Return the standing of every unit that was there on a day, by tag. told: those of which one is ever said."""
    return {
        unit.tag: unit.standing or NOT_TOLD
        for unit in unit_list(conn, day)
        if unit.standing != "gone" and (unit.standing or (unit.tag not in told and _acquired(unit, day)))
    }


def _acquired(unit: Unit, day: date) -> bool:
    return not unit.acquired_on or parse_day(unit.acquired_on).first <= day


def _loans(conn: Connection, year: str, last: date) -> Loans:
    rows = fetch(conn, _LOANS_SQL, last=last.isoformat())
    lent = [row for row in rows if row[0] == "out"]
    back = [row for row in lent if row[3] and row[3].startswith(year) and row[3] <= last.isoformat()]
    out = [row for row in lent if not row[3] or row[3] > last.isoformat()]
    return Loans(
        begun=sum(row[1].startswith(year) for row in lent),
        back=len(back),
        late=sum(parse_day(row[3]).first > parse_day(row[2]).last for row in back),
        days=sum(_days_in(row, date(last.year, 1, 1), last) for row in lent),
        out=len(out),
        overdue=sum(parse_day(row[2]).last < last for row in out),
        borrowed=sum(row[0] == "in" and row[1].startswith(year) for row in rows),
    )


def _days_in(row: tuple[Any, ...], first: date, last: date) -> int:
    """Return the days on which a unit was on loan between two days, both counted; the day it came back is not."""
    begun = max(parse_day(row[1]).first, first)
    end = last + timedelta(days=1)
    if row[3]:
        end = min(parse_day(row[3]).first, end)
    return max((end - begun).days, 0)
