"""The editable tables against the journal: every change is replayed from zero, row by row beside the rows there are."""

import json
from collections.abc import Iterable, Iterator
from itertools import groupby
from operator import itemgetter
from typing import Any

from sqlalchemy.engine import Connection

from collection.schema import EDITABLE, TABLES
from collection.schema.people import PERSONAL
from collection.store.chain import personal_hash
from collection.store.stream import Row, rows_of
from collection.views.broken import Broken

State = dict[str, Any]
_AS_LEFT = "records are as the journal left them"
_CHANGES = (
    "SELECT table_name, row_id, kind, version, after FROM change WHERE kind <> 'append' ORDER BY table_name, row_id, id"
)


def tables_follow_from_the_journal(connection: Connection) -> Iterator[Broken]:
    """Replaying every change from zero gives the editable tables as they stand."""
    changes = groupby(rows_of(connection, _CHANGES), key=itemgetter(0))
    table, of_table = next(changes, _NONE)
    for name in sorted(EDITABLE):
        while table is not None and table < name:
            yield Broken(_AS_LEFT, "change", None, f"changes are noted of {table}")
            table, of_table = next(changes, _NONE)
        if table == name:
            yield from _compared(name, _states(connection, name), _replayed(of_table))
            table, of_table = next(changes, _NONE)
        else:
            yield from _compared(name, _states(connection, name), iter(()))


_NONE: tuple[str | None, Iterable[Row]] = (None, ())


def _compared(table: str, rows: Iterator[tuple[int, State]], wanted: Iterator[tuple[int, State]]) -> Iterator[Broken]:
    """Compare two walks in the order of row ids."""
    expected = next(wanted, None)
    for row_id, row in rows:
        while expected is not None and expected[0] < row_id:
            yield Broken(_AS_LEFT, table, expected[0], "it is gone")
            expected = next(wanted, None)
        if expected is None or expected[0] != row_id:
            yield Broken("no row without an act", table, row_id, "the journal does not know it")
            continue
        if expected[1] != row:
            fields = sorted(name for name in expected[1].keys() | row.keys() if expected[1].get(name) != row.get(name))
            yield Broken(_AS_LEFT, table, row_id, f"differs in {', '.join(fields)}")
        expected = next(wanted, None)
    while expected is not None:
        yield Broken(_AS_LEFT, table, expected[0], "it is gone")
        expected = next(wanted, None)


def _replayed(changes: Iterable[Row]) -> Iterator[tuple[int, State]]:
    """The rows of a table as their changes leave them, without empty values, in the order of ids."""
    for row_id, of_row in groupby(changes, key=itemgetter(1)):
        state: State = {"void": 0}
        for _, _, kind, version, after in of_row:
            if after:
                state.update(json.loads(after))
            if kind in ("void", "restore") or "former_of_id" in state:
                state["void"] = int(kind != "restore")
            state["version"] = version
        yield row_id, {name: value for name, value in state.items() if value is not None}


def _states(connection: Connection, table: str) -> Iterator[tuple[int, State]]:
    """The rows of a table as the journal would keep them: no empty values, personal ones as hashes."""
    names = [column.name for column in TABLES[table].c if column.name not in ("id", "act_id")]
    for row_id, *values in rows_of(connection, f"SELECT id, {', '.join(names)} FROM {table} ORDER BY id"):
        row = {name: value for name, value in zip(names, values, strict=True) if value is not None}
        if table == "person":
            salt = str(row.pop("salt"))
            row |= {name: personal_hash(salt, name, row[name]) for name in PERSONAL if name in row}
        yield row_id, row
