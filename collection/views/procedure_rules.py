"""Every procedure as the due list and the rechecks read it."""

from sqlalchemy.engine import Connection

from collection.analysis.procedures import ProcedureRule, parse_procedure
from collection.store.engine import fetch

PROCEDURES_SQL = """
SELECT id, name, applies_to, every_months, every_hours, triggers, resets, retests, minutes
FROM procedure WHERE void = 0 ORDER BY id
"""


def procedure_rules(conn: Connection) -> list[ProcedureRule]:
    """Return every procedure as the due list reads it, in the order of work."""
    return [
        parse_procedure(
            row[0],
            row[1],
            applies_to=row[2] or "",
            every_months=row[3],
            every_hours=row[4],
            triggers=row[5] or "",
            resets=row[6] or "",
            retests=row[7] or "",
            minutes=row[8],
        )
        for row in fetch(conn, PROCEDURES_SQL)
    ]
