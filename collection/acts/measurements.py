"""Adding measurements and changing what they say."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.edit import Edited, Given, edit_record, make_row
from collection.acts.work import Work, open_work
from collection.errors import Refused
from collection.store.engine import fetch
from collection.views.measuring import find_measurement

_USED_SQL = """
SELECT 1 FROM series WHERE measurement_id = :id UNION SELECT 1 FROM limit_range WHERE measurement_id = :id AND void = 0
UNION SELECT 1 FROM instrument_use WHERE measurement_id = :id AND void = 0
  AND (resolution IS NOT NULL OR uncertainty IS NOT NULL)
"""


def add_measurement(engine: Engine, name: str, given: Given, *, today: date, now: datetime) -> str:
    """Add a measurement; returns its name. Raises Refused for a name that is given and for what is no unit."""
    with open_work(engine, "measurement add", today=today, now=now) as work:
        spelt = " ".join(name.split())
        make_row(work, "measurement", {"measurement": name, **given}, "A measurement")
        work.commit(f"added the measurement {spelt}")
    return spelt


def edit_measurement(
    engine: Engine, name: str, given: Given, *, reason: str = "", today: date, now: datetime
) -> Edited:
    """Change what a measurement says; its unit stays once readings, limits or figures of instruments are in it.

    Raises Refused as `edit_record` does.
    """

    def find(conn: Connection) -> tuple[int, str]:
        measurement = find_measurement(conn, name)
        return measurement.id, measurement.name

    return edit_record(
        engine, "measurement edit", "measurement", find, given, reason=reason, check=_keep_unit, today=today, now=now
    )


def _keep_unit(work: Work, row_id: int, edited: Edited) -> None:
    if "measured_in" in edited.names and fetch(work.conn, _USED_SQL, id=row_id):
        raise Refused(
            f'"{edited.name}" has readings or limits, or figures of an instrument: what it is measured in stays.',
            "Add another measurement for the other unit.",
        )
