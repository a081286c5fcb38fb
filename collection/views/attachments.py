"""Photos and papers of units, numbered per unit; the bytes are read only when they are asked for."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.errors import Refused, typed
from collection.store.engine import fetch


class Attachment(NamedTuple):
    """An attachment: its number among those of its unit, which it keeps for good; size in bytes.

    taken_on, service and note are "" where not told.
    """

    id: int
    tag: str
    number: int
    title: str
    media_type: str
    size: int
    taken_on: str
    service: str
    note: str
    sha256: str
    content_id: int


# Numbers count void rows too, so that no number ever passes to another picture.
_SQL = """
SELECT a.id, u.tag, a.number, a.title, a.media_type, c.size, a.taken_on, s.name, a.note, c.sha256, c.id, a.unit_id
FROM (
  SELECT n.*, row_number() OVER (PARTITION BY n.unit_id ORDER BY n.id) AS number FROM attachment n {of_unit}
) a
JOIN attachment_content c ON c.id = a.content_id JOIN unit u ON u.id = a.unit_id
LEFT JOIN service s ON s.id = a.service_id
WHERE a.void = 0 ORDER BY a.id
"""
_OF_UNIT, _OF_ALL = _SQL.format(of_unit="WHERE n.unit_id = :unit"), _SQL.format(of_unit="")


def attachments_of(conn: Connection, unit_id: int) -> list[Attachment]:
    """Return what is attached to a unit, in the order of entry."""
    return [_attachment(row) for *row, _ in fetch(conn, _OF_UNIT, unit=unit_id)]


def attachments_by_unit(conn: Connection) -> dict[int, list[Attachment]]:
    """Return what is attached to each unit that has anything attached, by the unit's id, in the order of entry."""
    found: dict[int, list[Attachment]] = {}
    for *row, unit in fetch(conn, _OF_ALL):
        found.setdefault(unit, []).append(_attachment(row))
    return found


def _attachment(row: Iterable[Any]) -> Attachment:
    return Attachment._make("" if value is None else value for value in row)


def attachment_numbered(conn: Connection, unit_id: int, tag: str, number: int) -> Attachment:
    """Return the attachment of a unit that has this number. Raises Refused, naming those there are."""
    listed = attachments_of(conn, unit_id)
    for each in listed:
        if each.number == number:
            return each
    numbers = ", ".join(str(each.number) for each in listed)
    has = f"it has {numbers}" if numbers else "it has none"
    raise Refused(f"{tag} has no picture {number}; {has}.", f"Type: spindlebook photo list {typed(tag)}")


def content_of(conn: Connection, found: Attachment) -> bytes:
    """Return the bytes of an attachment."""
    sql = "SELECT content FROM attachment_content WHERE id = :id"
    return bytes(fetch(conn, sql, id=found.content_id)[0][0])
