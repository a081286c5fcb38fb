"""A clock that was set back: an act with a day long past would make wrong days due and stand wrongly in the history."""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy.engine import Connection, Engine

from collection.errors import Refused
from collection.store.engine import fetch

_BY_CLOCK = "spindlebook_by_clock"
MARGIN = timedelta(days=1)  # computers that write to one book may differ by a zone that is set wrong


def by_clock(engine: Engine) -> Engine:
    """Return the engine on which the instant of every act is what a clock says, and not what a person typed."""
    return engine.execution_options(**{_BY_CLOCK: True})


def refuse_set_back(conn: Connection, now: datetime) -> None:
    """Refuse to write when the clock says a time more than a day before the last act of the book.

    An act for which a person typed the day is believed; whatever the clock says after it is measured against that.
    """
    if not conn.get_execution_options().get(_BY_CLOCK):
        return
    rows = fetch(conn, "SELECT at FROM act ORDER BY id DESC LIMIT 1")
    last = datetime.fromisoformat(rows[0][0]) if rows else now
    if now < last - MARGIN:
        raise Refused(
            f"The clock of this computer says {now:%Y-%m-%d %H:%M} UTC, but the last act of the book is of"
            f" {last:%Y-%m-%d %H:%M}; nothing was written.",
            f"Set the clock right; where it is right, say so once: spindlebook --today {now:%Y-%m-%d} ...",
        )
