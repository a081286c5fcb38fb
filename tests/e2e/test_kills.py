"""Killing the program at any moment loses no acknowledged act and leaves none half done.

Twenty kills of acts in an ordinary run, here and in test_kills_of_acts.py, and a few of each command that makes or
copies a book; SPINDLEBOOK_KILLS=500 makes it a long one. SIGKILL does not test a power cut: what holds there are
SQLite's own promises for the PRAGMA values that the engine sets.
"""

from __future__ import annotations

import csv
import json
import os
from abc import ABC, abstractmethod
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest
from sqlalchemy.engine import Engine

from collection.store.backup import back_up, check_backup
from collection.store.engine import fetch, open_engine, opened, reading
from collection.store.manifest import manifest_path
from collection.views.verify import verify
from tests.support.bench import IPA, SWAB, receive, set_up_bench
from tests.support.books import act, add_unit, digest, scalar
from tests.support.cli import run_cli
from tests.support.kills import KILLS, Children, Died, settled, spread
from tests.support.postgres import Server
from tests.support.times import NOW, TODAY

pytestmark = pytest.mark.kills

FEW = KILLS // 10  # kills of each loop of acts and of each other command, on each database
ACTS = 6  # in the life of one child, if nobody killed it
UNITS, READINGS = 10, 28  # in one folder, and readings of each of its units


@pytest.fixture
def bench(engine: Engine) -> Engine:
    """Return a book with a drive to serve and a drawer that does not run out."""
    set_up_bench(engine, TODAY, NOW)
    with act(engine) as work:
        receive(work, SWAB, "S-2", "2025-02-01", None, 1_000_000)
        receive(work, IPA, "A-3", "2025-07-05", "2028-06-30", 100_000_000)
        work.commit("filled the drawer")
    return engine


class Loop(ABC):
    """Acts that a child does one after the other: each bears its number, and tells by it whether it is whole."""

    # What an act leaves behind when it is whole, and how to ask for it: name of the act's thing, how many.
    whole: Mapping[str, int]
    queries: Mapping[str, str]

    def __init__(self, engine: Engine, book: str, folder: Path) -> None:
        self.engine = engine
        self.book = book
        self.folder = folder
        self.acts_before = int(scalar(engine, "SELECT count(*) FROM act"))

    @abstractmethod
    def command(self, number: int) -> Sequence[str]:
        """Return the words of one act."""

    @abstractmethod
    def number_in(self, thing: str) -> int:
        """Return the number of the act that a thing belongs to."""

    def done(self) -> int:
        """Check that acts 1 to N are whole and that there is no trace of any other; return N."""
        with reading(self.engine) as connection:
            found = {place: self._per_act(fetch(connection, sql)) for place, sql in self.queries.items()}
            ends = [fetch(connection, f"SELECT count(*) FROM {table}")[0][0] for table in ("act", "seal")]
            broken = verify(connection).broken
        number = max(found["change"], default=0)
        assert {place: dict.fromkeys(range(1, number + 1), count) for place, count in self.whole.items()} == found
        assert [self.acts_before + number] * 2 == ends
        assert [] == broken
        return number

    def _per_act(self, rows: Sequence[tuple[str, int]]) -> dict[int, int]:
        counts: Counter[int] = Counter()
        for thing, count in rows:
            counts[self.number_in(thing)] += count
        return dict(counts)


class Services(Loop):
    """One service after the other: two readings, a task, two supplies, a standing."""

    name = "service record"
    whole: Mapping[str, int] = {"change": 1, "service": 1, "reading": 2, "task": 1, "movement": 2}
    queries: Mapping[str, str] = {
        "change": "SELECT after, 1 FROM change WHERE table_name = 'service' AND after LIKE '%\"findings\"%'",
        "service": "SELECT findings, 1 FROM service WHERE closed_on IS NOT NULL AND minutes = 20",
        **{
            table: f"SELECT v.findings, 1 FROM {table} t JOIN service v ON v.id = t.service_id"
            for table in ("reading", "task", "movement")
        },
    }

    def command(self, number: int) -> Sequence[str]:
        """A service whose findings are its number."""
        found = f"spindle speed={300 + number % 40 / 10}"
        told = ["--findings", f"act {number}", "--instrument", "bench counter", "--as-found", found]
        told += ["--did", "set spindle speed", "--used", f"{SWAB}=1", "--used", f"{IPA}=2 ml"]
        told += ["--as-left", "spindle speed=300.0", "--outcome", "ready", "--minutes", "20"]
        return ["--db", self.book, "service", "record", "D1", *told]

    def number_in(self, thing: str) -> int:
        """Read it from the findings, or from the journal of a service."""
        return int(thing.partition("act ")[2].partition('"')[0])


class Folders(Loop):
    """One folder after the other: units, services, readings and uses, and a change to a unit that was there."""

    name = "import"
    whole: Mapping[str, int] = {
        **dict.fromkeys(("unit", "unit_entry", "service", "task", "movement"), UNITS),
        "reading": UNITS * READINGS,
        "change": 1,
    }
    queries: Mapping[str, str] = {
        "change": "SELECT after, 1 FROM change WHERE table_name = 'unit' AND kind = 'update'",
        "unit": "SELECT tag, 1 FROM unit WHERE tag LIKE 'F%'",
        **{
            table: f"SELECT u.tag, count(*) FROM {source} JOIN unit u ON u.id = {near}.unit_id"
            " WHERE u.tag LIKE 'F%' GROUP BY u.tag"
            for table, source, near in (
                ("unit_entry", "unit_entry t", "t"),
                ("service", "service t", "t"),
                ("task", "task t JOIN service v ON v.id = t.service_id", "v"),
                ("movement", "movement t JOIN service v ON v.id = t.service_id", "v"),
                ("reading", "reading t JOIN series s ON s.id = t.series_id", "s"),
            )
        },
    }

    def command(self, number: int) -> Sequence[str]:
        """The import of a folder that bears a number."""
        return ["--db", self.book, "import", str(self._written(number)), "--yes"]

    def _written(self, number: int) -> Path:
        folder = self.folder / f"folder {number}"
        if folder.exists():
            return folder
        folder.mkdir(parents=True)
        tags = [f"F{number}-{unit}" for unit in range(UNITS)]
        changed = ["D1", "DM-8", "", f"folder {number}"]
        self._table(folder / "locations.csv", ["location"], [[f"shelf {number}"]])
        units = [[tag, "DM-8", f"shelf {number}", ""] for tag in tags]
        self._table(folder / "units.csv", ["tag", "model", "location", "note"], [changed, *units])
        self._table(
            folder / "services.csv",
            ["service", "tag", "opened_on", "closed_on", "procedures"],
            [[f"of {tag}", tag, "2026-01-10", "2026-01-10", "set spindle speed"] for tag in tags],
        )
        self._table(
            folder / "uses.csv",
            ["supply", "quantity", "used_on", "service", "tag"],
            [[SWAB, "1", "2026-01-10", f"of {tag}", tag] for tag in tags],
        )
        self._table(
            folder / "readings.csv",
            ["tag", "measurement", "taken_on", "instrument", "value", "stage"],
            [
                [tag, "spindle speed", f"2025-12-{day + 1:02}", "bench counter", f"{300 + day / 10}", "between"]
                for tag in tags
                for day in range(READINGS)
            ],
        )
        return folder

    @staticmethod
    def _table(path: Path, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        with path.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows([columns, *rows])

    def number_in(self, thing: str) -> int:
        """Read it from the tag, or from the journal of the unit that each folder changes."""
        return int(thing.partition("folder ")[2].partition('"')[0] or thing.partition("-")[0][1:])


@pytest.mark.parametrize("loop", [Services, Folders], ids=lambda loop: loop.name)
def test_a_kill_loses_no_acknowledged_act_and_leaves_none_in_part(
    forks: Children, bench: Engine, book_url: str, tmp_path: Path, loop: type[Loop]
) -> None:
    """After each kill every acknowledged act is whole, at most one more is, verify is content, the next act works."""
    acts = loop(bench, book_url, tmp_path / "folders")
    took = forks.measure([acts.command(1), acts.command(2)])
    done = acts.done()
    assert 2 == done
    deaths: list[Died] = []
    for number, moment in enumerate(sorted(spread(f"{loop.__name__} {bench.dialect.name}", FEW))):
        since = ("write", "commit", "begin")[number % 3]
        lines = [acts.command(done + ahead) for ahead in range(1, ACTS + 1)]
        wait = moment**3 * took[since] if since == "commit" else moment * took[since]  # a commit is short
        died = forks.kill(lines, at=1 + number // 3 % 2, since=since, wait=wait)
        deaths.append(died)
        settled(bench)

        present = acts.done()

        assert done + died.acknowledged <= present <= done + died.begun
        done = present + 1
        ran = run_cli(acts.command(done))
        assert 0 == ran.code, ran.err
    assert done == acts.done()
    assert all(died.status == -9 for died in deaths)
    assert any(died.in_writing for died in deaths), "no kill hit an open transaction"


def _killed(forks: Children, command: Sequence[str], seconds: float, moment: float) -> Died:
    """Kill one command at a fraction of the time that it takes."""
    return forks.kill([command], at=1, since="begin", wait=moment * seconds)


def _book_at(place: Path) -> str | None:
    """Return the digest of the book at a place, after verify; None where nothing stands."""
    if not place.exists():
        return None
    return _book(open_engine(str(place)))


def _book(engine: Engine) -> str:
    with reading(engine) as connection:
        assert [] == verify(connection).broken
    return digest(engine)


def test_a_killed_start_leaves_no_file_or_a_whole_book(forks: Children, tmp_path: Path) -> None:
    """Under its name stands a book that keeps every rule, or nothing; starting again works."""
    seconds = forks.measure([["--db", str(tmp_path / "first"), "start"]])["begin"]
    deaths = []
    for number, moment in enumerate(spread("start", FEW)):
        place = tmp_path / f"book {number}"
        deaths.append(_killed(forks, ["--db", str(place), "start"], seconds, moment))

        if _book_at(place) is None:
            ran = run_cli(["start"], db=place)
            assert 0 == ran.code, ran.err
            assert _book_at(place) is not None
    assert any(died.in_the_middle for died in deaths)


def test_a_killed_start_leaves_nothing_on_a_server_or_a_whole_book(forks: Children, postgres: Server) -> None:
    """The database is still empty or has the whole book."""
    with postgres.copy("template0") as url:
        seconds = forks.measure([["--db", url, "start"]])["begin"]
    deaths = []
    for moment in spread("start on a server", FEW):
        with postgres.copy("template0") as url:
            engine = open_engine(url)
            deaths.append(_killed(forks, ["--db", url, "start"], seconds, moment))
            settled(engine)

            exists = json.loads(run_cli(["where", "--json"], db=url).out)["exists"]
            ran = run_cli(["start"], db=url)

            assert ran.code == (1 if exists else 0), ran
            _book(engine)
    assert any(died.in_the_middle for died in deaths)


def test_a_killed_backup_leaves_no_file_or_a_whole_one(
    forks: Children, bench: Engine, book_url: str, tmp_path: Path
) -> None:
    """Under its name stands a backup that its manifest confirms, or nothing.

    A manifest alone is left as it is, for it may belong to a backup that was carried off; another name works.
    """
    before = _book(bench)
    seconds = forks.measure([["--db", book_url, "backup", str(tmp_path / "first")]])["begin"]
    deaths = []
    for number, moment in enumerate(spread(f"backup of {bench.dialect.name}", FEW)):
        place = tmp_path / f"copy {number}"
        command = ["--db", book_url, "backup", str(place)]
        deaths.append(_killed(forks, command, seconds, moment))
        settled(bench)

        if not place.exists() and manifest_path(place).exists():
            assert 1 == run_cli(["backup", str(place)], db=book_url).code
            place = tmp_path / f"copy {number} again"
        if not place.exists():
            assert 0 == run_cli(["backup", str(place)], db=book_url).code
        check_backup(place)
        assert before == _book_at(place)
    assert before == _book(bench)
    assert any(died.in_the_middle for died in deaths)


def test_a_killed_restore_leaves_the_present_state_or_the_restored_one(
    forks: Children, bench: Engine, book_url: str, tmp_path: Path
) -> None:
    """Never a mix; what stood there before is in a verified backup of its own or still in its place."""
    copy = tmp_path / "copy"
    back_up(bench, copy, NOW)
    restored = _book(bench)
    command = ["--db", book_url, "restore", str(copy), "--yes"]
    seconds = forks.measure([command])["begin"]
    deaths = []
    for number, moment in enumerate(spread(f"restore of {bench.dialect.name}", FEW)):
        with act(bench) as work:
            add_unit(work, f"later {number}")
            work.commit("after the backup")
        present = digest(bench)

        deaths.append(_killed(forks, command, seconds, moment))
        settled(bench)

        found = _book(bench)
        assert found in (present, restored)
        assert 0 == run_cli(["restore", str(copy), "--yes"], db=book_url).code
        assert restored == _book(bench)
    assert any(died.in_the_middle for died in deaths)


def test_a_killed_restore_into_an_empty_place_leaves_nothing_or_the_whole_book(forks: Children, tmp_path: Path) -> None:
    """A lost disk is brought back whole or not at all, and the next try works."""
    source, copy = tmp_path / "source", tmp_path / "copy"
    assert 0 == run_cli(["start"], db=source).code
    assert 0 == run_cli(["backup", str(copy)], db=source).code
    seconds = forks.measure([["--db", str(tmp_path / "first"), "restore", str(copy), "--yes"]])["begin"]
    deaths = []
    for number, moment in enumerate(spread("restore into nothing", FEW)):
        place = tmp_path / f"book {number}"
        deaths.append(_killed(forks, ["--db", str(place), "restore", str(copy), "--yes"], seconds, moment))

        assert _book_at(place) in (None, digest(open_engine(str(source))))
        assert 0 == run_cli(["restore", str(copy), "--yes"], db=place).code
        assert _book_at(place) == digest(open_engine(str(source)))
    assert any(died.in_the_middle for died in deaths)


def test_a_killed_demo_leaves_the_demo_before_or_the_new_one(forks: Children, tmp_path: Path) -> None:
    """The demo's book is put in its place whole, with what its club noted; its service is an act of its own on top."""
    place = tmp_path / "demo.sqlite3"
    command = ["--db", str(place), "demo"]
    seconds = forks.measure([command])["begin"]
    deaths = []
    for moment in spread("demo", FEW):
        deaths.append(_killed(forks, command, seconds, moment))

        assert _book_at(place) is not None
        with opened(str(place)) as engine:
            assert 1 == scalar(engine, "SELECT count(*) FROM act WHERE command = 'loan reserve'")  # the last of them
    assert any(died.in_the_middle for died in deaths)
    assert 0 == run_cli(["demo"], db=place).code


def test_a_killed_export_leaves_no_folder_or_a_whole_one(
    forks: Children, bench: Engine, book_url: str, tmp_path: Path
) -> None:
    """A folder under its name holds every file, or there is none; the same name can be used again."""
    whole = tmp_path / "first"
    seconds = forks.measure([["--db", book_url, "export", "folder", str(whole)]])["begin"]
    deaths = []
    for number, moment in enumerate(spread(f"export of {bench.dialect.name}", FEW)):
        place = tmp_path / f"folder {number}"
        deaths.append(_killed(forks, ["--db", book_url, "export", "folder", str(place)], seconds, moment))

        if not place.exists():
            assert 0 == run_cli(["export", "folder", str(place)], db=book_url).code
        assert _bytes_in(whole) == _bytes_in(place)
    assert any(died.in_the_middle for died in deaths)


def test_what_a_killed_process_of_the_same_number_left_is_no_obstacle(tmp_path: Path) -> None:
    """In a container the numbers of processes repeat; the next try works and tidies up."""
    book, out, report = (tmp_path / name for name in ("book", "out", "report.json"))
    number = os.getpid()
    (tmp_path / f".{book.name}.{number}.demo").write_text("half a book", encoding="utf-8")
    (tmp_path / f".{out.name}.{number}.new").mkdir()
    (tmp_path / f".{out.name}.{number}.new" / "units.csv").touch()
    (tmp_path / f".{report.name}.{number}.new").write_text("half a report", encoding="utf-8")

    ran = [
        run_cli(words, db=book)
        for words in (["demo"], ["export", "folder", str(out)], ["import", str(out), "--report", str(report)])
    ]

    assert [0, 0, 0] == [each.code for each in ran]
    home = tmp_path / "home"  # where the demo's walk keeps what it has computed
    assert [book, out, report] == sorted(each for each in tmp_path.iterdir() if each != home)


def _bytes_in(folder: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in folder.iterdir()}
