"""The journal's own rules: the hash chain, the digests of appended rows, and the tables replayed from zero."""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from sqlalchemy.engine import Connection

from collection.schema import APPEND_ONLY, EDITABLE, SUBJECT_OF, TABLES
from collection.schema.people import PERSONAL
from collection.store.chain import START, act_hash, dead_acts, personal_hash, root_act, rows_digest
from collection.store.engine import fetch

_BATCH = 10_000
_JOURNAL = frozenset({"act", "change", "seal"})
_CHANGE = "kind, table_name, row_id, version, before, after, rows, digest"


@dataclass(frozen=True)
class Broken:
    """One broken row: the rule, the table, its row number inside the book (None: the whole) and what is wrong."""

    rule: str
    table: str
    row: int | None
    says: str


def chain_is_whole(connection: Connection) -> Iterator[Broken]:
    """Every act has one seal, each seal carries the hash before it, and every hash can be computed again."""
    rule = "the chain of acts is whole"
    acts = fetch(connection, "SELECT id, key, at, today, who_id, command, reason, undoes_id FROM act ORDER BY id")
    seals = {row[0]: row[1:] for row in fetch(connection, "SELECT act_id, summary, previous_hash, hash FROM seal")}
    changes = _changes_by_act(connection)
    previous = START
    for act in acts:
        if act[0] not in seals:
            yield Broken(rule, "act", act[0], "it was never sealed")
            continue
        summary, before, sealed = seals[act[0]]
        if before != previous:
            yield Broken(rule, "seal", act[0], "it does not follow the act before it")
        if act_hash(before, act, next(changes, (act[0], []))[1], summary) != sealed:
            yield Broken(rule, "act", act[0], "the act or one of its changes was altered")
        previous = sealed


def _changes_by_act(connection: Connection) -> Iterator[tuple[int, list[tuple[Any, ...]]]]:
    """The changes of every act, an empty list for an act without any, in the order of acts."""
    rows = fetch(
        connection, f"SELECT a.id, {_CHANGE.replace('kind', 'c.kind', 1)} FROM act a"
        " LEFT JOIN change c ON c.act_id = a.id ORDER BY a.id, c.id"
    )  # fmt: skip
    for act_id, group in groupby(rows, key=lambda row: row[0]):
        yield act_id, [row[1:] for row in group if row[1] is not None]


def appended_rows_are_as_written(connection: Connection) -> Iterator[Broken]:
    """Appended rows have the number and the digest that their act noted, and no row stands beside them."""
    sql = (
        "SELECT act_id, table_name, row_id, after, rows, digest FROM change WHERE kind = 'append'"
        " ORDER BY table_name, row_id"
    )
    described: dict[str, int] = {}
    for act_id, table, first, columns, rows, digest in fetch(connection, sql):
        described[table] = described.get(table, 0) + rows
        found, count = _digest(connection, table, act_id, first, rows, json.loads(columns))
        if (found, count) != (digest, rows):
            says = f"act {act_id} appended {rows} rows; {count} are there" + ("" if count != rows else ", altered")
            yield Broken("appended rows stay as written", table, first, says)
    for table in sorted(APPEND_ONLY - _JOURNAL):
        present = fetch(connection, f"SELECT count(*) FROM {table}")[0][0]
        if present != described.get(table, 0):
            says = f"{present} rows are there, the journal knows {described.get(table, 0)}"
            yield Broken("no row without an act", table, None, says)


def _digest(
    connection: Connection, table: str, act_id: int, first: int, rows: int, columns: list[str]
) -> tuple[str, int]:
    count = 0

    def batches() -> Iterator[list[tuple[Any, ...]]]:
        nonlocal count
        for start in range(first, first + rows, _BATCH):
            found = fetch(
                connection,
                f"SELECT {', '.join(columns)} FROM {table} WHERE id BETWEEN :a AND :b AND act_id = :act ORDER BY id",
                a=start,
                b=min(start + _BATCH, first + rows) - 1,
                act=act_id,
            )
            count += len(found)
            yield found

    return rows_digest(batches()), count


def tables_follow_from_the_journal(connection: Connection) -> Iterator[Broken]:
    """Replaying every change from zero gives the editable tables as they stand."""
    for table in sorted(EDITABLE):
        expected = _replayed(connection, table)
        columns = [column.name for column in TABLES[table].c if column.name not in ("id", "act_id")]
        for row_id, *values in fetch(connection, f"SELECT id, {', '.join(columns)} FROM {table} ORDER BY id"):
            row = _journalled(table, dict(zip(columns, values, strict=True)))
            wanted = expected.pop(row_id, None)
            if wanted is None:
                yield Broken("no row without an act", table, row_id, "the journal does not know it")
            elif wanted != row:
                fields = sorted(name for name in wanted.keys() | row.keys() if wanted.get(name) != row.get(name))
                yield Broken("records are as the journal left them", table, row_id, f"differs in {', '.join(fields)}")
        for row_id in expected:
            yield Broken("records are as the journal left them", table, row_id, "it is gone")


def _replayed(connection: Connection, table: str) -> dict[int, dict[str, Any]]:
    state: dict[int, dict[str, Any]] = {}
    sql = "SELECT kind, row_id, version, after FROM change WHERE table_name = :table AND kind <> 'append' ORDER BY id"
    for kind, row_id, version, after in fetch(connection, sql, table=table):
        row = state.setdefault(row_id, {"void": 0})
        if after:
            row.update(json.loads(after))
        if kind in ("void", "restore") or "former_of_id" in row:
            row["void"] = int(kind != "restore")
        row["version"] = version
    return {row_id: {k: v for k, v in row.items() if v is not None} for row_id, row in state.items()}


def _journalled(table: str, row: dict[str, Any]) -> dict[str, Any]:
    """A row as the journal would keep it: no empty values, personal ones as hashes."""
    if table == "person":
        salt = str(row.pop("salt"))
        row |= {name: personal_hash(salt, name, row[name]) for name in PERSONAL}
    return {name: value for name, value in row.items() if value is not None}


def undone_follows_from_the_journal(connection: Connection) -> Iterator[Broken]:
    """The acts that count for nothing are those that an act which counts has taken back."""
    wanted = dead_acts(
        (a, u) for a, u in fetch(connection, "SELECT id, undoes_id FROM act WHERE undoes_id IS NOT NULL")
    )
    present = {row[0]: row[1] for row in fetch(connection, "SELECT act_id, by_id FROM undone")}
    for act_id in sorted(wanted.keys() ^ present.keys()):
        says = "it was taken back but counts" if act_id in wanted else "it counts for nothing, yet nobody took it back"
        yield Broken("an undone act counts for nothing", "act", act_id, says)


def counters_follow_from_the_journal(connection: Connection) -> Iterator[Broken]:
    """A subject's counter is the number of acts that touched it, so that no computed result outlives a change."""
    touched: dict[str, set[int]] = {}
    by_act: dict[int, set[str]] = {}
    for act_id, table in fetch(connection, "SELECT DISTINCT act_id, table_name FROM change"):
        by_act.setdefault(act_id, set()).add(SUBJECT_OF[table])
    undoes = dict(fetch(connection, "SELECT id, undoes_id FROM act WHERE undoes_id IS NOT NULL"))
    for (act_id,) in fetch(connection, "SELECT id FROM act"):
        for subject in by_act.get(act_id, set()) | by_act.get(root_act(undoes, act_id), set()):
            touched.setdefault(subject, set()).add(act_id)
    present = dict(fetch(connection, "SELECT subject, value FROM counter WHERE row_id = 0"))
    for subject in sorted(touched.keys() | present.keys()):
        expected = len(touched.get(subject, ()))
        if present.get(subject, 0) != expected:
            says = f"{subject} stands at {present.get(subject, 0)}, {expected} acts touched it"
            yield Broken("counters follow the acts", "counter", None, says)


RULES: tuple[Callable[[Connection], Iterator[Broken]], ...] = (
    chain_is_whole,
    appended_rows_are_as_written,
    tables_follow_from_the_journal,
    undone_follows_from_the_journal,
    counters_follow_from_the_journal,
)
