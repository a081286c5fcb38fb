"""The rows of every file, as the book would write them; bringing in compares with exactly these."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from sqlalchemy.engine import Connection

from collection.views.folder import equipment, maintenance, measurement, people, supplies
from collection.views.folder.select import Row, rows_of

_SELECTS = {
    **equipment.SELECTS,
    **measurement.SELECTS,
    **maintenance.SELECTS,
    **supplies.SELECTS,
    **people.SELECTS,
}


def folder_rows(conn: Connection, file: str, day: date, unit_ids: Sequence[int] | None = None) -> Iterator[Row]:
    """Yield [id, key, cell, cell, ...] of what the book holds for a file, cells as text in the form's order.

    day: of which owner, location and standing of a unit are told. unit_ids: of some units only, where a file's rows
    are about one each.
    """
    return rows_of(conn, _SELECTS[file], day, unit_ids)


def known_rows(conn: Connection, file: str, day: date, unit_ids: Sequence[int] | None = None) -> Iterator[Row]:
    """Yield the same, and movements that were taken back besides; of some units only where a file is about units."""
    return rows_of(conn, supplies.WITH_TAKEN_BACK.get(file) or _SELECTS[file], day, unit_ids)
