"""What docs/server.md says of accounts holds, word for word as its statements stand there."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

from collection.schema import APPEND_ONLY, EDITABLE, TABLES
from collection.store.engine import open_engine
from tests.support.books import digest
from tests.support.cli import ROOT, run_cli
from tests.support.postgres import Server

ROLES = ("book_keeper", "book_viewer", "book_owner", "ansa", "visitor")
NO_RIGHT = "This account has no right to do that in the book."


def _plain(url: str) -> str:
    return url.replace("+psycopg", "")


def _as(url: str, account: str) -> str:
    return url.replace("spindle@", f"{account}@")


def _block(name: str) -> str:
    page = (ROOT / "docs" / "server.md").read_text(encoding="utf-8")
    found = re.search(rf"<!-- sql: {name} -->\n```sql\n(.*?)```", page, re.DOTALL)
    assert found is not None
    return found[1]


@pytest.fixture(scope="module")
def server_book(postgres: Server, sqlite_template: Path) -> Iterator[str]:
    """Yield the URL of a database set up as the page says, with a book that was moved into it by its owner."""
    with psycopg.connect(_plain(postgres.url("postgres")), autocommit=True) as admin:
        admin.execute("CREATE ROLE book_owner LOGIN")
        admin.execute("CREATE DATABASE book OWNER book_owner ENCODING UTF8 TEMPLATE template0")
        admin.execute(_block("roles").encode())
        admin.execute("CREATE ROLE ansa LOGIN IN ROLE book_keeper; CREATE ROLE visitor LOGIN IN ROLE book_viewer")
        url = postgres.url("book")
        moved = run_cli(["move-to", _as(url, "book_owner")], db=sqlite_template)
        assert 0 == moved.code, moved
        with psycopg.connect(_plain(_as(url, "book_owner")), autocommit=True) as owner:
            owner.execute(_block("rights").encode())
        yield url
        postgres.drop("book")
        admin.execute(f"DROP ROLE {', '.join(reversed(ROLES))}".encode())


def test_each_role_has_just_the_rights_that_its_acts_need(server_book: str) -> None:
    """Nobody changes or empties what is append-only, a viewer writes nothing, and no table is forgotten."""
    sql = """
        SELECT role, c.relname, string_agg(verb, ' ' ORDER BY verb) FROM pg_class c,
        unnest(ARRAY['book_keeper', 'book_viewer']) role,
        unnest(ARRAY['SELECT', 'INSERT', 'UPDATE', 'DELETE', 'TRUNCATE', 'REFERENCES', 'TRIGGER']) verb
        WHERE c.relkind = 'r' AND c.relnamespace = 'public'::regnamespace AND has_table_privilege(role, c.oid, verb)
        GROUP BY role, c.relname"""
    with psycopg.connect(_plain(server_book)) as admin:
        found = {(role, table): verbs for role, table, verbs in admin.execute(sql.encode()).fetchall()}
    wanted = {("book_viewer", table): "SELECT" for table in (*TABLES, "alembic_version")}
    wanted |= {("book_keeper", table): "INSERT SELECT" for table in APPEND_ONLY}
    wanted |= {("book_keeper", table): "INSERT SELECT UPDATE" for table in (*EDITABLE, "counter")}
    wanted |= {("book_keeper", "undone"): "DELETE INSERT SELECT", ("book_keeper", "alembic_version"): "SELECT"}

    assert wanted == found


@pytest.mark.parametrize("account", ["ansa", "visitor"])
@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE seal SET summary = 'x'",
        "DELETE FROM movement",
        "TRUNCATE reading CASCADE",
        "ALTER TABLE movement DISABLE TRIGGER ALL",
        "DROP TRIGGER keep_act_update ON act",
        "CREATE OR REPLACE FUNCTION book_refuse() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'",
        "CREATE TABLE mine (id int)",
        "CREATE TEMPORARY TABLE act (id int)",
        "SET session_replication_role = replica",
        "SET ROLE book_owner",
    ],
)
def test_no_account_gets_round_the_triggers(server_book: str, account: str, sql: str) -> None:
    """Not by writing, not by taking them away, not by standing something else in their place."""
    with (
        psycopg.connect(_plain(_as(server_book, account))) as connection,
        pytest.raises(psycopg.errors.InsufficientPrivilege),
    ):
        connection.execute(sql.encode())


def test_keepers_work_viewers_look_and_the_owner_restores(server_book: str, tmp_path: Path) -> None:
    """Each does with their account what the page says, and is told in a line what they may not do."""
    keeper, viewer, owner = (_as(server_book, account) for account in ("ansa", "visitor", "book_owner"))
    (tmp_path / "csv").mkdir()
    (tmp_path / "csv" / "locations.csv").write_text("location\nattic\n", encoding="utf-8")
    for words in (
        ["location", "add", "bench"],
        ["location", "edit", "bench", "--note", "swept"],
        ["supply", "add", "wool", "--kind", "spare", "--measured-in", "piece"],
        ["supply", "receive", "wool", "5"],
        ["import", str(tmp_path / "csv"), "--yes"],
        ["undo"],
        ["undo"],
        ["backup", str(tmp_path / "of the keeper")],
        ["verify"],
    ):
        ran = run_cli(words, db=keeper)
        assert 0 == ran.code, ran
    before = digest(open_engine(server_book))
    restore = ["restore", str(tmp_path / "of the keeper"), "--yes"]

    looked = [run_cli(words, db=viewer) for words in (["stock"], ["verify"], ["backup", str(tmp_path / "copy")])]
    refused = [
        run_cli(["location", "add", "loft"], db=viewer),
        run_cli(restore, db=viewer),
        run_cli(restore, db=keeper),
    ]

    assert [0] * 3 == [ran.code for ran in looked], looked
    assert [1] * 3 == [ran.code for ran in refused], refused
    assert all(NO_RIGHT in ran.err for ran in refused), refused
    assert before == digest(open_engine(server_book))
    assert 0 == run_cli(restore, db=owner).code
    assert before == digest(open_engine(server_book))
    for words in (["location", "add", "loft"], ["person", "add", "Arvo Lindqvale"]):
        added = run_cli(words, db=keeper)
        assert 0 == added.code, added
    left = run_cli(["person", "forget", "Arvo Lindqvale", "--reason", "left", "--yes"], db=keeper)
    assert "this account does not own it" in left.err, left
    assert "VACUUM person" in left.err
