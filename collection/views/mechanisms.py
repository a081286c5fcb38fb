"""Where each mechanism has been, and so which readings are the history of what is in a unit now."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.mechanisms import GOES_ALONG, MECHANISM, Fitting, Mechanisms, Span, mechanisms_of
from collection.store.engine import fetch

# The length goes first: most parts are belts, and every list of due work asks.
_FITTINGS_SQL = """
SELECT f.id, f.unit_id, f.fitted_on, coalesce(f.removed_on, ''), coalesce(f.donor_id, 0), coalesce(f.part_unit_id, 0)
FROM fitted_part f WHERE length(f.part) = 9 AND lower(f.part) = 'mechanism' AND f.void = 0
"""
_OWN_UNITS_SQL = """
SELECT u.id FROM unit u JOIN model m ON m.id = u.model_id WHERE lower(m.kind) = 'mechanism' AND u.id IN ({ids})
"""
_ABOUT_SQL = """
SELECT s.name, l.name FROM fitted_part f LEFT JOIN supply s ON s.id = f.supply_id
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


class Sits(NamedTuple):
    """The mechanism in a unit that gave or got one; name and since are "" where none is in it.

    since: the day it was fitted, "" where it never left. read_in: the tags of the other units that its history comes
    from, the earliest first. gone_to, gone_on: where and when the unit's own went; "" where it lies loose.
    """

    name: str
    since: str
    read_in: tuple[str, ...]
    gone_to: str
    gone_on: str


def mechanism_in(conn: Connection, unit_id: int) -> Sits | None:
    """Return the mechanism that is in a unit, None where no mechanism of the unit ever moved."""
    moved = mechanisms(conn)
    if unit_id not in moved.touched:
        return None
    now, home = moved.now_in(unit_id), moved.home_of(unit_id)
    others = dict.fromkeys(span.unit_id for span in moved.history_of(unit_id) if span.unit_id != unit_id)
    out = home != unit_id and [span for span in moved.spans[unit_id] if span.unit_id == unit_id]
    return Sits(
        "" if now is None else name_of(conn, now),
        "" if now is None else moved.fitted_on(unit_id),
        tuple(_tag_of(conn, each) for each in others),
        _tag_of(conn, home) if home not in (None, unit_id) else "",
        out[-1].until if out else "",
    )


def name_of(conn: Connection, mechanism: int) -> str:
    """Return how a mechanism is called: "mechanism of D7", "mechanism M3", "mechanism from spare DM 8, lot L-2"."""
    if mechanism > 0:
        sql = "SELECT u.tag, m.kind FROM unit u JOIN model m ON m.id = u.model_id WHERE u.id = :id"
        tag, kind = fetch(conn, sql, id=mechanism)[0]
        return f"mechanism {tag}" if kind.lower() == MECHANISM else f"mechanism of {tag}"
    supply, lot = fetch(conn, _ABOUT_SQL, id=-mechanism)[0]
    source = ", ".join(filter(None, (supply, lot and f"lot {lot}")))
    return f"mechanism from {source}" if source else "mechanism, not known whence"


def _tag_of(conn: Connection, unit_id: int | None) -> str:
    return str(fetch(conn, "SELECT tag FROM unit WHERE id = :id", id=unit_id)[0][0])


def listed(ids: Iterable[int]) -> str:
    """Return ids as they stand between the brackets of IN."""
    return ", ".join(str(int(each)) for each in sorted(ids)) or "NULL"
