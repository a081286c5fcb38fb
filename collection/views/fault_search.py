"""Faults like one that is described: what they came from and what cured them."""

from __future__ import annotations

from typing import Any

from sqlalchemy.engine import Connection

from collection.analysis.symptoms import Alike, Known, alike
from collection.errors import Refused, fold
from collection.store.engine import fetch
from collection.views.models import find_model

_SQL = """
SELECT u.tag, m.maker, m.name, m.kind, f.noticed_on, f.symptom, f.circumstances, f.cause, f.cure, f.no_fault_found,
       f.closed_on
FROM fault f JOIN unit u ON u.id = f.unit_id JOIN model m ON m.id = u.model_id
WHERE f.void = 0 ORDER BY f.noticed_on, f.id
"""


def faults_like(conn: Connection, words: str, model: str = "") -> list[Alike]:
    """Return the faults whose symptom has more than half of the words, the nearest first.

    With a model those of its kind alone, its own first. Raises Refused for no words and for an unknown model.
    """
    if not fold(words):
        raise Refused("What the fault shows itself by is not said.", 'Type: spindlebook fault find "read errors"')
    sought = find_model(conn, model) if model else None
    return alike(words, known_faults(conn), sought and (sought.kind, fold(sought.full_name)))


def known_faults(conn: Connection) -> list[Known]:
    """Return every fault of the book with its model, the oldest first."""
    return [_known(["" if value is None else value for value in row]) for row in fetch(conn, _SQL)]


def _known(row: list[Any]) -> Known:
    row[9] = bool(row[9])
    return Known(*row)
