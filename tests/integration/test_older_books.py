"""A filled book of every released schema comes up to this one with all that stood in it."""

import gzip
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from collection.acts.undo import undo
from collection.acts.upgrade import upgrade
from collection.store.engine import HEAD, fetch, open_engine, reading
from collection.store.migrate import known_revisions
from collection.views.verify import verify
from tests.support.times import NOW, TODAY

DATA = Path(__file__).parents[1] / "data"
RELEASED = sorted(known_revisions() - {HEAD})


def _book_of(revision: str, folder: Path) -> Path:
    """Write the kept book of a schema into a file."""
    place = folder / "book.sqlite3"
    with closing(sqlite3.connect(place)) as connection:
        connection.executescript(gzip.decompress((DATA / f"book-{revision}.sql.gz").read_bytes()).decode())
    return place


def _rows(place: Path) -> dict[str, list[tuple[Any, ...]]]:
    """Return every row of every table by the columns that a later schema may not touch."""
    with closing(sqlite3.connect(place)) as connection:
        tables = [row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        kept = [name for name in tables if not name.startswith(("sqlite_", "alembic_", "counter"))]
        return {name: connection.execute(f"SELECT * FROM {name} ORDER BY id").fetchall() for name in kept}


@pytest.mark.parametrize("revision", RELEASED)
def test_a_book_of_an_older_schema_loses_nothing_in_the_upgrade(revision: str, tmp_path: Path) -> None:
    """Rows that no newer reference data touches are equal in their columns; the book keeps its rules."""
    place = _book_of(revision, tmp_path)
    before = _rows(place)

    done = upgrade(open_engine(str(place)), tmp_path / "kept", today=TODAY, now=NOW)

    after = _rows(place)
    assert (done.before, done.after) == (revision, HEAD)
    assert done.kept is not None
    for table in ("unit", "reading", "movement", "task", "service", "fault", "unit_entry", "act", "seal", "change"):
        assert before[table]
        cut = [row[: len(before[table][0])] for row in after[table][: len(before[table])]]
        assert cut == before[table], table
    with reading(open_engine(str(place))) as connection:
        assert verify(connection).broken == []


@pytest.mark.parametrize("revision", RELEASED)
def test_an_act_from_before_the_upgrade_can_still_be_taken_back(revision: str, tmp_path: Path) -> None:
    """What the older program wrote is undone by this one: its journal reads the same."""
    engine = open_engine(str(_book_of(revision, tmp_path)))
    upgrade(engine, tmp_path / "kept", today=TODAY, now=NOW)
    with reading(engine) as connection:
        faults = fetch(connection, "SELECT act_id FROM fault WHERE void = 0")

    undo(engine, faults[0][0], today=TODAY, now=NOW)

    with reading(engine) as connection:
        assert fetch(connection, "SELECT id FROM fault WHERE void = 0") == []
