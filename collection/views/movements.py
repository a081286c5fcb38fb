"""The movements of one supply as a person reads them, numbered in the order of entry."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy.engine import Connection

from collection.analysis.ledger import Movement
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.supplies import Supply


@dataclass(frozen=True, slots=True)
class HistoryRow:
    """One movement. number: its place among all movements of the supply, which it keeps for good.

    steps as booked; place and lot "" where they are not told; reversed_by: the number of the row that takes it back.
    """

    number: int
    movement: Movement
    lot: str
    place: str
    entered: str
    entered_in: str
    basis: str
    planned: bool | None
    service: str
    unit: str
    procedure: str
    past_date: bool
    doubt: str
    act_id: int
    reverses: int | None
    reversed_by: int | None


# Numbers count rows of undone acts too, so that no number ever passes to another row.
_SQL = f"""
SELECT m.number, m.id, m.supply_id, m.lot_id, m.location_id, m.kind, m.steps, m.occurred_on, a.at, m.reverses_id,
       m.group_key, m.reason, l.name, p.name, m.entered, m.entered_in, m.basis, m.planned, v.name, u.tag, c.name,
       m.used_past_date,
       (SELECT min(d.rule) FROM doubt d WHERE d.table_name = 'movement' AND d.row_id = m.id), m.act_id
FROM (SELECT n.*, row_number() OVER (ORDER BY n.id) AS number FROM movement n WHERE n.supply_id = :supply) m
JOIN act a ON a.id = m.act_id
LEFT JOIN lot l ON l.id = m.lot_id LEFT JOIN location p ON p.id = m.location_id
LEFT JOIN service v ON v.id = m.service_id LEFT JOIN unit u ON u.id = m.unit_id
LEFT JOIN procedure c ON c.id = m.procedure_id
WHERE {counts("m")} ORDER BY m.id"""


def history_of(conn: Connection, supply: Supply) -> list[HistoryRow]:
    """Return every counting movement of a supply, in the order of entry."""
    rows = fetch(conn, _SQL, supply=supply.id)
    numbers = {row[1]: row[0] for row in rows}
    reversed_by = {row[9]: row[0] for row in rows if row[9] is not None}
    found = []
    for row in rows:
        number, movement, rest = row[0], Movement(*row[1:12]), row[12:]
        lot, place, entered, entered_in, basis, planned, service, tag, procedure, past, doubt, act_id = rest
        found.append(
            HistoryRow(
                number=number,
                movement=movement,
                lot=lot or "",
                place=place or "",
                entered=entered,
                entered_in=entered_in or "",
                basis=basis or "",
                planned=None if planned is None else bool(planned),
                service=service or "",
                unit=tag or "",
                procedure=procedure or "",
                past_date=bool(past),
                doubt=doubt or "",
                act_id=act_id,
                reverses=numbers.get(movement.reverses) if movement.reverses else None,
                reversed_by=reversed_by.get(movement.id),
            )
        )
    return found
