"""What procedures really take of supplies, against their sheets."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from sqlalchemy.engine import Connection

from collection.analysis.consumption import Taken, taken
from collection.analysis.use_amounts import EVENT
from collection.analysis.use_rates import YEAR
from collection.analysis.uses import SupplyLearnt, SupplyLedger, SupplyUses, learn, read_uses
from collection.store.engine import fetch
from collection.views.supplies import Supply, find_supply, supply_list
from collection.views.uses import by_clock, ledgers, services_done

_PROCEDURES_SQL = "SELECT id, name FROM procedure WHERE void = 0 ORDER BY id"


@dataclass(frozen=True, slots=True)
class ProcedureUse:
    """What one procedure takes of one supply; procedure "" stands for uses that nobody planned.

    sheet: steps, None without an amount; chance: how often the sheet expects any. taken: what uses really took. spread:
    standard deviation of one use in steps, None where fewer than two tell. weighed: uses that somebody weighed, counted
    or said; from_counts: uses by the sheet whose amount a count told; by_sheet: all uses by the sheet. services,
    took_any: of a supply that is taken sometimes. a_year: uses nobody planned in a year of the fleet as it is now, None
    without a basis and for procedures.
    """

    supply: Supply
    procedure: str
    sheet: int | None
    chance: float
    taken: Taken | None
    spread: float | None
    weighed: int
    from_counts: float
    by_sheet: int
    services: int
    took_any: int
    a_year: float | None


def consumption(conn: Connection, today: date, name: str | None = None) -> list[ProcedureUse]:
    """Return what every procedure really takes of every counted supply, or of one; what nobody planned comes last.

    A procedure that was never done since uses are written down has no row. Raises Refused for an unknown supply.
    """
    only = None if name is None else find_supply(conn, name).id
    given, services, foreseen = ledgers(conn, today), services_done(conn, today), by_clock(conn)
    learnt = learn(given, services, foreseen, today)
    names = dict(fetch(conn, _PROCEDURES_SQL))
    rows = list[ProcedureUse]()
    for supply in supply_list(conn):
        if supply.id in given and only in (None, supply.id):
            uses = read_uses(given[supply.id], services, foreseen, today)
            rows += _of_procedures(supply, given[supply.id], uses, learnt[supply.id], names)
            rows += _of_events(supply, uses, learnt[supply.id])
    return rows


def _of_procedures(
    supply: Supply, ledger: SupplyLedger, uses: SupplyUses, learnt: SupplyLearnt, names: dict[int, str]
) -> Iterator[ProcedureUse]:
    for key in (number for number in names if number in ledger.sheets):
        told = [each.teaches for each in uses.found.values() if key in each.sheets and not each.doubtful]
        services, took_any = uses.times.get(key, (0, 0))
        if not told and not services:
            continue
        line, found = ledger.sheets[key], taken(learnt.amounts[key])
        yield ProcedureUse(
            supply=supply,
            procedure=names[key],
            sheet=line.steps or None,
            chance=line.chance,
            taken=found,
            spread=_spread(uses, key, found),
            weighed=sum(told),
            from_counts=_from_counts(uses, key),
            by_sheet=len(told) - sum(told),
            services=services,
            took_any=took_any,
            a_year=None,
        )


def _of_events(supply: Supply, uses: SupplyUses, learnt: SupplyLearnt) -> Iterator[ProcedureUse]:
    """Yield the row of the uses that nobody planned, if there are any."""
    if not uses.events:
        return
    told = [each.teaches for each in uses.found.values() if not each.planned and not each.doubtful]
    found = taken(learnt.amounts[EVENT]._replace(sheet=None))
    yield ProcedureUse(
        supply=supply,
        procedure="",
        sheet=None,
        chance=1.0,
        taken=found,
        spread=_spread(uses, EVENT, found),
        weighed=sum(told),
        from_counts=_from_counts(uses, EVENT),
        by_sheet=len(told) - sum(told),
        services=0,
        took_any=0,
        a_year=_a_year(learnt),
    )


def _spread(uses: SupplyUses, key: int | None, found: Taken | None) -> float | None:
    spread = uses.spreads.get(key)
    return spread.of_mean * found.mean if spread and found and spread.of_mean is not None else None


def _from_counts(uses: SupplyUses, key: int | None) -> float:
    return sum(each.uses for each in uses.seen.get(key, ()) if each.counted)


def _a_year(learnt: SupplyLearnt) -> float | None:
    given = learnt.unplanned
    if given is None or not given.has_basis:
        return None
    return (given.events + given.shape) / (given.exposure + given.rate) * given.a_month * YEAR
