"""Where each mechanism has been, and so which readings are the history of what is in a unit now."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy.engine import Connection

from collection.analysis.mechanisms import GOES_ALONG, Fitting, Mechanisms, Span, mechanisms_of
from collection.quantity import show_day
from collection.store.engine import fetch

_FITTINGS_SQL = """
SELECT f.id, f.unit_id, f.fitted_on, coalesce(f.removed_on, ''), coalesce(f.donor_id, 0), coalesce(f.part_unit_id, 0)
FROM fitted_part f WHERE f.void = 0 AND lower(trim(f.part)) = 'mechanism'
"""
_OWN_UNITS_SQL = """
SELECT u.id FROM unit u JOIN model m ON m.id = u.model_id WHERE lower(m.kind) = 'mechanism' AND u.id IN ({ids})
"""
_ABOUT_SQL = """
SELECT f.fitted_on, s.name, l.name FROM fitted_part f LEFT JOIN supply s ON s.id = f.supply_id
LEFT JOIN lot l ON l.id = f.lot_id WHERE f.id = :id
"""


def mechanisms(conn: Connection) -> Mechanisms:
    """Return every mechanism that ever moved; one statement finds that none did."""
    fittings = [Fitting._make(row) for row in fetch(conn, _FITTINGS_SQL)]
    came_from = {id_ for each in fittings for id_ in (each.donor, each.itself) if id_}
    own_units = fetch(conn, _OWN_UNITS_SQL.format(ids=listed(came_from))) if came_from else []
    return mechanisms_of(fittings, {row[0] for row in own_units})


def spans_of(conn: Connection, unit_id: int) -> tuple[Span, ...]:
    """Return the spans whose readings of the mechanism are the history of what is in a unit now.

    One open span of the unit itself where nothing was swapped; none where its mechanism was taken out.
    """
    return mechanisms(conn).history_of(unit_id)


def goes_along(conn: Connection) -> frozenset[int]:
    """Return the measurements that a mechanism takes along."""
    keys = ", ".join(f"'{key}'" for key in GOES_ALONG)
    return frozenset(row[0] for row in fetch(conn, f"SELECT id FROM measurement WHERE seed_key IN ({keys})"))


def name_of(conn: Connection, mechanism: int, form: str) -> str:
    """Return how a mechanism is called: "mechanism of D7", "mechanism M3", "mechanism of lot L-2 (fitted ...)"."""
    if mechanism > 0:
        sql = "SELECT u.tag, m.kind FROM unit u JOIN model m ON m.id = u.model_id WHERE u.id = :id"
        tag, kind = fetch(conn, sql, id=mechanism)[0]
        return f"mechanism {tag}" if kind.lower() == "mechanism" else f"mechanism of {tag}"
    fitted_on, supply, lot = fetch(conn, _ABOUT_SQL, id=-mechanism)[0]
    source = " ".join(filter(None, (supply, lot and f"lot {lot}"))) or "not known whence"
    return f"mechanism fitted {show_day(fitted_on, form)} ({source})"


def listed(ids: Iterable[int]) -> str:
    """Return ids as they stand between the brackets of IN."""
    return ", ".join(str(int(each)) for each in sorted(ids)) or "NULL"
