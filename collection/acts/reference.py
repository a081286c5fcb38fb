"""Reference data: shipped rows with their sources, brought in at the start and refreshed by an upgrade.

A row carries its seed key and revision. A later revision replaces only rows that nobody has changed: what a user
edited stays as the user left it.
"""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from collection.acts.work import Work
from collection.errors import fold
from collection.quantity import parse_number, to_steps
from collection.schema import TABLES
from collection.store.engine import fetch
from collection.store.seed import reference_rows

OWN_COMMANDS = ("start", "demo", "upgrade")
_Row = dict[str, str]


def bring_in_reference(work: Work) -> int:
    """Write new reference rows and refresh untouched older ones; returns how many rows were written.

    Left out is a row whose name a user has given to one of their own, and one about something that is not in the book.
    """
    written = 0
    for name, table, values_of in _KINDS:
        present = _present(work, table)
        for row in reference_rows(name):
            row_id, present_revision = present.get(row["seed_key"], (0, 0))
            revision = int(row["seed_revision"])
            if present_revision >= revision or (row_id and _touched(work, table, row_id)):
                continue
            values = values_of(work, row)
            if values is None or _is_given(work, table, values, row_id):
                continue
            values |= {"seed_key": row["seed_key"], "seed_revision": revision}
            if row_id:
                work.update(table, row_id, **values)
            else:
                work.insert(table, **values)
            written += 1
    return written


def _is_given(work: Work, table: str, values: dict[str, Any], row_id: int) -> bool:
    """Whether a user has a row of that name already; it stays, and the shipped one stays away."""
    for index in TABLES[table].indexes:
        names = [column.name for column in index.columns]
        if index.unique and set(names) <= set(values):
            same = " AND ".join(f"{name} = :{name}" for name in names)
            sql = f"SELECT id FROM {table} WHERE void = 0 AND id <> :row_id AND {same}"
            if fetch(work.conn, sql, row_id=row_id, **{name: values[name] for name in names}):
                return True
    return False


def _present(work: Work, table: str) -> dict[str, tuple[int, int]]:
    sql = f"SELECT seed_key, id, seed_revision FROM {table} WHERE seed_key IS NOT NULL"
    return {row[0]: (row[1], row[2]) for row in fetch(work.conn, sql)}


def _touched(work: Work, table: str, row_id: int) -> bool:
    """Whether anybody but the program itself has changed a row."""
    sql = (
        "SELECT a.command FROM change c JOIN act a ON a.id = c.act_id"
        " WHERE c.table_name = :table AND c.row_id = :id AND c.kind <> 'append'"
    )
    return any(command not in OWN_COMMANDS for (command,) in fetch(work.conn, sql, table=table, id=row_id))


def _measurement(_work: Work, row: _Row) -> dict[str, Any]:
    return {
        **_named(row["measurement"]),
        "measured_in": row["measured_in"],
        "ratio": int(row["ratio"] == "yes"),
        **_texts(row, "points", "source", "note"),
    }


def _limit(work: Work, row: _Row) -> dict[str, Any] | None:
    measurement_id = _id_of(work, "measurement", "measurements", row["measurement"])
    if measurement_id is None:
        return None
    return {
        "class_name": row["class"],
        "measurement_id": measurement_id,
        "point": row["point"],
        **{name: _real(row[name]) for name in ("nominal", "lower", "upper")},
        **_texts(row, "source", "from_date"),
    }


def _procedure(_work: Work, row: _Row) -> dict[str, Any]:
    texts = ("applies_to", "triggers", "resets", "retests", "lubricates", "cautions", "steps", "source")
    return {
        **_named(row["procedure"]),
        "revision": _whole(row["revision"]) or 1,
        "every_months": _whole(row["every_months"]),
        "every_hours": _real(row["every_hours"]),
        "minutes": _whole(row["minutes"]),
        **_texts(row, *texts),
    }


def _supply(_work: Work, row: _Row) -> dict[str, Any]:
    texts = ("density", "polymer", "thickener", "strength", "size", "fits", "note", "source")
    return {
        **_named(row["supply"]),
        **{name: row[name] for name in ("kind", "measured_in", "smallest_step", "tracked")},
        "shelf_life_months": _whole(row["shelf_life_months"]),
        "open_life_months": _whole(row["open_life_months"]),
        "wanted_chance": _real(row["wanted_chance"]),
        **_texts(row, *texts),
    }


def _amount(work: Work, row: _Row) -> dict[str, Any] | None:
    supply_id = _id_of(work, "supply", "supplies", row["supply"])
    procedure_id = _id_of(work, "procedure", "procedures", row["procedure"])
    if supply_id is None or procedure_id is None:
        return None
    sql = "SELECT measured_in, smallest_step, density FROM supply WHERE id = :id"
    measured_in, step, density = fetch(work.conn, sql, id=supply_id)[0]
    number, unit = parse_number(row["quantity"]), row["measured_in"] or measured_in
    return {
        "procedure_id": procedure_id,
        "supply_id": supply_id,
        "steps": to_steps(number, unit, measured_in, Decimal(step), Decimal(density) if density else None),
        "entered": row["quantity"],
        "entered_in": unit,
        "chance": _real(row["chance"]),
        **_texts(row, "source"),
    }


def _shelf_life(_work: Work, row: _Row) -> dict[str, Any]:
    return {
        "what": row["what"],
        **_named(row["name"]),
        "months": _whole(row["months"]),
        "extension_months": _whole(row["extension_months"]),
        **_texts(row, "source"),
    }


def _supply_caution(_work: Work, row: _Row) -> dict[str, Any]:
    return {name: row[name] for name in ("kind", "caution", "source")}


_KINDS: tuple[tuple[str, str, Callable[[Work, _Row], dict[str, Any] | None]], ...] = (
    ("measurements", "measurement", _measurement),
    ("limits", "limit_range", _limit),
    ("procedures", "procedure", _procedure),
    ("supplies", "supply", _supply),
    ("amounts", "amount", _amount),
    ("shelf_lives", "shelf_life", _shelf_life),
    ("supply_cautions", "supply_caution", _supply_caution),
)


def _named(name: str) -> dict[str, Any]:
    return {"name": name, "name_folded": fold(name)}


def _texts(row: _Row, *names: str) -> dict[str, Any]:
    return {name: row[name] or None for name in names}


def _whole(text: str) -> int | None:
    return int(text) if text else None


def _real(text: str) -> float | None:
    return float(parse_number(text)) if text else None


def _id_of(work: Work, table: str, kind: str, name: str) -> int | None:
    """The shipped row that another shipped row names, whatever a user calls it now; None where it was taken out."""
    key = next(row["seed_key"] for row in reference_rows(kind) if fold(row[table]) == fold(name))
    found = fetch(work.conn, f"SELECT id FROM {table} WHERE seed_key = :key AND void = 0", key=key)
    return int(found[0][0]) if found else None
