"""What units take in supplies, minutes and belts: in all, a service and a year."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.consumption import FEWEST_DAYS, BeltCount, eaters, years
from collection.quantity import Money, parse_day
from collection.store.book import open_book
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.units import Unit, find_unit, unit_list
from collection.views.uses import fleet_here
from collection.views.worth import taken_values

_STANDS = f"{counts('m')} AND NOT EXISTS (SELECT 1 FROM movement r WHERE r.reverses_id = m.id AND {counts('r')})"
_FIRST_SQL = f"""
SELECT min(first_on) FROM (
    SELECT min(m.occurred_on) AS first_on FROM movement m WHERE {counts("m")}
    UNION ALL SELECT min(s.opened_on) FROM service s WHERE s.void = 0) days"""
_SERVICES_SQL = "SELECT unit_id, opened_on, minutes FROM service WHERE void = 0 AND opened_on <= :day ORDER BY id"
_USES_SQL = f"""
SELECT m.id, m.supply_id, coalesce(m.unit_id, s.unit_id), m.occurred_on, m.service_id, m.steps
FROM movement m LEFT JOIN service s ON s.id = m.service_id
WHERE m.kind = 'use' AND m.occurred_on <= :day AND coalesce(m.unit_id, s.unit_id) IS NOT NULL AND {_STANDS}
ORDER BY m.id"""
_BELTS_SQL = "SELECT id, smallest_step FROM supply WHERE void = 0 AND lower(kind) = 'belt' AND measured_in = 'piece'"
_FITTED_SQL = """
SELECT f.unit_id, f.fitted_on, f.service_id FROM fitted_part f LEFT JOIN supply s ON s.id = f.supply_id
WHERE f.void = 0 AND f.fitted_on <= :day AND (lower(f.part) = 'belt' OR lower(s.kind) = 'belt') ORDER BY f.id"""

Place = tuple[int, int | None]  # unit id, calendar year (None: in all)


@dataclass(slots=True)
class UnitUse:
    """What one unit took, in all or in one calendar year (year None: in all).

    days: that it was here and watched. minutes: of the `timed` among the services. cost: of supplies and parts in minor
    units of the book's currency, at what their lots cost; priced, uses: how many of its uses have such a price, of how
    many. belts: fitted or used; eats: more of them than the other units let expect.
    """

    unit: Unit
    year: int | None
    days: int
    services: int = 0
    timed: int = 0
    minutes: int = 0
    cost: int = 0
    priced: int = 0
    uses: int = 0
    belts: int = 0
    eats: bool = False

    @property
    def minutes_a_service(self) -> float | None:
        """Minutes of a service, None where none was timed."""
        return self.minutes / self.timed if self.timed else None

    @property
    def known_cost(self) -> int | None:
        """The cost, None where no use has a price."""
        return self.cost if self.priced else None

    @property
    def cost_a_service(self) -> float | None:
        """The cost of a service, minor units."""
        return self.cost / self.services if self.priced and self.services else None

    def a_year(self, value: float | None) -> float | None:
        """Return a figure by the year; None for an unknown one, and for a unit that was watched too short a time."""
        return None if value is None or self.days < FEWEST_DAYS else value / years(self.days)


class UnitsUse(NamedTuple):
    """The rows by tag and year; since: the first day of the book's records, None for none; currency: of the costs."""

    rows: tuple[UnitUse, ...]
    since: date | None
    currency: str


def units_use(conn: Connection, today: date, tag: str | None = None, *, by_year: bool = False) -> UnitsUse:
    """Return what every unit took, or one, since the book's records began; in all or by calendar year.

    A unit without any service, use or belt has no row. Raises Refused for an unknown tag.
    """
    only = None if tag is None else find_unit(conn, tag).id
    currency = open_book(conn).settings.currency
    first = fetch(conn, _FIRST_SQL)[0][0]
    if first is None:
        return UnitsUse((), None, currency)
    since = parse_day(first).first
    table = _Table(conn, today, since, by_year=by_year)
    table.add_services()
    table.add_uses(currency)
    table.add_belts()
    rows = table.rows if by_year else _with_eaters(table.rows)
    order = {unit.id: place for place, unit in enumerate(table.units.values())}
    chosen = [row for row in rows.values() if only in (None, row.unit.id)]
    return UnitsUse(tuple(sorted(chosen, key=lambda row: (order[row.unit.id], row.year or 0))), since, currency)


def _with_eaters(rows: dict[Place, UnitUse]) -> dict[Place, UnitUse]:
    """Mark the units that take more belts than others; held against each other are those that belts drive."""
    driven = [row for row in rows.values() if row.belts or row.unit.drive_type == "belt"]
    for row, eats in zip(driven, eaters([BeltCount(row.belts, row.days) for row in driven]), strict=True):
        row.eats = eats
    return rows


class _Table:
    """The rows while they are filled."""

    def __init__(self, conn: Connection, today: date, since: date, *, by_year: bool) -> None:
        self._conn, self._today, self._since, self._by_year = conn, today, since, by_year
        self.units = {unit.id: unit for unit in unit_list(conn, today)}
        self._stays = {unit.id: unit.stays for unit in fleet_here(conn, today)}
        self.rows: dict[Place, UnitUse] = {}

    def _row(self, unit_id: int, on: str) -> UnitUse:
        year = parse_day(on).first.year if self._by_year else None
        place = (unit_id, year)
        if place not in self.rows:
            self.rows[place] = UnitUse(self.units[unit_id], year, self._days(unit_id, year))
        return self.rows[place]

    def _days(self, unit_id: int, year: int | None) -> int:
        """Return for how many days the unit was here, of the year or of all the time with records."""
        start, end = self._since, self._today
        if year is not None:
            start, end = max(start, date(year, 1, 1)), min(end, date(year + 1, 1, 1))
        stays = self._stays.get(unit_id, [])
        return sum(max(0, (min(left or end, end) - max(came, start)).days) for came, left in stays)

    def add_services(self) -> None:
        """Add services and their minutes."""
        for unit_id, on, minutes in self._fetch(_SERVICES_SQL):
            row = self._row(unit_id, on)
            row.services += 1
            row.timed += minutes is not None
            row.minutes += minutes or 0

    def add_uses(self, currency: str) -> None:
        """Add what was used up, at the price of its lot where that is known in the book's currency."""
        used = self._fetch(_USES_SQL)
        values: dict[int, Money] = {}
        for supply_id in sorted({row[1] for row in used}):
            values |= taken_values(self._conn, supply_id)
        for movement, _, unit_id, on, *_ in used:
            row, value = self._row(unit_id, on), values.get(movement)
            row.uses += 1
            if value is not None and value.currency == currency:
                row.priced += 1
                row.cost += value.minor

    def add_belts(self) -> None:
        """Add belts: those fitted and those used up are the same where one service tells of both."""
        steps = {number: float(step) for number, step in fetch(self._conn, _BELTS_SQL)}
        used, fitted = defaultdict[tuple[int, object], float](float), defaultdict[tuple[int, object], float](float)
        days: dict[tuple[int, object], str] = {}
        for _, supply_id, unit_id, on, service, taken in self._fetch(_USES_SQL):
            if supply_id in steps:
                days.setdefault((unit_id, service or on), on)
                used[unit_id, service or on] -= taken * steps[supply_id]
        for unit_id, on, service in self._fetch(_FITTED_SQL):
            days.setdefault((unit_id, service or on), on)
            fitted[unit_id, service or on] += 1
        for key, on in days.items():
            self._row(key[0], on).belts += round(max(used[key], fitted[key]))

    def _fetch(self, sql: str) -> list[tuple[Any, ...]]:
        return fetch(self._conn, sql, day=self._today.isoformat())
