"""What is kept: SQLAlchemy Core tables, one file per subject.

Every table has an integer primary key that is never shown and a UUID key that survives export, move and merge.
*Editable* tables also carry a version, raised by every change, and ``void``, set while the act that made the row is
undone. *Append-only* tables are never updated or deleted from: a row counts while its act is not listed in ``undone``.
"""

from sqlalchemy import Table

from collection.schema import custody, equipment, journal, maintenance, measurement, people, supplies
from collection.schema.columns import METADATA

_SUBJECTS = {
    "equipment": equipment.TABLES,
    "measurement": measurement.TABLES,
    "maintenance": maintenance.TABLES,
    "supplies": supplies.TABLES,
    "people": people.TABLES,
    "custody": custody.TABLES,
    "journal": journal.TABLES,
}

SUBJECT_OF: dict[str, str] = {table.name: name for name, tables in _SUBJECTS.items() for table in tables}
TABLES: dict[str, Table] = {table.name: table for tables in _SUBJECTS.values() for table in tables}
EDITABLE: frozenset[str] = frozenset(name for name, table in TABLES.items() if "void" in table.c)
APPEND_ONLY: frozenset[str] = frozenset(name for name, table in TABLES.items() if table.info.get("append_only"))

__all__ = ["APPEND_ONLY", "EDITABLE", "METADATA", "SUBJECT_OF", "TABLES"]
