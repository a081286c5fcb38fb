"""Taking an act back: undo is itself an act, allowed only while the records are what the act left.

Editable rows get their earlier values back, rows the act made become void; appended rows stay and count for nothing,
because the act is listed in ``undone``. Undoing an undo brings all of it back by the same rules.
"""

import json
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy.engine import Connection, Engine
from sqlalchemy.exc import IntegrityError

from collection.acts.held_once import refuse_held_twice
from collection.acts.work import Work, open_work
from collection.errors import Moved, Refused, typed
from collection.schema import APPEND_ONLY, EDITABLE, SUBJECT_OF, TABLES
from collection.schema.people import PERSONAL
from collection.store.chain import dead_acts, personal_hash, root_act
from collection.store.engine import fetch
from collection.views.exits import gone_and_held, not_gone
from collection.views.loans import LoanRow
from collection.views.loans_unsafe import all_unsafe_out
from collection.views.people import forgotten
from collection.views.person_ties import ties_of

_COUNTED = (("series", "reading", "series_id"), ("supply", "movement", "supply_id"))
# A series is only the name of a place to measure; it stays when the act that first used it is undone.
_IDENTITIES = frozenset({"series"})
_JOURNAL = frozenset({"act", "change", "seal", "undone", "counter"})


@dataclass(frozen=True)
class Undone:
    """What an undo took back. unsafe: units that are out, and what their electrical safety has against it since."""

    act_id: int
    by_id: int
    command: str
    summary: str
    at: str
    unsafe: tuple[tuple[LoanRow, str], ...] = ()


@dataclass(frozen=True)
class _Change:
    kind: str
    table: str
    row_id: int
    version: int | None
    before: str | None
    after: str | None


def undo(engine: Engine, number: int | None, *, today: date, now: datetime, reason: str | None = None) -> Undone:
    """Take back act ``number``, or the last act that still counts and is not an undo.

    Raises Moved when a later act changed or refers to what it left, Refused when there is nothing to undo.
    """
    chosen: list[int] = []

    def pick(connection: Connection) -> int:
        chosen.append(_existing(connection, number) if number is not None else _last(connection))
        return chosen[0]

    with open_work(engine, "undo", today=today, now=now, reason=reason, undoes=pick) as work:
        target = chosen[0]
        command, at, summary = _described(work.conn, target)
        _refuse_when_undone(work.conn, target)
        before = {row.item_id for row, _ in all_unsafe_out(work.conn, today)}
        take_back(work, target)
        unsafe = [(row, says) for row, says in all_unsafe_out(work.conn, today) if row.item_id not in before]
        work.commit(f"took back act {target}: {command}")
        return Undone(target, work.act_id, command, summary, at, tuple(unsafe))


def take_back(work: Work, act_id: int) -> None:
    """Apply the inverse of an act within ``work``."""
    undoes = _undoes(work.conn)
    root = root_act(undoes, act_id)
    tables = {change.table for change in _changes(work.conn, root)}
    _refuse_when_turned_since(undoes, act_id, root, work.act_id)
    _refuse_when_moved(work.conn, undoes, act_id, root)
    before, gone = _held_by_the_forgotten(work), gone_and_held(work.conn, work.today)
    _raise_counters(work, root, tables)
    try:
        _reverse(work, [change for change in _changes(work.conn, act_id) if change.kind != "append"])
    except IntegrityError as error:
        raise Moved(
            f"Act {act_id} cannot be taken back: a name or tag it would bring back has been given again since.",
            "Rename the newer record first, then undo.",
        ) from error
    sync_undone(work)
    _refuse_when_referred_to(work.conn, root, tables)
    _refuse_when_parents_are_gone(work.conn, act_id, root, tables)
    refuse_held_twice(work.conn, root, tables)
    _refuse_here_and_disposed_of(work.conn, root, tables)
    _refuse_gone_and_held(gone_and_held(work.conn, work.today) - gone)
    _refuse_new_ties(_held_by_the_forgotten(work) - before)


def sync_undone(work: Work) -> None:
    """Bring the table ``undone`` to what the journal says."""
    wanted = dead_acts(_undoes(work.conn).items())
    present: dict[int, int] = {row[0]: row[1] for row in fetch(work.conn, "SELECT act_id, by_id FROM undone")}
    table = TABLES["undone"]
    for act_id in set(present) - set(wanted):
        work.conn.execute(table.delete().where(table.c.act_id == act_id))
    for act_id in sorted(set(wanted) - set(present)):
        row = {"id": work.next_id("undone"), "key": work.keys.one(), "act_id": act_id, "by_id": wanted[act_id]}
        work.conn.execute(table.insert().values(**row))


def _existing(connection: Connection, number: int) -> int:
    if not fetch(connection, "SELECT id FROM act WHERE id = :id", id=number):
        raise Refused(f"There is no act {number} in this book.", "Type: spindlebook history")
    return number


def _last(connection: Connection) -> int:
    rows = fetch(
        connection,
        "SELECT max(id) FROM act WHERE undoes_id IS NULL AND command NOT IN ('start', 'demo')"
        " AND id NOT IN (SELECT act_id FROM undone)",
    )
    if rows[0][0] is None:
        raise Refused("There is nothing to undo in this book.", "Type: spindlebook history")
    return int(rows[0][0])


def _described(connection: Connection, act_id: int) -> tuple[str, str, str]:
    sql = "SELECT a.command, a.at, s.summary FROM act a JOIN seal s ON s.act_id = a.id WHERE a.id = :id"
    command, at, summary = fetch(connection, sql, id=act_id)[0]
    if command == "start":
        raise Refused("The act that started the book cannot be taken back.", "Remove the file to drop the book.")
    return str(command), str(at), str(summary or "")


def _refuse_when_undone(connection: Connection, act_id: int) -> None:
    rows = fetch(connection, "SELECT by_id FROM undone WHERE act_id = :id", id=act_id)
    if rows:
        raise Refused(
            f"Act {act_id} has been taken back already, by act {rows[0][0]}.",
            f"To bring it back type: spindlebook undo {rows[0][0]}",
        )


def _changes(connection: Connection, act_id: int) -> list[_Change]:
    sql = "SELECT kind, table_name, row_id, version, before, after FROM change WHERE act_id = :id ORDER BY id"
    return [_Change(*row) for row in fetch(connection, sql, id=act_id)]


def _undoes(connection: Connection) -> dict[int, int]:
    return {row[0]: row[1] for row in fetch(connection, "SELECT id, undoes_id FROM act WHERE undoes_id IS NOT NULL")}


def _refuse_when_turned_since(undoes: dict[int, int], act_id: int, root: int, by: int) -> None:
    """Act `by`, the undo to come, must turn whether the first act counts: another undo may have turned that since."""
    earlier = {number: target for number, target in undoes.items() if number != by}
    gone = root in dead_acts(earlier.items())
    if gone != (root in dead_acts(undoes.items())):
        return
    last = max(number for number in earlier if root_act(earlier, number) == root)
    did, since = ("brought", "taken") if gone else ("took", "brought")
    raise Refused(
        f"Act {act_id} {did} act {root} back, and it has been {since} back since, by act {last}.",
        f"To {'bring' if gone else 'take'} it back type: spindlebook undo {last if gone else root}",
    )


def _refuse_when_moved(connection: Connection, undoes: dict[int, int], act_id: int, root: int) -> None:
    """The rows must stand as the act left them, however often acts around it were undone and brought back.

    What counts is the row's stack of first-hand acts that are not undone: the act to undo must be on top of it, and
    an act to bring back must find below it just those that stood there when it was first made.
    """
    _refuse_touched(
        connection, root, "a.id > :root AND a.id NOT IN (SELECT act_id FROM undone)", "has changed since that act"
    )
    if root != act_id:
        then = dead_acts(pair for pair in undoes.items() if pair[0] < root)
        differing = {x for x in set(then) ^ set(dead_acts(undoes.items())) if x < root and x not in undoes}
        for other in sorted(differing):
            _refuse_touched(connection, root, f"a.id = {other}", "does not stand as it stood before that act")


def _refuse_touched(connection: Connection, root: int, which: str, why: str) -> None:
    sql = (
        "SELECT d.table_name, d.act_id FROM change c"
        " JOIN change d ON d.row_id = c.row_id AND d.table_name = c.table_name AND d.kind <> 'append'"
        " JOIN act a ON a.id = d.act_id AND a.undoes_id IS NULL"
        f" WHERE c.act_id = :root AND c.kind <> 'append' AND {which} LIMIT 1"
    )
    for table, by in fetch(connection, sql, root=root):
        raise Moved(
            f"A {_words(table)} that act {root} wrote {why} (act {by}).",
            "See: spindlebook history, then undo that first.",
        )


def _reverse(work: Work, changes: list[_Change]) -> None:
    """Rows that were made go first, so that their names are free when earlier values come back."""
    for table, rows in _rows_by_table(changes, "insert", "restore").items():
        work.set_void(table, rows, True)
    for change in reversed(changes):
        if change.kind == "update":
            values: dict[str, Any] = json.loads(change.before or "{}")
            if change.table == "person":
                values = _person_values(work.conn, change.row_id, values)
            work.update(change.table, change.row_id, **values)
    for table, rows in _rows_by_table(changes, "void").items():
        work.set_void(table, rows, False)


def _rows_by_table(changes: list[_Change], *kinds: str) -> dict[str, list[int]]:
    rows: dict[str, list[int]] = {}
    for change in changes:
        if change.kind in kinds and not (change.table == "person" and "former_of_id" in (change.after or "")):
            rows.setdefault(change.table, []).append(change.row_id)
    return rows


def _person_values(connection: Connection, person_id: int, hashed: dict[str, Any]) -> dict[str, Any]:
    """The personal values that the journal knows only as hashes, found among the person's former states."""
    names = ("salt", *PERSONAL)
    sql = f"SELECT {', '.join(names)} FROM person WHERE former_of_id = :id ORDER BY id DESC"
    formers = [dict(zip(names, row, strict=True)) for row in fetch(connection, sql, id=person_id)]
    values = dict(hashed)
    for name in set(PERSONAL) & set(hashed):
        matching = [f[name] for f in formers if personal_hash(str(f["salt"]), name, f[name]) == hashed[name]]
        if not matching:
            raise Refused(
                "This person's earlier data have been forgotten; the act stays.",
                "To take back another act, name it: spindlebook history, then undo ACT.",
            )
        values[name] = matching[0]
    return values


def _raise_counters(work: Work, root: int, tables: set[str]) -> None:
    for table in tables:
        work.moved(SUBJECT_OF[table])
    for subject, table, column in _COUNTED:
        for (row_id,) in fetch(work.conn, f"SELECT DISTINCT {column} FROM {table} WHERE act_id = :id", id=root):
            work.moved(subject, row_id)


def _refuse_when_referred_to(connection: Connection, root: int, tables: set[str]) -> None:
    """No row that counts may refer to a row that no longer does."""
    for child, column, parent in _references():
        if parent in tables and parent not in _IDENTITIES:
            sql = (
                f"SELECT max(c.act_id) FROM {child} c JOIN {parent} p ON p.id = c.{column}"
                f" WHERE p.act_id = :act AND {_counts('c', child)} AND NOT ({_counts('p', parent)})"
            )
            later = fetch(connection, sql, act=root)[0][0]
            if later is not None:
                which = f"spindlebook undo {later}" if later > root else "spindlebook history"
                raise Moved(
                    f"A later {_words(child)} refers to a {_words(parent)} that act {root} made.",
                    f"Undo the later act first: {which}",
                )


def _refuse_when_parents_are_gone(connection: Connection, act_id: int, root: int, tables: set[str]) -> None:
    """What is brought back must not refer to rows that have been taken out meanwhile."""
    for child, column, parent in _references():
        if parent in _IDENTITIES or child not in tables:
            continue
        if child in EDITABLE:
            touched = "c.id IN (SELECT row_id FROM change WHERE act_id = :act AND table_name = :child)"
            given = {"act": act_id, "child": child}
        else:
            touched, given = "c.act_id = :root", {"root": root}
        sql = (
            f"SELECT 1 FROM {child} c JOIN {parent} p ON p.id = c.{column}"
            f" WHERE {touched} AND {_counts('c', child)} AND NOT ({_counts('p', parent)}) LIMIT 1"
        )
        if fetch(connection, sql, **given):
            raise Moved(
                f"A {_words(child)} that would come back refers to a {_words(parent)} taken back since.",
                "Bring that one back first; see: spindlebook history",
            )


def _refuse_here_and_disposed_of(connection: Connection, root: int, tables: set[str]) -> None:
    """No unit may be here while a disposal tells how it left: the disposal may rest on the entry of an earlier act."""
    for row in not_gone(connection, root) if tables & {"unit_entry", "unit_exit"} else ():
        if row.act_id == root:
            raise Moved(
                f"How {row.tag} left on {row.left_on} would be told again, and it does not stand gone then.",
                f"Bring that back first; see: spindlebook history {typed(row.tag)}",
            )
        raise Moved(
            f"{row.tag} would be here again, and how it left on {row.left_on} was told by act {row.act_id}.",
            f"Undo that first: spindlebook undo {row.act_id}",
        )


def _refuse_gone_and_held(tags: set[str]) -> None:
    """Whoever has, lent, was promised or works on what is called gone would be asked for it for ever."""
    for tag in sorted(tags)[:1]:
        raise Moved(
            f"{tag} would be gone, and on loan, borrowed, reserved or in service at once.",
            f"Undo first what came after that act: spindlebook history {typed(tag)}",
        )


def _held_by_the_forgotten(work: Work) -> set[str]:
    """Return the names of what is on loan to, kept for, owned by or still open with people who were forgotten."""
    held: set[str] = set()
    for person_id in forgotten(work.conn):
        ties = ties_of(work.conn, person_id, work.today, last=0)
        held.update(tag for tag, _ in (*ties.lent, *ties.borrowed))
        held.update((*ties.reserved, *ties.owned, *ties.at_work, *ties.damage))
    return held


def _refuse_new_ties(tags: set[str]) -> None:
    """Nobody could be asked for what is on loan to somebody who was forgotten, or is theirs."""
    if tags:
        raise Refused(
            f"It would leave {', '.join(sorted(tags))} with a person who was forgotten since.",
            "Enter what is so now instead.",
        )


def _references() -> list[tuple[str, str, str]]:
    """Every (child table, column, parent table) between rows that can be taken back."""
    found = []
    for name, table in TABLES.items():
        if name in _JOURNAL:
            continue
        for key in table.foreign_keys:
            parent = key.column.table.name
            if parent not in _JOURNAL:
                found.append((name, key.parent.name, parent))
    return sorted(found)


def _counts(alias: str, table: str) -> str:
    if table in EDITABLE:
        return f"{alias}.void = 0"
    assert table in APPEND_ONLY  # noqa: S101  the schema has no third family
    return f"{alias}.act_id NOT IN (SELECT act_id FROM undone)"


def _words(table: str) -> str:
    return {"limit_range": "limit", "unit_entry": "dated entry", "purchase_order": "order"}.get(
        table, table.replace("_", " ")
    )
