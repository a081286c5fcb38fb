"""What a year took and cost: supplies used and thrown away, what came into the drawer, units that were bought."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from sqlalchemy.engine import Connection

from collection.quantity import Money, show_amount
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.worth import taken_values

_TAKEN_SQL = f"""
SELECT m.id, m.supply_id, s.name, m.kind, m.steps, s.smallest_step, s.measured_in
FROM movement m JOIN supply s ON s.id = m.supply_id
WHERE m.kind IN ('use', 'discard') AND substr(m.occurred_on, 1, 4) = :year AND m.occurred_on <= :last
  AND {counts("m")} AND NOT EXISTS (SELECT 1 FROM movement r WHERE r.reverses_id = m.id AND {counts("r")})
ORDER BY m.id
"""
_LOTS_SQL = """
SELECT price_minor, currency FROM lot WHERE void = 0 AND substr(received_on, 1, 4) = :year AND received_on <= :last
"""
_UNITS_SQL = """
SELECT price_minor, currency FROM unit WHERE void = 0 AND substr(acquired_on, 1, 4) = :year AND acquired_on <= :last
"""


@dataclass(frozen=True, slots=True)
class Taken:
    """What a year took of a supply: amounts used ("" for none) in so many uses, and thrown away ("" for none).

    value: what the lots of both cost, one sum a currency; unpriced: of so many uses the price is not known.
    """

    supply: str
    used: str
    uses: int
    discarded: str
    value: tuple[Money, ...]
    unpriced: int


@dataclass(frozen=True, slots=True)
class Bought:
    """What was paid: one sum a currency, over `priced` of `number` things."""

    sums: tuple[Money, ...]
    priced: int
    number: int


def taken_of(conn: Connection, year: str, last: str) -> list[Taken]:
    """Return what a year took of each supply, the dearest first, then by name."""
    rows: defaultdict[int, list[tuple[int, str, int]]] = defaultdict(list)
    about: dict[int, tuple[str, Decimal, str]] = {}
    for movement, supply, name, kind, steps, step, measured_in in fetch(conn, _TAKEN_SQL, year=year, last=last):
        rows[supply].append((movement, kind, -steps))
        about[supply] = name, Decimal(step), measured_in
    found = [_taken(conn, supply, *about[supply], rows[supply]) for supply in rows]
    return sorted(found, key=lambda each: (-max((sum_.minor for sum_ in each.value), default=0), each.supply))


def _taken(
    conn: Connection, supply: int, name: str, step: Decimal, measured_in: str, rows: list[tuple[int, str, int]]
) -> Taken:
    values = taken_values(conn, supply)
    used = [steps for _, kind, steps in rows if kind == "use"]
    thrown = sum(steps for _, kind, steps in rows if kind == "discard")
    priced = [values.get(movement) for movement, _, _ in rows]
    return Taken(
        supply=name,
        used=show_amount(sum(used), step, measured_in) if used else "",
        uses=len(used),
        discarded=show_amount(thrown, step, measured_in) if thrown else "",
        value=summed(each for each in priced if each is not None),
        unpriced=sum(each is None for each in priced),
    )


def supplies_bought(conn: Connection, year: str, last: str) -> Bought:
    """Return what the lots cost that came in a year, shipping not counted."""
    return _bought(fetch(conn, _LOTS_SQL, year=year, last=last))


def units_bought(conn: Connection, year: str, last: str) -> Bought:
    """Return what was paid for the units that were acquired in a year."""
    return _bought(fetch(conn, _UNITS_SQL, year=year, last=last))


def _bought(rows: list[tuple[int | None, str | None]]) -> Bought:
    known = [Money(minor, currency) for minor, currency in rows if minor is not None and currency]
    return Bought(summed(known), len(known), len(rows))


def summed(sums: Iterable[Money]) -> tuple[Money, ...]:
    """Return one sum a currency."""
    by_currency: defaultdict[str, int] = defaultdict(int)
    for each in sums:
        by_currency[each.currency] += each.minor
    return tuple(Money(minor, currency) for currency, minor in sorted(by_currency.items()))
