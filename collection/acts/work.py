"""The one way to write: a Work is one transaction, one act in the journal, one seal in the hash chain.

Leaving the block without ``commit`` changes nothing. Editable rows are journalled with their values before and after;
appended rows with their count and a digest, since they stay as written.
"""

import secrets
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import REAL, update
from sqlalchemy.engine import Connection, Engine

from collection.acts.clock import refuse_set_back
from collection.acts.keys import KeyMaker
from collection.acts.texts import refuse_texts
from collection.acts.who import writer
from collection.errors import Moved, fold
from collection.schema import SUBJECT_OF, TABLES
from collection.schema.people import PERSONAL
from collection.store.chain import START, act_hash, canonical, personal_hash, rows_digest
from collection.store.engine import fetch, writing

_STANDARD = ("id", "act_id", "version", "void")
_BATCH = 5_000
_REALS = {name: {column.name for column in table.c if isinstance(column.type, REAL)} for name, table in TABLES.items()}
_COUNTED = {"reading": ("series", "series_id"), "movement": ("supply", "supply_id")}
CHANGE_COLUMNS = ("kind", "table_name", "row_id", "version", "before", "after", "rows", "digest")


def stamp(now: datetime) -> str:
    """An instant as the book keeps it: UTC, fixed width. A time without a zone is a defect of the caller."""
    if now.tzinfo is None:
        raise ValueError("an instant needs its time zone")
    return now.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


@dataclass
class Run:
    """Consecutive rows appended to one table."""

    table: str
    first: int
    rows: list[list[Any]] = field(default_factory=list)


class Work:
    """An open act. Steps write through it; nothing else in the program writes to a book."""

    def __init__(self, connection: Connection, today: date, now: datetime) -> None:
        self.conn = connection
        self.today = today
        self.now = now
        self.keys = KeyMaker(now)
        self.act_id = 0
        self.who_id: int | None = None
        self._changes: list[tuple[Any, ...]] = []
        self._next_ids: dict[str, int] = {}
        self._run: Run | None = None
        self._moved: set[tuple[str, int]] = set()

    def begin(self, command: str, reason: str | None, undoes: int | None = None) -> None:
        """Write the act's own row, so that all that follows can refer to it; who_id is who writes, where known."""
        self.who_id = writer(self.conn, command, undoes)
        self.act_id = self.next_id("act")
        day = self.today.isoformat()
        row = (self.act_id, self.keys.one(), stamp(self.now), day, self.who_id, command, reason, undoes)
        columns = ("id", "key", "at", "today", "who_id", "command", "reason", "undoes_id")
        self._insert_raw("act", columns, [row])
        self._act_row = row

    def next_id(self, table: str, count: int = 1) -> int:
        """Reserve ``count`` consecutive ids; the writer's lock makes this safe. Ids are never given twice."""
        self._look_up(table)
        first = self._next_ids[table]
        self._next_ids[table] = first + count
        return first

    def _look_up(self, *tables: str) -> None:
        """Ask for the next ids of tables at once: each question is a way to the server and back, and others wait."""
        unknown = [table for table in tables if table not in self._next_ids]
        if unknown:
            lasts = ", ".join(f"(SELECT coalesce(max(id), 0) FROM {table})" for table in unknown)
            found = fetch(self.conn, f"SELECT {lasts}")[0]
            self._next_ids.update((table, last + 1) for table, last in zip(unknown, found, strict=True))

    def insert(self, table: str, **values: Any) -> int:
        """Write one editable row; returns its id."""
        columns = tuple(values)
        return self.insert_many(table, columns, [tuple(values.values())])[0]

    def insert_many(self, table: str, columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> range:
        """Write editable rows; returns their ids in order. ``key`` may be among the columns."""
        ids, columns, complete = self._complete(table, columns, rows)
        self._insert_raw(table, columns, complete)
        shown = [index for index, name in enumerate(columns) if name not in _STANDARD]
        names = [columns[index] for index in shown]
        for row in complete:
            after = {name: row[index] for name, index in zip(names, shown, strict=True) if row[index] is not None}
            self._note("insert", table, row[0], 1, None, self._journalled(table, after, after.get("salt")))
        return ids

    def append(self, table: str, **values: Any) -> int:
        """Write one append-only row; returns its id."""
        columns = _business_columns(table)
        unknown = set(values) - set(columns) - {"key"}
        if unknown:
            raise ValueError(f"{table} has no column {unknown}")
        key = values.get("key") or self.keys.one()
        row = [key, *_as_kept(table, columns, [[values.get(name) for name in columns]])[0]]
        row_id = self.next_id(table)
        self._insert_raw(table, ("id", "act_id", "key", *columns), [(row_id, self.act_id, *row)])
        self._add_to_run(table, row_id, row)
        self._count_move(table, columns, [tuple(row[1:])])
        return row_id

    def append_many(self, table: str, columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> range:
        """Write append-only rows in bulk; returns their ids in order. ``key`` may be among the columns."""
        self._close_run()
        ids, full, complete = self._complete(table, columns, _as_kept(table, columns, rows))
        if not complete:
            return ids
        self._insert_raw(table, full, complete)
        digested = list(full[2:])
        digest = rows_digest([row[2:] for row in batch] for batch in _batches(complete))
        self._changes.append(("append", table, ids.start, None, None, canonical(digested), len(ids), digest))
        self._moved.add((SUBJECT_OF[table], 0))
        self._count_move(table, columns, rows)
        return ids

    def update(self, table: str, row_id: int, version: int | None = None, **changes: Any) -> bool:
        """Change an editable row; refused as moved on when ``version`` is not its present one.

        Returns whether anything differed; equal values write nothing.
        """
        names = tuple(changes)
        found = fetch(self.conn, f"SELECT version, {', '.join(names)} FROM {table} WHERE id = :id", id=row_id)
        present, old = found[0][0], dict(zip(names, found[0][1:], strict=True))
        if version is not None and version != present:
            raise Moved(f"This {table} changed since you looked (version {version}, now {present}).", "Look again.")
        new = {name: value for name, value in changes.items() if old[name] != value}
        if not new:
            return False
        salt = self._keep_former(row_id) if table == "person" else None
        target = TABLES[table]
        self.conn.execute(update(target).where(target.c.id == row_id).values(version=present + 1, **new))
        before = self._journalled(table, {name: old[name] for name in new}, salt)
        self._note("update", table, row_id, present + 1, before, self._journalled(table, new, salt))
        return True

    def forget_person(self, person_id: int, name: str) -> None:
        """Write over all personal values of a person and of their former states, and over the salts of their hashes.

        What the journal has of them can be compared with nothing any more, so no undo brings them back.
        """
        blank = dict.fromkeys(PERSONAL) | {"name": name, "name_folded": fold(name)}
        sql = f"SELECT id, version, salt, {', '.join(PERSONAL)} FROM person WHERE id = :id OR former_of_id = :id"
        target = TABLES["person"]
        for row_id, version, salt, *values in fetch(self.conn, f"{sql} ORDER BY id", id=person_id):
            fresh = secrets.token_hex(16)
            changed = {"version": version + 1, "salt": fresh, **blank}
            self.conn.execute(update(target).where(target.c.id == row_id).values(**changed))
            before = self._journalled("person", dict(zip(PERSONAL, values, strict=True)), salt)
            self._note("update", "person", row_id, version + 1, before, self._journalled("person", blank, fresh))

    def set_void(self, table: str, row_ids: Sequence[int], void: bool) -> None:
        """Take rows out of the book, or bring them back, because their creation is undone or done again."""
        versions = self.versions(table, row_ids)
        mark = "?" if self.conn.dialect.name == "sqlite" else "%s"
        sql = f"UPDATE {table} SET void = {mark}, version = version + 1 WHERE id = {mark}"
        if row_ids:
            self.conn.exec_driver_sql(sql, [(int(void), row_id) for row_id in row_ids])
        for row_id in row_ids:
            self._note("void" if void else "restore", table, row_id, versions[row_id] + 1, None, None)

    def versions(self, table: str, row_ids: Sequence[int]) -> dict[int, int]:
        """The present versions of editable rows."""
        if not row_ids:
            return {}
        sql = f"SELECT id, version FROM {table} WHERE id BETWEEN :first AND :last"
        wanted = set(row_ids)
        rows = fetch(self.conn, sql, first=min(row_ids), last=max(row_ids))
        return {row[0]: row[1] for row in rows if row[0] in wanted}

    def doubt(self, table: str, row_id: int, field: str | None, value: Any, rule: str) -> None:
        """Mark a row as doubtful; the card and ``verify`` show the mark."""
        self.append("doubt", table_name=table, row_id=row_id, field=field, value=str(value), rule=rule)

    def moved(self, subject: str, row_id: int = 0) -> None:
        """Raise the counter of a subject, a supply or a series when this act is committed."""
        self._moved.add((subject, row_id))

    def commit(self, summary: str) -> None:
        """Seal the act and make it durable."""
        self._close_run()
        self._look_up("change", "counter", "seal")
        self._write_changes()
        self._raise_counters()
        last = fetch(self.conn, "SELECT hash FROM seal ORDER BY id DESC LIMIT 1")
        previous = last[0][0] if last else START
        sealed = act_hash(previous, self._act_row, self._changes, summary)
        row = (self.next_id("seal"), self.keys.one(), self.act_id, summary, previous, sealed)
        self._insert_raw("seal", ("id", "key", "act_id", "summary", "previous_hash", "hash"), [row])
        self._follow_sequences()
        self.conn.get_transaction().commit()  # type: ignore[union-attr]

    def _complete(
        self, table: str, columns: Sequence[str], rows: Sequence[Sequence[Any]]
    ) -> tuple[range, tuple[str, ...], list[tuple[Any, ...]]]:
        """Ids, and rows with id, act and key in front; rows that bring a key keep it."""
        first, act_id = self.next_id(table, len(rows)), self.act_id
        ids = range(first, first + len(rows))
        if "key" in columns:
            at = columns.index("key")
            rest = (*columns[:at], *columns[at + 1 :])
            complete = [
                (number, act_id, row[at] or self.keys.one(), *row[:at], *row[at + 1 :])
                for number, row in zip(ids, rows, strict=True)
            ]
            return ids, ("id", "act_id", "key", *rest), complete
        keys = self.keys.many(len(rows))
        complete = [(n, act_id, key, *row) for n, key, row in zip(ids, keys, rows, strict=True)]
        return ids, ("id", "act_id", "key", *columns), complete

    def _insert_raw(self, table: str, columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> None:
        mark = "?" if self.conn.dialect.name == "sqlite" else "%s"
        sql = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join([mark] * len(columns))})"
        if rows:
            self.conn.exec_driver_sql(sql, list(rows) if len(rows) > 1 else tuple(rows[0]))

    def _journalled(self, table: str, values: dict[str, Any], salt: str | None) -> str:
        if table == "person":
            hidden = {name: personal_hash(str(salt), name, values[name]) for name in PERSONAL if name in values}
            values = {name: value for name, value in values.items() if name != "salt"} | hidden
        return canonical(values)

    def _keep_former(self, person_id: int) -> str:
        """Copy the present state of a person into a void row of the same table; returns the salt."""
        names = ("role", "salt", *PERSONAL)
        row = fetch(self.conn, f"SELECT {', '.join(names)} FROM person WHERE id = :id", id=person_id)[0]
        former = dict(zip(names, row, strict=True))
        former_id = self.insert("person", **former, former_of_id=person_id, void=1)
        return str(fetch(self.conn, "SELECT salt FROM person WHERE id = :id", id=former_id)[0][0])

    def _note(self, kind: str, table: str, row_id: int, version: int, before: str | None, after: str | None) -> None:
        self._close_run()
        self._changes.append((kind, table, row_id, version, before, after, None, None))
        self._moved.add((SUBJECT_OF[table], 0))

    def _add_to_run(self, table: str, row_id: int, row: list[Any]) -> None:
        run = self._run
        if run is None or run.table != table or run.first + len(run.rows) != row_id:
            self._close_run()
            run = self._run = Run(table, row_id)
            self._moved.add((SUBJECT_OF[table], 0))
        run.rows.append(row)

    def _close_run(self) -> None:
        if self._run is None:
            return
        run, self._run = self._run, None
        columns = canonical(["key", *_business_columns(run.table)])
        digest = rows_digest([run.rows])
        self._changes.append(("append", run.table, run.first, None, None, columns, len(run.rows), digest))

    def _count_move(self, table: str, columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
        if table in _COUNTED:
            subject, column = _COUNTED[table]
            at = list(columns).index(column)
            self._moved.update((subject, row_id) for row_id in {row[at] for row in rows})

    def _write_changes(self) -> None:
        first = self.next_id("change", len(self._changes))
        keys = self.keys.many(len(self._changes))
        rows = [
            (first + index, key, self.act_id, *change)
            for index, (key, change) in enumerate(zip(keys, self._changes, strict=True))
        ]
        if rows:
            self._insert_raw("change", ("id", "key", "act_id", *CHANGE_COLUMNS), rows)

    def _raise_counters(self) -> None:
        moved = sorted(self._moved)
        first = self.next_id("counter", len(moved))
        mark = "?" if self.conn.dialect.name == "sqlite" else "%s"
        sql = (
            f"INSERT INTO counter (id, key, subject, row_id, value) VALUES ({mark}, {mark}, {mark}, {mark}, 1)"
            " ON CONFLICT (subject, row_id) DO UPDATE SET value = counter.value + 1, key = excluded.key"
        )
        keys = self.keys.many(len(moved))
        rows = [(first + i, keys[i], subject, row_id) for i, (subject, row_id) in enumerate(moved)]
        if rows:
            self.conn.exec_driver_sql(sql, rows)

    def _follow_sequences(self) -> None:
        """Ids are given out here; PostgreSQL's own sequences must not fall behind them."""
        if self.conn.dialect.name == "postgresql":
            follow = (f"setval(pg_get_serial_sequence('{table}', 'id'), %s)" for table in self._next_ids)
            lasts = tuple(max(following - 1, 1) for following in self._next_ids.values())
            self.conn.exec_driver_sql(f"SELECT {', '.join(follow)}", lasts)


def _business_columns(table: str) -> list[str]:
    return [column.name for column in TABLES[table].c if column.name not in (*_STANDARD, "key")]


def _as_kept(table: str, columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> Sequence[Sequence[Any]]:
    """The rows with 0.0 for -0.0: SQLite gives nothing else back, and the digest is of what is read again."""
    at = [place for place, name in enumerate(columns) if name in _REALS.get(table, ())]
    return [_without_sign(row, at) if any(row[place] == 0 for place in at) else row for row in rows] if at else rows


def _without_sign(row: Sequence[Any], at: Sequence[int]) -> Sequence[Any]:
    return [value + 0.0 if place in at and value == 0 else value for place, value in enumerate(row)]


def _batches(rows: Sequence[Any]) -> Iterator[Sequence[Any]]:
    for start in range(0, len(rows), _BATCH):
        yield rows[start : start + _BATCH]


@contextmanager
def open_work(
    engine: Engine,
    command: str,
    *,
    today: date,
    now: datetime,
    reason: str | None = None,
    undoes: Callable[[Connection], int] | None = None,
) -> Iterator[Work]:
    """Begin an act on the book of ``engine``; only ``work.commit(summary)`` keeps what it wrote.

    Whose act it is goes with the engine, as ``acts/who.py`` tells, and who may not write it is refused; so is a clock
    that was set back, as ``acts/clock.py`` tells.
    ``undoes`` names the act to take back, once the writer's lock is held.
    """
    refuse_texts(reason=reason or "")
    with writing(engine) as connection:
        refuse_set_back(connection, now)
        work = Work(connection, today, now)
        work.begin(command, reason, undoes(connection) if undoes else None)
        yield work
