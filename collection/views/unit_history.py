"""The whole history of a unit: what it is, what was read and done on it, its parts, faults, loans and worth."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from sqlalchemy.engine import Connection

from collection.quantity import show_amount
from collection.store.engine import fetch
from collection.views.card import Card, card_of
from collection.views.condition_checks import ConditionCheck, condition_checks
from collection.views.counts import counts
from collection.views.due import Rechecks
from collection.views.loans import LoanRow, loans_of
from collection.views.mechanism_readings import readings_with_mechanism
from collection.views.parts import PartRow, parts_of
from collection.views.reading_list import ReadingRow
from collection.views.safety import SafetyCheck, safety_checks
from collection.views.service_readings import BeforeAfter, before_and_after
from collection.views.units import Unit
from collection.views.worth import Valued, valuations_of

_SERVICES_SQL = """
SELECT s.id, s.opened_on, s.closed_on, s.outcome, s.minutes, s.reason, s.findings, p.name
FROM service s LEFT JOIN person p ON p.id = s.by_id
WHERE s.unit_id = :unit AND s.void = 0 ORDER BY s.opened_on DESC, s.id DESC
"""
_TASKS_SQL = f"""
SELECT t.service_id, p.name FROM task t JOIN service s ON s.id = t.service_id
JOIN procedure p ON p.id = t.procedure_id WHERE s.unit_id = :unit AND {counts("t")} ORDER BY t.id
"""
_USED_SQL = f"""
SELECT m.service_id, s.name, l.name, -sum(m.steps), s.smallest_step, s.measured_in
FROM movement m JOIN supply s ON s.id = m.supply_id JOIN service v ON v.id = m.service_id
LEFT JOIN lot l ON l.id = m.lot_id
WHERE v.unit_id = :unit AND m.kind = 'use' AND {counts("m")}
  AND NOT EXISTS (SELECT 1 FROM movement r WHERE r.reverses_id = m.id AND {counts("r")})
GROUP BY m.service_id, s.id, s.name, l.id, l.name, s.smallest_step, s.measured_in ORDER BY m.service_id, min(m.id)
"""


@dataclass(frozen=True, slots=True)
class ServiceDone:
    """A service; closed_on and outcome are "" while it is open. Texts are "" where nothing was told.

    readings: before and after. used: what it took, as "5 pieces of foam swab, lot S-1".
    """

    opened_on: str
    closed_on: str
    outcome: str
    minutes: int | None
    reason: str
    findings: str
    by: str
    procedures: tuple[str, ...]
    readings: tuple[BeforeAfter, ...]
    used: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class UnitHistory:
    """The card of a unit with all that came before: what was done and found the last first, readings by day.

    readings: those that its mechanism brought along are among them. people: the names of all that the book knows.
    """

    card: Card
    services: tuple[ServiceDone, ...]
    readings: tuple[ReadingRow, ...]
    parts: tuple[PartRow, ...]
    loans: tuple[LoanRow, ...]
    valuations: tuple[Valued, ...]
    checks: tuple[ConditionCheck, ...]
    safety: tuple[SafetyCheck, ...]
    people: tuple[str, ...]


def unit_history(conn: Connection, tag: str, today: date, rechecks: Rechecks | None = None) -> UnitHistory:
    """Return the history of the unit with this tag or alias. Raises Refused, naming the nearest tags.

    rechecks: by unit, of `views.recheck`; without them none is due.
    """
    card = card_of(conn, tag, today, rechecks)
    unit = card.unit
    readings = sorted(readings_with_mechanism(conn, unit, today), key=lambda row: (row.taken_on, row.id))
    return UnitHistory(
        card=card,
        services=tuple(_services(conn, unit)),
        readings=tuple(readings),
        parts=tuple(parts_of(conn, unit)),
        loans=tuple(reversed(loans_of(conn, unit.id))),
        valuations=tuple(valuations_of(conn, unit.id)),
        checks=tuple(reversed(condition_checks(conn, unit.id))),
        safety=tuple(safety_checks(conn, unit.id)),
        people=tuple(row[0] for row in fetch(conn, "SELECT name FROM person WHERE void = 0 ORDER BY id")),
    )


def _services(conn: Connection, unit: Unit) -> list[ServiceDone]:
    done, used = defaultdict[int, list[str]](list), defaultdict[int, list[str]](list)
    for service, name in fetch(conn, _TASKS_SQL, unit=unit.id):
        done[service].append(name)
    for service, supply, lot, steps, step, measured_in in fetch(conn, _USED_SQL, unit=unit.id):
        amount = show_amount(int(steps), Decimal(step), measured_in)
        used[service].append(f"{amount} of {supply}" + (f", lot {lot}" if lot else ""))
    rows = []
    for row in fetch(conn, _SERVICES_SQL, unit=unit.id):
        key, opened, closed, outcome, minutes, reason, findings, by = row
        rows.append(
            ServiceDone(
                opened_on=opened,
                closed_on=closed or "",
                outcome=outcome or "",
                minutes=minutes,
                reason=reason or "",
                findings=findings or "",
                by=by or "",
                procedures=tuple(dict.fromkeys(done[key])),
                readings=tuple(before_and_after(conn, unit, key)),
                used=tuple(used[key]),
            )
        )
    return rows
