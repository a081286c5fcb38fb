"""An upgrade changes what it must, leaves what a user changed, and touches no book that it does not know."""

from pathlib import Path
from typing import Any

import pytest
from sqlalchemy.engine import Connection, Engine

from collection.acts.go_back import go_back
from collection.acts.undo import undo
from collection.acts.upgrade import upgrade
from collection.errors import Expected, Moved, NoBook, Refused
from collection.store.down import copy_back
from collection.store.engine import HEAD, fetch, open_engine, reading
from collection.store.seed import reference_rows
from tests.support.books import act, add_unit, digest, named, scalar
from tests.support.cli import run_cli
from tests.support.times import NOW, TODAY

Rows = dict[str, list[dict[str, str]]]


def test_a_book_of_a_newer_or_older_program_is_refused_and_unchanged(sqlite_book: Path, tmp_path: Path) -> None:
    """The words tell which of the two it is."""
    engine = open_engine(str(sqlite_book))
    for revision, words in (("9999", "a newer version"), ("0000", "an older version")):
        with engine.connect() as connection, connection.begin():
            connection.exec_driver_sql(f"UPDATE alembic_version SET version_num = '{revision}'")
        before = sqlite_book.read_bytes()
        with pytest.raises(NoBook, match=words), reading(engine):
            pass
        with pytest.raises(Expected):
            upgrade(engine, tmp_path / "kept", today=TODAY, now=NOW)
        assert sqlite_book.read_bytes() == before


def test_upgrading_a_current_book_changes_nothing(engine: Engine, tmp_path: Path) -> None:
    """With the newest schema and reference data there is nothing to write."""
    before = digest(engine)

    done = upgrade(engine, tmp_path / "kept", today=TODAY, now=NOW)

    assert (done.before, done.rows, done.kept) == (done.after, 0, None)
    assert digest(engine) == before


def test_an_upgrade_at_the_newest_schema_changes_no_byte(sqlite_book: Path, tmp_path: Path) -> None:
    """The file is the same to the last bit, and no backup is made for nothing."""
    before = sqlite_book.read_bytes()

    upgrade(open_engine(str(sqlite_book)), tmp_path / "kept", today=TODAY, now=NOW)

    assert sqlite_book.read_bytes() == before
    assert not (tmp_path / "kept").exists()


@pytest.fixture
def shipped_anew(monkeypatch: pytest.MonkeyPatch) -> Rows:
    """Rows that a later program ships besides the present ones, by file."""
    more: Rows = {}
    monkeypatch.setattr(
        "collection.acts.reference.reference_rows", lambda name: [*reference_rows(name), *more.get(name, [])]
    )
    return more


def _new(kind: str, **values: str) -> dict[str, str]:
    return {**reference_rows(kind)[0], "seed_key": f"new {kind}", "seed_revision": "1", **values}


def _names(engine: Engine, table: str) -> list[Any]:
    with reading(engine) as connection:
        return fetch(connection, f"SELECT name, seed_key FROM {table} WHERE name_folded = 'my own' AND void = 0")


def test_an_upgrade_leaves_a_name_that_a_user_gave_to_the_user(
    engine: Engine, tmp_path: Path, shipped_anew: Rows
) -> None:
    """A shipped supply of the same name stays away, and so does what the program says about it."""
    with act(engine, "supply add") as work:
        work.insert("supply", **named("My own"), kind="lubricant", measured_in="ml", smallest_step="1", tracked="count")
        work.commit("added")
    shipped_anew["supplies"] = [_new("supplies", supply="my OWN")]
    shipped_anew["amounts"] = [_new("amounts", supply="my OWN")]

    done = upgrade(engine, tmp_path / "kept", today=TODAY, now=NOW)

    assert done.rows == 0
    assert _names(engine, "supply") == [("My own", None)]


def test_an_upgrade_finds_what_a_user_has_renamed(engine: Engine, tmp_path: Path, shipped_anew: Rows) -> None:
    """A new limit of a measurement that has another name now is written to that measurement."""
    shipped_anew["limits"] = [_new("limits", point="new point")]
    name = shipped_anew["limits"][0]["measurement"]
    row_id = scalar(engine, "SELECT id FROM measurement WHERE name = :name", name=name)
    with act(engine, "import") as work:
        work.update("measurement", row_id, name="My own", name_folded="my own")
        work.commit("renamed")

    done = upgrade(engine, tmp_path / "kept", today=TODAY, now=NOW)

    assert done.rows == 1
    assert scalar(engine, "SELECT measurement_id FROM limit_range WHERE point = 'new point'") == row_id


def test_what_was_taken_out_by_undoing_an_upgrade_stays_out(engine: Engine, tmp_path: Path, shipped_anew: Rows) -> None:
    """Neither the procedure nor a later amount for it comes back by itself."""
    shipped_anew["procedures"] = [_new("procedures", procedure="My own")]
    assert upgrade(engine, tmp_path / "kept", today=TODAY, now=NOW).rows == 1
    undo(engine, None, today=TODAY, now=NOW)
    shipped_anew["amounts"] = [_new("amounts", procedure="My own")]

    assert upgrade(engine, tmp_path / "kept", today=TODAY, now=NOW).rows == 0
    assert _names(engine, "procedure") == []


def test_a_book_is_migrated_without_its_references_being_enforced(
    sqlite_book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite's way to change a table drops it, and would take the rows that refer to it along."""
    engine, enforced = open_engine(str(sqlite_book)), []
    with engine.connect() as connection, connection.begin():
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '0000'")

    def migrate(connection: Connection, _revision: str) -> None:
        enforced.append(connection.exec_driver_sql("PRAGMA foreign_keys").scalar())
        connection.exec_driver_sql(f"UPDATE alembic_version SET version_num = '{HEAD}'")

    monkeypatch.setattr("collection.store.migrate.known_revisions", lambda: {"0000", HEAD})
    monkeypatch.setattr("collection.store.migrate.migrate_to", migrate)
    done = upgrade(engine, tmp_path / "kept", today=TODAY, now=NOW)

    assert enforced == [0]
    assert done.kept is not None
    assert (done.before, done.after) == ("0000", HEAD)


def test_an_upgrade_never_overwrites_reference_data_that_a_user_changed(engine: Engine, tmp_path: Path) -> None:
    """A newer revision replaces the untouched row and leaves the edited one."""
    with act(engine, "procedure edit") as work:
        work.update("procedure", 1, every_months=7)
        work.commit("edited")
    with engine.connect() as connection, connection.begin():
        connection.exec_driver_sql("UPDATE procedure SET seed_revision = 0 WHERE id IN (1, 2)")
        connection.exec_driver_sql("UPDATE procedure SET minutes = 999 WHERE id = 2")

    upgrade(engine, tmp_path / "kept", today=TODAY, now=NOW)

    assert scalar(engine, "SELECT every_months FROM procedure WHERE id = 1") == 7
    assert scalar(engine, "SELECT minutes FROM procedure WHERE id = 2") != 999


def test_a_book_does_not_go_back_where_the_older_schema_has_no_place_for_it(engine: Engine, tmp_path: Path) -> None:
    """A row of a newer table, a value in a newer column, an act that wrote one which is gone again: each is named."""

    def refused(words: str) -> None:
        before = digest(engine)
        said = f"cannot go back to schema 0004: that one has no {words}; nothing was changed"
        with pytest.raises(Refused, match=said):
            go_back(engine, "0004", tmp_path / "kept", NOW)
        assert digest(engine) == before

    with act(engine) as work:
        attic = work.insert("location", **named("attic"))
        work.append("shelf_check", location_id=attic, checked_on="2026-03-01", inside=0)
        work.commit("looked")
    refused("table shelf_check, and 1 row would be lost")
    with act(engine) as work:
        unit = add_unit(work, rescue_rank=1)
        work.commit("a unit to carry out first")
    refused("column rescue_rank in its table unit, which 1 row would lose")
    with act(engine) as work:
        work.update("unit", unit, rescue_rank=None)
        work.commit("not any more")
    refused("column rescue_rank in its table unit, which act 3 names")


def test_no_act_is_lost_while_a_book_goes_back(
    sqlite_book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One that comes while its rows are copied stops it, and stays in the book."""
    engine = open_engine(str(sqlite_book))

    def copied_while_another_writes(source: Connection, file: Path, revision: str) -> None:
        copy_back(source, file, revision)
        source.rollback()
        with act(engine) as work:
            add_unit(work, "D9")
            work.commit("in between")

    monkeypatch.setattr("collection.acts.go_back.copy_back", copied_while_another_writes)
    with pytest.raises(Moved):
        go_back(engine, "0004", tmp_path / "kept", NOW)

    assert scalar(engine, "SELECT count(*) FROM unit") == 1


@pytest.mark.parametrize("revision", [HEAD, "0000", "9999", "", "4"])
def test_a_book_goes_back_only_to_an_older_schema_that_is_known(
    sqlite_book: Path, tmp_path: Path, revision: str
) -> None:
    """The refusal names those that there are, and nothing is kept aside for it."""
    with pytest.raises(Refused, match="no older schema that this program knows") as refusal:
        go_back(open_engine(str(sqlite_book)), revision, tmp_path / "kept", NOW)

    assert refusal.value.hint == "Type one of: 0004, 0003, 0002, 0001."
    assert not (tmp_path / "kept").exists()


def test_the_commands_take_a_book_back_and_up_again(sqlite_book: Path) -> None:
    """Both tell the schema and where the state before is; in between the book says what to type."""
    back = run_cli(["upgrade", "--back-to", "0004"], db=sqlite_book)
    between = run_cli(["due"], db=sqlite_book)
    again = run_cli(["upgrade"], db=sqlite_book)

    assert (0, 5, 0) == (back.code, between.code, again.code)
    assert back.out.startswith(
        f"The book has schema 0004 again. To come back to {HEAD}: spindlebook upgrade\nThe state"
    )
    assert between.err.endswith("Type: spindlebook upgrade\n")
    assert again.out.startswith(f"Upgraded from schema 0004 to {HEAD}; 0 rows")
    assert 0 == run_cli(["verify"], db=sqlite_book).code
