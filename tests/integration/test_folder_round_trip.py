"""Export and import are each other's inverse: whatever the book holds, its folder brings nothing in."""

from __future__ import annotations

import csv
import random
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.engine import Engine

from collection.acts.bring_in.plan import Plan, plan_import
from collection.acts.bring_in.write import bring_in
from collection.errors import Refused
from collection.exchange.folder_read import read_folder
from collection.exchange.folder_write import write_folder
from collection.store.engine import open_engine, reading
from collection.views.folder.form import FORMS
from collection.views.verify import verify
from tests.support.books import digest
from tests.support.folders import bring, findings, rows, write_files
from tests.support.long_run import cases
from tests.support.random_folder import random_folder
from tests.support.times import NOW, TODAY


def _export(engine: Engine, folder: Path) -> Path:
    with reading(engine) as conn:
        write_folder(conn, folder, today=TODAY)
    return folder


def _plan(engine: Engine, folder: Path) -> Plan:
    with reading(engine) as conn:
        return plan_import(conn, read_folder(folder).tables, today=TODAY)


def _contents(folder: Path) -> dict[str, list[list[str]]]:
    """Return the rows of every file, without keys; places, which are written by how deep they lie, in order."""
    made: dict[str, list[list[str]]] = {}
    for path in sorted(folder.iterdir()):
        with path.open(encoding="utf-8-sig", newline="") as stream:
            made[path.name] = [row[:-1] for row in csv.reader(stream)]
    made["locations.csv"] = sorted(made.get("locations.csv", []))
    return made


@contextmanager
def _another(engine: Engine, request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Engine]:
    """Yield an engine on a second fresh book of the same database."""
    if engine.dialect.name == "sqlite":
        template: Path = request.getfixturevalue("sqlite_template")
        copy = tmp_path / "other.sqlite3"
        copy.write_bytes(template.read_bytes())
        other = open_engine(str(copy))
        yield other
        other.dispose()
    else:
        server: Any = request.getfixturevalue("postgres")
        with server.copy(request.getfixturevalue("postgres_template")) as url:
            other = open_engine(url)
            yield other
            other.dispose()


@pytest.mark.parametrize("seed", range(cases(2, 3)))
def test_an_export_brings_nothing_in_and_builds_the_same_book(
    engine: Engine, request: pytest.FixtureRequest, tmp_path: Path, seed: int
) -> None:
    """The folder comes in once, its export is all the same, and a new book made from that exports the same rows."""
    folder = write_files(tmp_path / "in", random_folder(random.Random(seed)))
    first = _plan(engine, folder)
    assert first.writable, findings(first, "refused")
    bring_in(engine, first, today=TODAY, now=NOW, where="in")
    before = digest(engine)

    again, exported = _plan(engine, folder), _plan(engine, _export(engine, tmp_path / "out"))

    assert [found for found in again.rows() if found.kind != "same"] == []
    assert again.changes_nothing
    assert [found for found in exported.rows() if found.kind != "same"] == []
    assert exported.changes_nothing
    assert digest(engine) == before
    with reading(engine) as conn:
        assert verify(conn).broken == []
    with _another(engine, request, tmp_path) as other:
        bring_in(other, _plan(other, tmp_path / "out"), today=TODAY, now=NOW, where="out")
        _export(other, tmp_path / "again")
    assert _contents(tmp_path / "again") == _contents(tmp_path / "out")


@given(seed=st.integers(0, 2**32))
@settings(max_examples=cases(8, 25), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_small_book_is_the_same_after_an_export(
    sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    """Property: for random folders, import again and import of the export are nothing to do."""
    place = tmp_path_factory.mktemp("book")
    file = place / "book.sqlite3"
    file.write_bytes(sqlite_template.read_bytes())
    engine = open_engine(str(file))
    folder = write_files(place / "in", random_folder(random.Random(seed)))
    first = _plan(engine, folder)
    assert first.writable, findings(first, "refused")
    bring_in(engine, first, today=TODAY, now=NOW, where="in")

    for each in (folder, _export(engine, place / "out")):
        made = _plan(engine, each)
        assert [found for found in made.rows() if found.kind != "same"] == []
        assert made.changes_nothing
    with reading(engine) as conn:
        assert verify(conn).broken == []
    engine.dispose()


def test_one_edit_of_an_export_is_one_change(engine: Engine, tmp_path: Path) -> None:
    """Export, edit one cell, import: exactly one row is changed."""
    bring(engine, random_folder(random.Random(7)))
    folder = _export(engine, tmp_path / "out")
    units = folder / "units.csv"
    units.write_bytes(units.read_bytes().replace(b"PS 2,", b"PS 2,,X-99", 1).replace(b"X-99,,", b"X-99,", 1))

    made = _plan(engine, folder)

    assert (made.totals["changed"], made.totals["new"], made.totals["refused"]) == (1, 0, 0)
    assert [(found.record, found.column) for found in findings(made, "changed")] == [("unit P1", "serial")]


def test_an_export_is_what_the_form_says(engine: Engine, tmp_path: Path) -> None:
    """UTF-8 with its mark, CRLF, the columns of the form and the key; files without rows are not there."""
    bring(engine, {"locations": 'location,note\nshelf,"two\nlines, ""quoted"""\n'})
    folder = _export(engine, tmp_path / "deep" / "out")

    text = (folder / "locations.csv").read_bytes()
    assert text.startswith(b'\xef\xbb\xbflocation,inside,note,key\r\nshelf,,"two\nlines, ""quoted""",')
    assert text.endswith(b"\r\n")
    assert not (folder / "units.csv").exists()
    assert {path.name for path in folder.iterdir()} <= set(FORMS)
    assert [path.name for path in folder.parent.iterdir()] == ["out"]


def test_an_export_overwrites_nothing(engine: Engine, tmp_path: Path) -> None:
    """A file or a folder with anything in it is refused and left; an empty folder is filled."""
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("x")
    (tmp_path / "file").write_text("x")
    (tmp_path / "empty").mkdir()

    with pytest.raises(Refused, match="is not empty; nothing is overwritten"):
        _export(engine, tmp_path / "full")
    with pytest.raises(Refused, match="is a file"):
        _export(engine, tmp_path / "file")

    assert [path.name for path in (tmp_path / "full").iterdir()] == ["mine.txt"]
    assert any(_export(engine, tmp_path / "empty").iterdir())


def test_a_service_name_that_several_have_is_told_apart(engine: Engine, tmp_path: Path) -> None:
    """In a folder a name ties rows to one service: the export makes names of one's own."""
    day = (TODAY - timedelta(days=9)).isoformat()
    units = "tag,model\nD1,VK 1\nD2,VK 1\n"
    services = f"service,tag,opened_on\nS,D1,{day}\nS,D2,{day}\nS (2),D1,2025\n"
    reading_rows = (
        "tag,measurement,taken_on,instrument,value,stage,service\n"
        f"D1,spindle speed,{day},counter,300,as found,S\nD2,spindle speed,{day},counter,301,as left,S\n"
    )
    instruments = "instrument,measurement\ncounter,spindle speed\n"
    bring(
        engine,
        {
            "models": "model\nVK 1\n",
            "units": units,
            "instruments": instruments,
            "services": services,
            "readings": reading_rows,
        },
    )

    contents = _contents(_export(engine, tmp_path / "out"))

    assert sorted(row[0] for row in contents["services.csv"][1:]) == ["S", "S (2)", "S (2) (2)"]
    assert _plan(engine, tmp_path / "out").changes_nothing
    tied = {row[0]: row[7] for row in contents["readings.csv"][1:]}
    service_of = {row[1]: row[0] for row in contents["services.csv"][1:] if row[2] == day}
    assert tied == service_of
    assert rows(engine, "SELECT count(*) FROM service") == [(3,)]
