"""A backup brought onto a server: into an empty database, over its book, and never over what is no book."""

from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlalchemy.engine import Connection

from collection.acts.restore import restore
from collection.errors import NoBook, Refused
from collection.store.backup import back_up
from collection.store.copy import replace_rows
from collection.store.engine import fetch, open_engine, reading
from collection.views.verify import verify
from tests.support.books import act, add_unit, digest, scalar
from tests.support.postgres import Server
from tests.support.times import NOW, TODAY


def test_a_lost_server_is_brought_back_into_an_empty_database(
    sqlite_book: Path, empty_url: str, tmp_path: Path
) -> None:
    """As into a new file: there is nothing to keep aside, and the book is whole."""
    back_up(open_engine(str(sqlite_book)), tmp_path / "copy", NOW)
    target = open_engine(empty_url)

    restored = restore(target, tmp_path / "copy", tmp_path / "kept", today=TODAY, now=NOW)

    assert restored.kept is None
    assert digest(target) == digest(open_engine(str(sqlite_book)))
    with reading(target) as connection:
        assert verify(connection).broken == []


def test_a_database_of_another_program_is_left_alone(postgres: Server, sqlite_book: Path, tmp_path: Path) -> None:
    """One table of somebody else's is enough; it stays as it was."""
    back_up(open_engine(str(sqlite_book)), tmp_path / "copy", NOW)
    with postgres.copy("template0") as url:
        with open_engine(url).begin() as connection:
            connection.exec_driver_sql("CREATE TABLE letters (text text)")

        with pytest.raises(NoBook, match="is not a book of this program; it was left as it is"):
            restore(open_engine(url), tmp_path / "copy", tmp_path / "kept", today=TODAY, now=NOW)

        with open_engine(url).connect() as connection:
            assert sa.inspect(connection).get_table_names() == ["letters"]


def test_a_view_that_was_open_before_a_restore_sees_its_own_state(postgres_book: str, tmp_path: Path) -> None:
    """Neither an empty book nor a mix: what it began with, to its end."""
    engine = open_engine(postgres_book)
    back_up(engine, tmp_path / "copy", NOW)
    with act(engine) as work:
        add_unit(work)
        work.commit("after the backup")

    with reading(engine) as view:
        restore(engine, tmp_path / "copy", tmp_path / "kept", today=TODAY, now=NOW)
        seen = [fetch(view, f"SELECT count(*) FROM {table}")[0][0] for table in ("unit", "act", "procedure")]

    assert seen[:2] == [1, 2]
    assert seen[2] == scalar(engine, "SELECT count(*) FROM procedure")
    assert scalar(engine, "SELECT count(*) FROM unit") == 0


def test_rows_that_do_not_arrive_on_a_server_stop_the_restore(
    postgres_book: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Counts and digests of all tables are compared before the restored state is kept."""
    engine = open_engine(postgres_book)
    back_up(engine, tmp_path / "copy", NOW)
    before = digest(engine)

    def loses(rows: Connection, target: Connection) -> None:
        replace_rows(rows, target)
        target.exec_driver_sql("DELETE FROM limit_range WHERE id = 1")

    monkeypatch.setattr("collection.acts.restore.replace_rows", loses)
    with pytest.raises(Refused, match="not what the backup holds; nothing was changed"):
        restore(engine, tmp_path / "copy", tmp_path / "kept", today=TODAY, now=NOW)

    assert digest(engine) == before
