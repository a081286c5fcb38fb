"""Rows of models, locations, units, entries, pairings and parts."""

from __future__ import annotations

from datetime import date

from sqlalchemy.engine import Connection

from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.folder.select import Finish, Row, Select, both, drop_last, money, rename, show_yes

_ENTRY_VALUE = "coalesce(p.name, l.name, t.standing)"
_ENTRIES_FROM = (
    "FROM unit_entry t JOIN unit u ON u.id = t.unit_id AND u.void = 0"
    " LEFT JOIN person p ON p.id = t.person_id LEFT JOIN location l ON l.id = t.location_id"
)
CURRENT_SQL = f"""
SELECT t.unit_id, t.what, {_ENTRY_VALUE}
{_ENTRIES_FROM}
WHERE t.from_date <= :day AND {counts("t")}
ORDER BY t.from_date, t.id
"""
SERVICE_NAMES = "SELECT id, name FROM service WHERE void = 0 ORDER BY id"


def _current(conn: Connection, day: date) -> Finish:
    """Fill in owner, location and standing as of the day."""
    entries = {(unit, what): value for unit, what, value in fetch(conn, CURRENT_SQL, day=day.isoformat())}
    places = [(7, "owner"), (8, "location"), (9, "standing")]

    def finish(row: Row) -> Row:
        for place, what in places:
            row[place] = entries.get((row[0], what)) or ""
        return row

    return finish


SELECTS = {
    "models.csv": Select(
        "SELECT t.id, t.key, t.name, t.maker, t.kind, t.drive_type, t.nominal_speeds, t.speed_adjustable, t.media,"
        " t.supply_inside, t.replacement_minor, t.currency, t.note FROM model t WHERE t.void = 0",
        show=((7, show_yes), (9, show_yes)),
        finish=money(10, 11),
    ),
    "locations.csv": Select(
        "SELECT t.id, t.key, t.name, i.name, t.note FROM location t LEFT JOIN location i ON i.id = t.inside_id"
        " WHERE t.void = 0"
    ),
    "units.csv": Select(
        "SELECT t.id, t.key, t.tag, m.name, m.maker, t.serial, t.serial_state, NULL, NULL, NULL, t.acquired_on,"
        " p.name, t.price_minor, t.currency, t.condition, t.marks, t.jumpers, t.rom, t.modifications, t.accessories,"
        " t.note FROM unit t JOIN model m ON m.id = t.model_id LEFT JOIN person p ON p.id = t.acquired_from_id"
        " WHERE t.void = 0",
        finish=both(_current, money(12, 13)),
    ),
    "entries.csv": Select(
        f"SELECT t.id, t.key, u.tag, t.what, {_ENTRY_VALUE}, t.from_date, t.note {_ENTRIES_FROM}"
        f" WHERE {_ENTRY_VALUE} IS NOT NULL AND {counts('t')}",
        unit="t.unit_id",
    ),
    "pairings.csv": Select(
        "SELECT t.id, t.key, d.tag, s.tag, t.from_date, t.to_date FROM pairing t JOIN unit d ON d.id = t.drive_id"
        " JOIN unit s ON s.id = t.supply_unit_id WHERE t.void = 0 AND d.void = 0 AND s.void = 0",
        unit="t.drive_id",
    ),
    "parts.csv": Select(
        "SELECT t.id, t.key, u.tag, t.part, t.fitted_on, t.removed_on, s.name, l.name, d.tag, v.name, v.id"
        " FROM fitted_part t JOIN unit u ON u.id = t.unit_id LEFT JOIN supply s ON s.id = t.supply_id"
        " LEFT JOIN lot l ON l.id = t.lot_id LEFT JOIN unit d ON d.id = coalesce(t.donor_id, t.part_unit_id)"
        " LEFT JOIN service v ON v.id = t.service_id AND v.void = 0 WHERE t.void = 0 AND u.void = 0",
        unit="t.unit_id",
        finish=both(rename(9, 10, SERVICE_NAMES), drop_last(1)),
    ),
}
