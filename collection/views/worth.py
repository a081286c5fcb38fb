"""What units are worth, by their latest valuation, and what a unit has cost so far."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.ledger import Movement
from collection.analysis.lot_value import movement_values
from collection.analysis.worth import OF_MODEL
from collection.quantity import Money
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.unit_list import Wanted, unit_filter
from collection.views.units import Unit, unit_list, unit_on


class Valued(NamedTuple):
    """A sum that a unit was said to be worth; by and evidence "" where not told.

    valued_on "": the replacement value that its model has, said of no unit on no day.
    """

    unit_id: int
    amount: Money
    basis: str
    valued_on: str
    by: str
    evidence: str


class Worth(NamedTuple):
    """A unit, and what it is worth; None where neither a valuation nor its model says."""

    unit: Unit
    valued: Valued | None


_VALUATIONS = f"""
SELECT v.unit_id, v.amount_minor, v.currency, v.basis, v.valued_on, p.name, v.evidence
FROM valuation v LEFT JOIN person p ON p.id = v.by_id
WHERE {counts("v")} AND v.valued_on <= :day ORDER BY v.valued_on DESC, v.id DESC
"""
_ALL = "9999"


def valuations_of(conn: Connection, unit_id: int) -> list[Valued]:
    """Return every valuation of a unit, the one that counts first."""
    sql = _VALUATIONS.replace("WHERE", "WHERE v.unit_id = :unit AND")
    return [_valued(row) for row in fetch(conn, sql, unit=unit_id, day=_ALL)]


def worth_list(conn: Connection, today: date, wanted: Wanted) -> list[Worth]:
    """Return the wanted units that are not gone, each with its latest valuation, else what its model says.

    Raises Refused for a name that no unit, location or person has.
    """
    latest: dict[int, Valued] = {}
    for row in fetch(conn, _VALUATIONS, day=today.isoformat()):
        latest.setdefault(row[0], _valued(row))
    models = {
        row[0]: Money(*row[1:])
        for row in fetch(
            conn,
            "SELECT id, replacement_minor, currency FROM model"
            " WHERE void = 0 AND replacement_minor IS NOT NULL AND currency IS NOT NULL",
        )
    }
    units = unit_list(conn, today)
    passes = unit_filter(conn, wanted, units)
    return [
        Worth(unit, latest.get(unit.id) or _by_model(unit, models.get(unit.model_id)))
        for unit in units
        if unit.standing != "gone" and passes(unit)
    ]


def _by_model(unit: Unit, amount: Money | None) -> Valued | None:
    return None if amount is None else Valued(unit.id, amount, OF_MODEL, "", "", "")


def _valued(row: Any) -> Valued:
    return Valued(row[0], Money(row[1], row[2]), row[3], row[4], row[5] or "", row[6] or "")


@dataclass(frozen=True, slots=True)
class Cost:
    """What a unit has cost so far.

    paid: the price of the unit itself, None where not known. supplies and parts: sums per currency of what was used
    up and fitted, at what their lots cost; priced and uses: how many of those uses have a price, of how many.
    donated: parts from other units, which have no price. minutes over `timed` of `services` services.
    """

    unit: Unit
    paid: Money | None
    supplies: tuple[Money, ...]
    supplies_priced: tuple[int, int]
    parts: tuple[Money, ...]
    parts_priced: tuple[int, int]
    donated: int
    minutes: int
    timed: int
    services: int

    @property
    def total(self) -> tuple[Money, ...]:
        """The sum of each currency; minutes have no price."""
        return _summed([*([self.paid] if self.paid else []), *self.supplies, *self.parts])


# A use of a supply that the same service also fitted is a part. Only rows that no other row takes back.
_USES = f"""
SELECT m.id, m.supply_id,
       CASE WHEN EXISTS (SELECT 1 FROM fitted_part f WHERE f.void = 0 AND f.unit_id = :unit
                         AND f.supply_id = m.supply_id AND f.service_id = m.service_id) THEN 1 ELSE 0 END
FROM movement m LEFT JOIN service s ON s.id = m.service_id
WHERE m.kind = 'use' AND :unit IN (m.unit_id, s.unit_id) AND {counts("m")}
  AND NOT EXISTS (SELECT 1 FROM movement r WHERE r.reverses_id = m.id AND {counts("r")})
"""
_MOVEMENTS = f"""
SELECT m.id, m.supply_id, m.lot_id, m.location_id, m.kind, m.steps, m.occurred_on, '', m.reverses_id, m.group_key, ''
FROM movement m WHERE m.supply_id = :supply AND {counts("m")} ORDER BY m.id
"""
_PRICES = """
SELECT id, price_minor, currency FROM lot
WHERE supply_id = :supply AND void = 0 AND price_minor IS NOT NULL AND currency IS NOT NULL
"""
_TIMES = """
SELECT count(*), count(minutes), coalesce(sum(minutes), 0) FROM service WHERE unit_id = :unit AND void = 0
"""
_DONATED = """
SELECT count(*) FROM fitted_part
WHERE unit_id = :unit AND void = 0 AND (donor_id IS NOT NULL OR part_unit_id IS NOT NULL)
"""


def cost_of(conn: Connection, unit_id: int, today: date) -> Cost:
    """Return what a unit has cost so far, as the book knows it today."""
    price = fetch(conn, "SELECT price_minor, currency FROM unit WHERE id = :unit", unit=unit_id)[0]
    used = fetch(conn, _USES, unit=unit_id)
    values: dict[int, Money] = {}
    for supply_id in sorted({row[1] for row in used}):
        values |= taken_values(conn, supply_id)
    spent = [[values.get(row[0]) for row in used if bool(row[2]) == fitted] for fitted in (False, True)]
    services, timed, minutes = fetch(conn, _TIMES, unit=unit_id)[0]
    return Cost(
        unit=unit_on(conn, unit_id, today),
        paid=None if price[0] is None else Money(*price),
        supplies=_summed(spent[0]),
        supplies_priced=_priced(spent[0]),
        parts=_summed(spent[1]),
        parts_priced=_priced(spent[1]),
        donated=fetch(conn, _DONATED, unit=unit_id)[0][0],
        minutes=int(minutes),
        timed=timed,
        services=services,
    )


def taken_values(conn: Connection, supply_id: int) -> dict[int, Money]:
    """Return what each movement out of a supply's lots took with it, where the price of the lot is known."""
    rows = [Movement._make(row) for row in fetch(conn, _MOVEMENTS, supply=supply_id)]
    of_currency: defaultdict[str, dict[int, int]] = defaultdict(dict)
    for lot_id, minor, currency in fetch(conn, _PRICES, supply=supply_id):
        of_currency[currency][lot_id] = minor
    return {
        movement: Money(-value, currency)
        for currency, prices in of_currency.items()
        for movement, value in movement_values(rows, prices).items()
    }


def _summed(sums: list[Money | None]) -> tuple[Money, ...]:
    by_currency: defaultdict[str, int] = defaultdict(int)
    for each in sums:
        if each is not None:
            by_currency[each.currency] += each.minor
    return tuple(Money(minor, currency) for currency, minor in sorted(by_currency.items()))


def _priced(sums: list[Money | None]) -> tuple[int, int]:
    return sum(each is not None for each in sums), len(sums)
