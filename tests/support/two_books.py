"""One book in a file and one on a server, which get the same lines and must stay the same in all but their keys."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy.engine import Connection, Engine

from collection.schema import EDITABLE, TABLES
from collection.schema.people import PERSONAL
from collection.store import engine as engines
from collection.store.engine import fetch, reading
from collection.views.verify import verify
from tests.support.act_lines import FOLDERS, placed
from tests.support.books import answers, digest
from tests.support.cli import Ran, run_cli
from tests.support.replay import Told

Row = tuple[str, int]  # table and id
State = Mapping[Row, tuple[Any, ...]]
Delta = Mapping[Row, tuple[Any, Any]]
# Identities that stay when the act that made them is undone; and what only the journal is about.
_LEFT_OUT = frozenset({"act", "change", "seal", "undone", "counter", "series"})
# Raised by every undo; chosen by chance, so that they differ between books.
_NOT_COMPARED = frozenset({"id", "key", "group_key", "salt", "version", "void"})


@cache
def effective_columns(table: str) -> tuple[str, ...]:
    """Return the columns of a table that say what the book holds."""
    return tuple(column.name for column in TABLES[table].c if column.name not in _NOT_COMPARED)


@cache
def _queries() -> Mapping[str, str]:
    queries = {}
    for table in sorted(set(TABLES) - _LEFT_OUT):
        where = "void = 0" if table in EDITABLE else "act_id NOT IN (SELECT act_id FROM undone)"
        queries[table] = f"SELECT id, {', '.join(effective_columns(table))} FROM {table} WHERE {where} ORDER BY id"
    return queries


def effective_state(connection: Connection) -> State:
    """Return every row that counts, by table and id, without versions and keys."""
    queries = _queries()
    return {
        (table, number): tuple(values)
        for table, rows in zip(queries, answers(connection, list(queries.values())), strict=True)
        for number, *values in rows
    }


class TwoBooks:
    """Runs each line on both books and looks whether they answered the same."""

    def __init__(self, file: str, url: str, here: Path) -> None:
        self.places = (file, url)
        self.here = here
        self._engines = tuple(engines.open_engine(place) for place in self.places)
        write_folder(here)

    def run(self, words: Sequence[str]) -> Ran:
        """Run one line on both, which must say the same."""
        file, server = (run_cli(placed(words, self.here), db=place) for place in self.places)
        assert file == server, (words, file, server)
        return file

    def digests(self) -> list[str]:
        """Return a digest of all that each of the books holds, its journal too."""
        return [digest(engine) for engine in self._engines]

    def state(self) -> State:
        """Return what both books hold."""
        file, server = self.each(effective_state)
        assert file == server, difference(file, server)
        held: State = file
        return held

    def broken(self) -> list[object]:
        """Return what `verify` finds in either."""
        return [row for engine in self._engines for row in self.ask(engine, verify).broken]

    def each(self, question: Callable[[Connection], Any]) -> list[Any]:
        """Return the answers of both."""
        return [self.ask(engine, question) for engine in self._engines]

    def last_act(self) -> int:
        """Return the number of the last act."""
        file, server = self.each(lambda connection: fetch(connection, "SELECT max(id) FROM act")[0][0])
        assert file == server
        return int(file)

    def close(self) -> None:
        """Let go of both."""
        for engine in self._engines:
            engine.dispose()

    @staticmethod
    def ask(engine: Engine, question: Callable[[Connection], Any]) -> Any:
        """Return what a view says of a book."""
        with reading(engine) as connection:
            return question(connection)


def difference(before: Mapping[Row, Any], after: Mapping[Row, Any]) -> Delta:
    """Return the rows that differ, each as it was and as it is; None where there was or is none."""
    return {
        row: (before.get(row), after.get(row))
        for row in sorted(before.keys() | after.keys())
        if before.get(row) != after.get(row)
    }


def comparable(told: State | Told) -> tuple[dict[Row, dict[str, Any]], set[Row]]:
    """Return what a state and the journal can both say: editable rows without personal values, appended ones by id."""
    if isinstance(told, Told):
        rows, appended = told.counting(), told.appended_counting()
    else:
        rows = {row: dict(zip(effective_columns(row[0]), values, strict=True)) for row, values in told.items()}
        appended = {row for row in told if row[0] not in EDITABLE}
    editable = {row: values for row, values in rows.items() if row[0] in EDITABLE}
    return (
        {
            row: {name: v for name, v in values.items() if name in _told(row[0]) and v is not None}
            for row, values in editable.items()
        },
        {row for row in appended if row[0] not in _LEFT_OUT},
    )


@cache
def _told(table: str) -> frozenset[str]:
    return frozenset(effective_columns(table)) - {"act_id"} - frozenset(PERSONAL if table == "person" else ())


def write_folder(here: Path) -> None:
    """Write the files that lines name."""
    for name in ("front.png", "back.png"):
        (here / name).write_bytes(b"\x89PNG\r\n\x1a\n" + name.encode())
    for folder, files in FOLDERS.items():
        (here / folder).mkdir(exist_ok=True)
        for name, text in files.items():
            (here / folder / name).write_text(text, encoding="utf-8")


@contextmanager
def connections_kept() -> Iterator[None]:
    """Keep connections to the server open between commands: opening one takes longer than an act does."""
    opened: dict[str, Engine] = {}
    plain = engines.open_engine

    def open_once(location: str, **told: bool) -> Engine:
        if not engines.is_url(location):
            return plain(location, **told)
        if location not in opened:
            opened[location] = plain(location, **told)
            opened[location].dispose = lambda close=True: None  # type: ignore[method-assign]
        return opened[location]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(engines, "open_engine", open_once)
        yield
    for engine in opened.values():
        engine.pool.dispose()
