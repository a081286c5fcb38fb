"""The readings of a unit together with those its mechanism brought along from other units."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from sqlalchemy.engine import Connection

from collection.store.engine import fetch
from collection.views.mechanisms import goes_along, listed, mechanisms, name_of
from collection.views.reading_list import ReadingRow, readings_of
from collection.views.units import Unit, unit_on


def readings_with_mechanism(conn: Connection, unit: Unit, today: date) -> list[ReadingRow]:
    """Return every reading of a unit, and those taken of its present mechanism while that sat in other units.

    Where a mechanism moved, each row of a measurement that goes along tells whose mechanism was read. A row from
    elsewhere keeps the tag and the number it has there.
    """
    moved = mechanisms(conn)
    own = readings_of(conn, unit)
    if unit.id not in moved.touched:
        return own
    along = {row[0] for row in fetch(conn, f"SELECT name FROM measurement WHERE id IN ({listed(goes_along(conn))})")}
    names: dict[int, str] = {}

    def labelled(row: ReadingRow, unit_id: int) -> ReadingRow:
        mechanism = moved.at(unit_id, row.taken_on, row.stage) if row.measurement in along else None
        if mechanism is None:
            return row
        if mechanism not in names:
            names[mechanism] = name_of(conn, mechanism)
        return replace(row, mechanism=names[mechanism])

    rows = [labelled(row, unit.id) for row in own]
    elsewhere = [span for span in moved.history_of(unit.id) if span.unit_id != unit.id]
    for unit_id in dict.fromkeys(span.unit_id for span in elsewhere):
        spans = [span for span in elsewhere if span.unit_id == unit_id]
        rows += [
            labelled(row, unit_id)
            for row in readings_of(conn, unit_on(conn, unit_id, today))
            if row.measurement in along and any(span.holds(row.taken_on, row.stage) for span in spans)
        ]
    return rows
