"""What was done to the book: acts with their summaries, and the changes of one record."""

from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.store.engine import fetch
from collection.store.stream import batches

_ACTS = (
    "SELECT a.id, a.at, a.today, p.name, a.command, s.summary, a.reason, a.undoes_id, u.by_id FROM act a"
    " JOIN seal s ON s.act_id = a.id LEFT JOIN person p ON p.id = a.who_id"
    " LEFT JOIN undone u ON u.act_id = a.id"
)


class Act(NamedTuple):
    """One line of the history."""

    act: int
    at: str
    today: str
    by: str | None
    command: str
    summary: str
    reason: str | None
    undoes: int | None
    undone_by: int | None

    def as_row(self) -> dict[str, Any]:
        """The act under the keys of ``history --json``."""
        return dict(zip(self._fields, self, strict=True))


def acts(connection: Connection, last: int | None = None) -> list[Act]:
    """The last acts of the book, newest first; all of them when ``last`` is None."""
    return list(map(Act._make, fetch(connection, _of_the_book(last))))


def columns_of_acts(connection: Connection, last: int | None = None) -> list[list[Any]]:
    """The same by the fields of ``Act``, one value an act in each: half the time and memory of many objects."""
    columns: list[list[Any]] = [[] for _ in Act._fields]
    for rows in batches(connection, _of_the_book(last)):
        for column, values in zip(columns, zip(*rows, strict=True), strict=True):
            column.extend(values)
    return columns


def _of_the_book(last: int | None) -> str:
    limit = "" if last is None else f" LIMIT {int(last)}"
    return f"{_ACTS} ORDER BY a.id DESC{limit}"


def acts_on_unit(connection: Connection, unit_id: int) -> list[Act]:
    """The acts that touched a unit or what refers to it, newest first."""
    sources = [
        "SELECT act_id FROM change WHERE row_id = :unit AND table_name = 'unit' AND kind <> 'append'",
        *(f"SELECT act_id FROM {table} WHERE {column} = :unit" for table, column in APPENDED_OF_UNIT),
        *(
            f"SELECT c.act_id {_CHANGES_OF.format(table=table)} AND t.{column} = :unit"
            for table, column in EDITED_OF_UNIT
        ),
        _LOANS_OF_UNIT,
        f"SELECT r.act_id {_OF_UNIT}",
        f"SELECT a.act_id FROM reading_aside a WHERE a.reading_id IN (SELECT r.id {_OF_UNIT})",
        "SELECT t.act_id FROM task t JOIN service v ON v.id = t.service_id WHERE v.unit_id = :unit",
    ]
    sql = f"{_ACTS} WHERE a.id IN ({' UNION '.join(sources)}) ORDER BY a.id DESC"
    return [Act._make(row) for row in fetch(connection, sql, unit=unit_id)]


def acts_on_person(connection: Connection, person_id: int) -> list[Act]:
    """The acts by a person, on their record, or on what refers to them, newest first."""
    sources = [
        "SELECT id FROM act WHERE who_id = :person",
        "SELECT act_id FROM change WHERE row_id = :person AND table_name = 'person'",
        *(f"SELECT act_id FROM {table} WHERE {column} = :person" for table, column in APPENDED_OF_PERSON),
        *(
            f"SELECT c.act_id {_CHANGES_OF.format(table=table)} AND t.{column} = :person"
            for table, column in EDITED_OF_PERSON
        ),
        _ITEMS_OF_PERSON,
    ]
    sql = f"{_ACTS} WHERE a.id IN ({' UNION '.join(sources)}) ORDER BY a.id DESC"
    return [Act._make(row) for row in fetch(connection, sql, person=person_id)]


def act_of(connection: Connection, number: int) -> Act | None:
    """The act of this number; None where there is none."""
    rows = fetch(connection, f"{_ACTS} WHERE a.id = :number", number=number)
    return Act(*rows[0]) if rows else None


# CROSS JOIN: SQLite then takes the few records first ("The SQLite Query Optimizer Overview" 7.2, sqlite.org), where it
# would else go through the whole journal.
_CHANGES_OF = (
    "FROM {table} t CROSS JOIN change c WHERE c.row_id = t.id AND c.table_name = '{table}' AND c.kind <> 'append'"
)
# Tables with a column that names the unit they tell of, and that column; readings are found through their series.
APPENDED_OF_UNIT = (
    ("unit_entry", "unit_id"),
    ("hour_reading", "unit_id"),
    ("baseline", "unit_id"),
    ("valuation", "unit_id"),
    ("movement", "unit_id"),
    ("adjustment", "unit_id"),
    ("lubrication", "unit_id"),
    ("medium_use", "unit_id"),
    ("condition_check", "unit_id"),
    ("safety_check", "unit_id"),
    ("sighting", "unit_id"),
)
EDITED_OF_UNIT = (
    ("unit_alias", "unit_id"),
    ("fitted_part", "unit_id"),
    ("fitted_part", "donor_id"),
    ("fitted_part", "part_unit_id"),
    ("pairing", "drive_id"),
    ("pairing", "supply_unit_id"),
    ("attachment", "unit_id"),
    ("service", "unit_id"),
    ("fault", "unit_id"),
    ("limit_range", "unit_id"),
    ("instrument", "unit_id"),
    ("loan_item", "unit_id"),
    ("arrival", "unit_id"),
    ("wanted_part", "unit_id"),
    ("medium", "unit_id"),
    ("damage", "unit_id"),
    ("unit_exit", "unit_id"),
    ("reservation", "unit_id"),
)
APPENDED_OF_PERSON = (
    ("unit_entry", "person_id"),
    ("unit_entry", "by_id"),
    ("valuation", "by_id"),
    ("inspection", "by_id"),
    ("condition_check", "by_id"),
    ("safety_check", "by_id"),
    ("shelf_check", "by_id"),
    ("sighting", "by_id"),
)
EDITED_OF_PERSON = (
    ("loan", "person_id"),
    ("loan", "issued_by_id"),
    ("loan_item", "taken_by_id"),
    ("damage", "reported_by_id"),
    ("damage", "by_id"),
    ("unit_exit", "to_id"),
    ("unit_exit", "authority_id"),
    ("reservation", "person_id"),
    ("service", "by_id"),
    ("fault", "by_id"),
    ("arrival", "from_id"),
    ("unit", "acquired_from_id"),
)
_ITEMS_OF_PERSON = (
    f"SELECT c.act_id {_CHANGES_OF.format(table='loan_item')}"
    " AND t.loan_id IN (SELECT l.id FROM loan l WHERE l.person_id = :person)"
)
_LOANS_OF_UNIT = (
    f"SELECT c.act_id {_CHANGES_OF.format(table='loan')}"
    " AND t.id IN (SELECT i.loan_id FROM loan_item i WHERE i.unit_id = :unit)"
)
_OF_UNIT = "FROM reading r JOIN series s ON s.id = r.series_id WHERE s.unit_id = :unit"
