"""What an exported workbook may change, what only another command can, and what the past rests on."""

from __future__ import annotations

from sqlalchemy.engine import Connection

from collection.acts.book_back_compare import Came
from collection.acts.book_back_tables import CORRECTED
from collection.acts.edit_fields import FIELDS
from collection.errors import typed
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.folder.form import FORMS
from collection.views.movements import history_of
from collection.views.supplies import find_supply

_TABLE_OF = {
    "models.csv": "model", "supplies.csv": "supply", "lots.csv": "lot", "measurements.csv": "measurement",
    "limits.csv": "limit_range", "procedures.csv": "procedure", "loans.csv": "loan",
}  # fmt: skip
_ENDS = ("services.csv", "faults.csv")
_APPENDED = {"hours.csv": "hour_reading", "valuations.csv": "valuation", "entries.csv": "unit_entry"}
_TOLD_ELSEWHERE = {"maker": ("model",), "pack_quantity": ("steps",), "measured_in": ("quantity",)}
_SAME_DAY = {
    "valuations.csv": f"SELECT max(t.id) FROM valuation t JOIN valuation o ON o.unit_id = t.unit_id"
    f" AND o.valued_on = t.valued_on WHERE o.id = :id AND {counts('t')}",
    "entries.csv": f"SELECT max(t.id) FROM unit_entry t JOIN unit_entry o ON o.unit_id = t.unit_id"
    f" AND o.from_date = t.from_date AND o.what = t.what WHERE o.id = :id AND {counts('t')}",
}


def refuse_what_stays(conn: Connection, came: Came) -> None:
    """Refuse the changes of a row that no import makes, each with the command that does."""
    file, changed = came.sheet.file, came.changed
    if file in ("uses.csv", "counts.csv"):
        _refuse_all(came, _reverse(conn, came))
    elif file == "hours.csv":
        _refuse_all(came, f"a meter's reading is never rewritten; {_undo(conn, came)}")
    elif file == "readings.csv":
        _refuse_of_reading(conn, came)
    elif file in CORRECTED:
        for name in CORRECTED[file] & set(changed):
            came.refused.append((name, f"the earlier row would count beside it; {_undo(conn, came)}"))
    elif file == "units.csv" and "standing" in changed and changed["standing"].new.strip() == "on loan":
        tag = came.stored[came.sheet.place("tag")]
        told = f"a unit is on loan only through a loan: spindlebook loan out {typed(tag)} --to PERSON --due DATE"
        came.refused.append(("standing", told))


def _refuse_of_reading(conn: Connection, came: Came) -> None:
    changed = came.changed
    if "set_aside" in changed and not changed["set_aside"].new.strip():
        came.refused.append(("set_aside", f"a reading set aside stays so; {_undo(conn, came, 'reading_aside')}"))
    elif "set_aside" in changed and len(changed) > 1:
        came.refused.append(
            ("set_aside", "set it aside or correct it, not both: empty this cell or restore the others")
        )
    elif set(changed) == {"service"}:
        came.refused.append(("service", "a reading stays with its service: set it aside and write it as a new row"))


def _refuse_all(came: Came, rule: str) -> None:
    came.refused += [(name, rule) for name in came.changed]


def _reverse(conn: Connection, came: Came) -> str:
    """Return how a movement is taken back, by its number."""
    name = came.stored[came.sheet.place("supply")]
    number = next((row.number for row in history_of(conn, find_supply(conn, name)) if row.movement.id == came.id), "")
    return (
        f"what was booked is never rewritten: spindlebook supply reverse {typed(name)} {number} --reason REASON, then"
        " write it as a new row"
    )


def _undo(conn: Connection, came: Came, table: str = "") -> str:
    """Return how the act that wrote a row is taken back."""
    if table:
        sql = f"SELECT max(t.act_id) FROM {table} t WHERE t.reading_id = :id AND {counts('t')}"
    else:
        sql = f"SELECT act_id FROM {_APPENDED[came.sheet.file]} WHERE id = :id"
    return f"add another row, or take the act back that wrote it: spindlebook undo {fetch(conn, sql, id=came.id)[0][0]}"


def stands_no_more(conn: Connection, came: Came) -> tuple[str | None, str] | None:
    """Return column and rule where a corrected row could not take the place of the earlier one."""
    file = came.sheet.file
    first = next(iter(came.changed), None)
    if file == "readings.csv":
        aside = came.stored[came.sheet.place("set_aside")]
        return (first, f"the reading is set aside already ({aside}): write it as a new row") if aside.strip() else None
    if fetch(conn, _SAME_DAY[file], id=came.id)[0][0] != came.id:
        return first, f"a later row of the same day counts in its place; {_undo(conn, came)}"
    return None


def not_changed(came: Came, column: str) -> str:
    """Return why an import leaves a cell as it is, where planning had nothing to write for it."""
    name = came.sheet.file.removesuffix(".csv")
    if column == "service":
        return "the name of a service ties rows to it and stays"
    if name == "units" and column in ("owner", "location", "standing"):
        return "is never taken away, only followed by another: write which"
    if not came.changed[column].new.strip():
        return f"cannot be emptied by an import; see: spindlebook {FORMS[came.sheet.file].record.split()[0]} --help"
    return "is left as it is: to the book both are one, or another row says otherwise"


def accounted(column: str, told: set[str]) -> bool:
    """Say whether the change of a cell is among what planning will write; told: columns as planning names them."""
    return column in told or any(each in told for each in _TOLD_ELSEWHERE.get(column, ()))


def rests_on(came: Came) -> str | None:
    """Return what the past rests on among the changes of a row, in words; None for nothing."""
    file, changed = came.sheet.file, came.changed
    if file in CORRECTED and set(changed) != {"set_aside"}:
        return "is corrected"
    if file in _ENDS:
        closed = came.stored[came.sheet.place("closed_on")]
        return f"was closed on {closed}" if closed else None
    if file == "units.csv" and "standing" in changed and changed["standing"].new.strip() in ("gone", "missing"):
        return f"is called {changed['standing'].new.strip()}"
    fields = FIELDS.get(_TABLE_OF.get(file, ""), {})
    resting = [name.replace("_", " ") for name in changed if name in fields and fields[name].history]
    return f"has another {', '.join(resting)}" if resting else None
