"""Two processes on one book at the same moment: totals are exact, one of two wins, nobody meets a lock error."""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import psycopg
import pytest
from sqlalchemy.engine import Engine

from collection.store.engine import WRITER_LOCK, open_engine, reading
from collection.views.verify import verify
from tests.support.bench import BELT, IPA, SWAB, set_up_bench
from tests.support.books import digest, scalar
from tests.support.cli import run_cli
from tests.support.kills import Children
from tests.support.times import NOW, TODAY

LOCKED = "Another program is writing to the book.\nRepeat the command when it is done.\n"
TO = ["--due", "2026-04-01", "--to"]


@pytest.fixture
def bench(engine: Engine) -> Engine:
    """Return a book with a shelf and a drawer, on each database."""
    set_up_bench(engine, TODAY, NOW)
    return engine


def _on(book: str, *commands: list[str]) -> list[list[str]]:
    return [["--db", book, *words] for words in commands]


def _holds(engine: Engine) -> None:
    with reading(engine) as connection:
        assert [] == verify(connection).broken


def test_two_who_take_from_one_lot_leave_the_exact_rest(forks: Children, bench: Engine, book_url: str) -> None:
    """Every swab and millilitre of both is gone from the lots, and each act is in the one chain."""
    acts_before = scalar(bench, "SELECT count(*) FROM act")
    mine = _on(book_url, *[["supply", "use", SWAB, "1"], ["supply", "use", IPA, "2 ml"]] * 4)
    yours = _on(book_url, *[["service", "record", "D1", "--used", f"{SWAB}=2", "--used", f"{IPA}=3 ml"]] * 6)

    answers = [answer for told in forks.run(mine, yours) for answer in told]

    assert [(0, "")] * 14 == [(code, err) for code, _out, err in answers]
    left = "SELECT sum(steps) FROM movement m JOIN supply s ON s.id = m.supply_id WHERE s.name = :name"
    assert 50 - 4 - 12 == scalar(bench, left, name=SWAB)
    assert 2100 - (4 * 2 + 6 * 3) * 10 == scalar(bench, left, name=IPA)
    assert acts_before + 14 == scalar(bench, "SELECT count(*) FROM act")
    _holds(bench)


# What two people type at the same moment, and how often the book then has it.
RIVALS = (
    (
        ["loan", "out", "D1", *TO, "Ilse Vanterpool"],
        ["loan", "out", "D1", *TO, "Bram Oakhollow"],
        "SELECT count(*) FROM loan_item",
    ),
    (["service", "open", "D2"], ["service", "open", "D2"], "SELECT count(*) FROM service"),
    (
        ["unit", "add", "N1", "--model", "DM-8"],
        ["unit", "add", "n1", "--model", "DK-9"],
        "SELECT count(*) FROM unit WHERE tag_folded = 'n1'",
    ),
    (
        ["unit", "edit", "D3", "--tag", "N2"],
        ["unit", "edit", "D4", "--tag", "N2"],
        "SELECT count(*) FROM unit WHERE tag = 'N2'",
    ),
    (
        ["supply", "receive", BELT, "1", "--lot", "B-2"],
        ["supply", "receive", BELT, "3", "--lot", "b-2"],
        "SELECT count(*) FROM lot WHERE name_folded = 'b-2'",
    ),
    (["person", "add", "Ansa"], ["person", "add", "ANSA"], "SELECT count(*) - 2 FROM person"),
    (["undo", "8"], ["undo", "8"], "SELECT count(*) FROM act WHERE undoes_id = 8"),
)


def test_of_two_who_want_the_same_exactly_one_wins(forks: Children, bench: Engine, book_url: str) -> None:
    """The other is refused in one or two lines, and the book holds what the winner did, once."""
    for mine, yours, count in RIVALS:
        told = forks.run(_on(book_url, mine), _on(book_url, yours))

        (won,), (lost,) = sorted(told, key=lambda answers: answers[0][0])
        assert (0, "") == (won[0], won[2]), mine
        assert lost[0] in (1, 4), lost
        assert 1 <= len(lost[2].splitlines()) <= 2
        assert 1 == scalar(bench, count), mine
    _holds(bench)


def test_two_edits_of_one_record_are_both_in_its_history(forks: Children, bench: Engine, book_url: str) -> None:
    """Different columns are both kept; of one column the later holds, and undoing it brings the earlier back."""
    forks.run(
        _on(book_url, ["unit", "edit", "D1", "--note", "mine", "--serial", "17"]),
        _on(book_url, ["unit", "edit", "D1", "--note", "yours", "--rom", "1.2"]),
    )

    assert "17 1.2" == scalar(bench, "SELECT serial || ' ' || rom FROM unit WHERE tag = 'D1'")
    last = scalar(bench, "SELECT note FROM unit WHERE tag = 'D1'")
    assert 0 == run_cli(["undo"], db=book_url).code
    assert {"mine", "yours"} == {last, scalar(bench, "SELECT note FROM unit WHERE tag = 'D1'")}
    _holds(bench)


def test_one_folder_brought_in_twice_at_once_is_there_once(
    forks: Children, bench: Engine, book_url: str, tmp_path: Path
) -> None:
    """The later finds nothing to do, or that the book moved on while it compared."""
    rows = ["tag,measurement,taken_on,instrument,value,stage"]
    rows += [f"D1,spindle speed,2025-12-{day:02},bench counter,300.{day},between" for day in range(1, 29)]
    (tmp_path / "readings.csv").write_text("\n".join(rows), encoding="utf-8")
    command = ["import", str(tmp_path), "--yes"]

    told = forks.run(_on(book_url, command), _on(book_url, command))

    assert 0 in [answers[0][0] for answers in told]
    assert {answers[0][0] for answers in told} <= {0, 4}
    assert 28 == scalar(bench, "SELECT count(*) FROM reading")
    _holds(bench)


def test_of_two_starts_in_one_place_exactly_one_makes_the_book(forks: Children, empty_url: str) -> None:
    """The other is told that something stands there already."""
    told = forks.run(_on(empty_url, ["start"]), _on(empty_url, ["start"]))

    assert [0, 1] == sorted(answers[0][0] for answers in told)
    assert ["already" in answers[0][2] for answers in told] == [answers[0][0] == 1 for answers in told]
    _holds(open_engine(empty_url))


# --- a writer that does not let go -----------------------------------------------------------------------


@contextmanager
def _locked_file(book: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(book, isolation_level=None, check_same_thread=False)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        yield holder


def _plain(url: str) -> str:
    return url.replace("+psycopg", "")


def test_a_writer_waits_five_seconds_for_another_and_then_says_so(
    forks: Children, sqlite_book: Path, postgres_book: str
) -> None:
    """On both databases at once; whoever only reads is not kept waiting, and nothing is changed."""
    books = (str(sqlite_book), postgres_book)
    before = [digest(open_engine(book)) for book in books]
    with _locked_file(sqlite_book), psycopg.connect(_plain(postgres_book)) as other:
        other.execute(f"SELECT pg_advisory_xact_lock({WRITER_LOCK})")
        begun = time.monotonic()
        looked = forks.run(*(_on(book, ["due"], ["stock"]) for book in books))
        read = time.monotonic() - begun
        wrote = forks.run(*(_on(book, ["person", "add", "Ansa"]) for book in books))
        waited = time.monotonic() - begun - read

    assert [(0, "")] * 4 == [(code, err) for answers in looked for code, _, err in answers]
    assert [[(1, "", LOCKED)]] * 2 == wrote
    assert read < 5 <= waited < 10
    assert before == [digest(open_engine(book)) for book in books]


def test_a_writer_goes_on_when_the_other_lets_go(forks: Children, sqlite_book: Path, postgres_book: str) -> None:
    """A short wait is not noticed."""
    books = (str(sqlite_book), postgres_book)
    with _locked_file(sqlite_book) as holder, psycopg.connect(_plain(postgres_book)) as other:
        other.execute(f"SELECT pg_advisory_xact_lock({WRITER_LOCK})")
        for release in (lambda: holder.execute("ROLLBACK"), other.rollback):
            threading.Timer(0.7, release).start()

        wrote = forks.run(*(_on(book, ["person", "add", "Ansa"]) for book in books))

    assert [[(0, "Added Ansa, member.\n", "")]] * 2 == wrote
