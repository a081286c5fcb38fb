"""An upgrade that is killed at any statement of its migration leaves the older book, and the next try works.

Killed is meant: the process ends by SIGKILL just before the statement. In an ordinary run a few statements are chosen
evenly; with SPINDLEBOOK_KILLS set it is every one.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.engine import Engine

from collection.acts.upgrade import upgrade
from collection.store.backup import check_backup
from collection.store.engine import open_engine, reading, schema_version
from collection.store.kept import backups_in
from collection.views.verify import verify
from tests.support.older import RELEASED, book_of, onto_server, rows_of, schema_of, shape_of
from tests.support.times import NOW, TODAY

FEW = 3


@contextmanager
def _counted(kill_at: int = 0) -> Iterator[list[str]]:
    """Note every statement of this process, and kill it at one of them."""
    seen: list[str] = []

    def note(_connection: Any, _cursor: Any, statement: str, *_: Any) -> None:
        seen.append(statement)
        if len(seen) == kill_at:
            os.kill(os.getpid(), signal.SIGKILL)

    sa.event.listen(Engine, "before_cursor_execute", note)
    try:
        yield seen
    finally:
        sa.event.remove(Engine, "before_cursor_execute", note)


def _upgrade(location: str, keep_in: Path) -> None:
    engine = open_engine(location)
    upgrade(engine, keep_in, today=TODAY, now=NOW)
    engine.dispose()


def _killed_at(number: int, location: str, keep_in: Path) -> bool:
    """Upgrade in a child that dies at its so many-th statement; returns whether it died there."""
    child = os.fork()
    if child == 0:
        try:
            with _counted(number):
                _upgrade(location, keep_in)
        finally:
            os._exit(3)  # not reached by one that is killed
    return os.WTERMSIG(os.waitpid(child, 0)[1]) == signal.SIGKILL


@pytest.fixture(params=["sqlite", "postgresql"])
def older(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[str, str]]:
    """Yield two books of the oldest schema with the same rows: one to count by, one to kill at."""
    files = [book_of(RELEASED[0], tmp_path / name) for name in ("counted", "killed")]
    if request.param == "sqlite":
        yield str(files[0]), str(files[1])
        return
    postgres = request.getfixturevalue("postgres")
    with postgres.copy("template0") as one:
        onto_server(files[0], one, RELEASED[0])
        with postgres.copy(one.rpartition("/")[2]) as other:
            yield one, other


def test_an_upgrade_that_is_killed_at_a_statement_is_made_by_the_next(older: tuple[str, str], tmp_path: Path) -> None:
    """The schema is the older one with all its rows to the last statement; a backup is whole or not there."""
    counted, killed = older
    engine, shape = open_engine(killed), shape_of(book_of(RELEASED[0], tmp_path / "shape"))
    before, was = rows_of(engine, shape), schema_of(engine)
    with _counted() as statements:
        _upgrade(counted, tmp_path / "kept of the counted")
    last = max(at for at, statement in enumerate(statements, 1) if "UPDATE alembic_version" in statement)
    every = range(1, last + 1)
    chosen = every if "SPINDLEBOOK_KILLS" in os.environ else every[len(every) // (FEW + 1) :: len(every) // FEW]
    assert len(every) > 100

    for number in chosen:
        assert _killed_at(number, killed, tmp_path / "kept"), number
        with engine.connect() as connection:
            revision = schema_version(connection)
        assert (revision, schema_of(engine), rows_of(engine, shape)) == (RELEASED[0], was, before)

    for kept in backups_in(tmp_path / "kept", None):
        assert check_backup(kept.file).schema == RELEASED[0]
    _upgrade(killed, tmp_path / "kept")
    assert rows_of(engine, shape, before) == before
    assert schema_of(engine) == schema_of(open_engine(counted))
    with reading(engine) as connection:
        assert verify(connection).broken == []
    engine.dispose()
