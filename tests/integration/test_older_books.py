"""A filled book of every released schema comes up to this one, and back where nothing is lost, on both databases."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from collection.acts.go_back import go_back
from collection.acts.restore import restore
from collection.acts.undo import undo
from collection.acts.upgrade import upgrade
from collection.errors import Refused
from collection.store.backup import check_backup
from collection.store.engine import HEAD, fetch, open_engine, reading
from collection.views.verify import verify
from tests.support.books import digest
from tests.support.older import RELEASED, book_of, onto_server, rows_of, schema_of, shape_of
from tests.support.times import NOW, TODAY

_FILLED_BY_REFERENCE = {"0001": "that one has no column lubricates in its table procedure"}


# A server takes a second for each step: all of them are looked at in the long run before a release, and the way up from
# the oldest in test_killed_upgrades.py.
_ON_SERVER = RELEASED if "SPINDLEBOOK_KILLS" in os.environ else RELEASED[-1:]


@pytest.fixture
def place(kind: str, request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Yield where a book of an older schema is to stand: a file, or an empty database."""
    if kind == "sqlite":
        yield str(tmp_path / "book.sqlite3")
        return
    with request.getfixturevalue("postgres").copy("template0") as url:
        yield url


@pytest.mark.parametrize(
    ("kind", "revision"),
    [*(("sqlite", each) for each in RELEASED), *(("postgresql", each) for each in _ON_SERVER)],
)
def test_a_book_of_an_older_schema_comes_up_and_back_and_loses_nothing(
    kind: str, revision: str, place: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    """Rows are equal in their columns and the schema is that of a new book, each way."""
    file = book_of(revision, tmp_path / "older")
    shape, location = shape_of(file), str(file)
    if "postgresql" in place:
        location = onto_server(file, place, revision)
    fresh = request.getfixturevalue("sqlite_book" if kind == "sqlite" else "postgres_book")
    new = schema_of(open_engine(str(fresh)))
    engine, keep_in = open_engine(location), tmp_path / "kept"
    before = rows_of(engine, shape)
    assert all(before.values())

    done = upgrade(engine, keep_in, today=TODAY, now=NOW)

    assert (done.before, done.after) == (revision, HEAD)
    assert schema_of(engine) == new
    assert rows_of(engine, shape, before) == before
    assert done.kept is not None
    assert check_backup(done.kept).schema == revision
    assert rows_of(open_engine(str(done.kept)), shape) == before
    with reading(engine) as connection:
        assert verify(connection).broken == []

    if revision in _FILLED_BY_REFERENCE:
        kept = digest(engine)
        with pytest.raises(Refused, match=_FILLED_BY_REFERENCE[revision]):
            go_back(engine, revision, keep_in, NOW)
        assert digest(engine) == kept
        return
    go_back(engine, revision, keep_in, NOW)
    with reading(engine, revision):
        assert rows_of(engine, shape, before) == before
    assert upgrade(engine, keep_in, today=TODAY, now=NOW).before == revision
    assert schema_of(engine) == new
    assert rows_of(engine, shape, before) == before
    engine.dispose()


@pytest.mark.parametrize("revision", RELEASED)
def test_old_acts_are_taken_back_and_old_backups_restored_by_the_newer_program(revision: str, tmp_path: Path) -> None:
    """Its journal reads the same, and the backup from before the upgrade comes back as a book of this schema."""
    file = book_of(revision, tmp_path / "book")
    engine, shape = open_engine(str(file)), shape_of(file)
    before = rows_of(engine, shape)
    kept = upgrade(engine, tmp_path / "kept", today=TODAY, now=NOW).kept
    assert kept is not None
    with reading(engine) as connection:
        faults = fetch(connection, "SELECT act_id FROM fault WHERE void = 0")

    undo(engine, faults[0][0], today=TODAY, now=NOW)

    with reading(engine) as connection:
        assert fetch(connection, "SELECT id FROM fault WHERE void = 0") == []
    assert restore(engine, kept, tmp_path / "kept", today=TODAY, now=NOW).brought_up == revision
    assert rows_of(engine, shape, before) == before
