"""Rows of procedures, amounts, services, hour readings and faults."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from sqlalchemy.engine import Connection

from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.folder.equipment import SERVICE_NAMES
from collection.views.folder.select import Finish, Row, Select, both, drop_last, rename, show_real, show_yes

NO_FAULT_FOUND = "no fault found"


def _procedures_done(conn: Connection, _day: date) -> Finish:
    """Fill in the procedures of each service, in the order they were entered."""
    sql = (
        "SELECT t.service_id, p.name FROM task t JOIN procedure p ON p.id = t.procedure_id"
        f" WHERE {counts('t')} ORDER BY t.id"
    )
    done: defaultdict[int, list[str]] = defaultdict(list)
    for service, procedure in fetch(conn, sql):
        done[service].append(procedure)

    def finish(row: Row) -> Row:
        row[6] = "; ".join(done.get(row[0], ()))
        return row

    return finish


SELECTS = {
    "procedures.csv": Select(
        "SELECT t.id, t.key, t.name, t.revision, t.applies_to, t.every_months, t.every_hours, t.triggers, t.minutes,"
        " t.resets, t.retests, t.cautions, t.steps, t.source FROM procedure t WHERE t.void = 0",
        show=((3, str), (5, str), (6, show_real), (8, str)),
    ),
    "amounts.csv": Select(
        "SELECT t.id, t.key, p.name, s.name, t.entered, t.entered_in, t.chance FROM amount t"
        " JOIN procedure p ON p.id = t.procedure_id JOIN supply s ON s.id = t.supply_id"
        " WHERE t.void = 0 AND p.void = 0 AND s.void = 0",
        show=((6, show_real),),
    ),
    "services.csv": Select(
        "SELECT t.id, t.key, t.name, u.tag, t.opened_on, t.closed_on, NULL, t.reason, t.outcome, t.minutes, p.name,"
        " t.findings FROM service t JOIN unit u ON u.id = t.unit_id LEFT JOIN person p ON p.id = t.by_id"
        " WHERE t.void = 0 AND u.void = 0",
        unit="t.unit_id",
        show=((9, str),),
        finish=both(_procedures_done, rename(2, 0, SERVICE_NAMES)),
    ),
    "hours.csv": Select(
        "SELECT t.id, t.key, u.tag, t.read_on, t.hours, t.reset FROM hour_reading t"
        f" JOIN unit u ON u.id = t.unit_id AND u.void = 0 WHERE {counts('t')}",
        unit="t.unit_id",
        show=((4, show_real), (5, show_yes)),
    ),
    "faults.csv": Select(
        "SELECT t.id, t.key, u.tag, t.noticed_on, t.symptom,"
        f" CASE WHEN t.no_fault_found = 1 THEN '{NO_FAULT_FOUND}' ELSE t.cause END, t.cure, t.closed_on, v.name,"
        " p.name, t.service_id FROM fault t JOIN unit u ON u.id = t.unit_id"
        " LEFT JOIN service v ON v.id = t.service_id AND v.void = 0 LEFT JOIN person p ON p.id = t.by_id"
        " WHERE t.void = 0 AND u.void = 0",
        unit="t.unit_id",
        finish=both(rename(8, 10, SERVICE_NAMES), drop_last(1)),
    ),
}
