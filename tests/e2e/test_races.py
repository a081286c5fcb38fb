"""Eight processes on one book at once: totals are exact, one wins, nobody meets a lock error within five seconds.

SPINDLEBOOK_KILLS=500 lets them go on for longer.
"""

from __future__ import annotations

import json
import shlex
import sqlite3
import threading
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest
from sqlalchemy.engine import Engine

from collection.store.engine import WRITER_LOCK, fetch, open_engine, reading
from collection.views.verify import verify
from tests.support.bench import BELT, IPA, SWAB, receive, set_up_bench
from tests.support.books import act, digest, scalar
from tests.support.cli import run_cli
from tests.support.kills import KILLS, Children
from tests.support.times import NOW, TODAY

LOCKED = "Another program is writing to the book.\nRepeat the command when it is done.\n"
EIGHT = 8
ROUNDS = KILLS // 20  # how often each does the same again
Answer = tuple[int, str, str]  # exit code, output, errors


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


def _all(told: list[list[Answer]]) -> list[Answer]:
    return [answer for answers in told for answer in answers]


def _race(forks: Children, *keepers: list[list[str]]) -> list[list[Answer]]:
    """Let all type at once; on a busy machine one may wait in vain, but nobody waits for less than five seconds."""
    told = forks.run(*keepers)
    waits = [
        seconds
        for each, took in zip(told, forks.took, strict=True)
        for answer, seconds in zip(each, took, strict=True)
        if LOCKED in answer[2]
    ]
    assert all(seconds >= 5 for seconds in waits), waits
    return told


def _done(keepers: Sequence[list[list[str]]], told: list[list[Answer]]) -> Counter[str]:
    """Return how often each command was done, by the words after the book; nothing but waiting in vain prevents one."""
    done = Counter[str]()
    for commands, answers in zip(keepers, told, strict=True):
        for words, (code, _out, err) in zip(commands, answers, strict=True):
            assert code == 0 or err == LOCKED, (words, err)
            done[" ".join(words[2:])] += code == 0
    return done


def test_eight_who_take_from_one_lot_leave_the_exact_rest(forks: Children, bench: Engine, book_url: str) -> None:
    """No piece is taken twice or lost, nothing is taken from an empty lot, and each act is in the one chain."""
    with act(bench) as work:
        receive(work, SWAB, "S-2", "2025-02-01", None, 1_000_000)
        receive(work, IPA, "A-3", "2025-07-05", "2028-06-30", 1_000_000)
        work.commit("filled the drawer for any number of rounds")
    acts_before = scalar(bench, "SELECT count(*) FROM act")
    belt, swab, alcohol = f"supply use {BELT} 1", f"supply use {SWAB} 1", f"supply use {IPA} 2 ml"
    takes = [["supply", "use", BELT, "1"], *[["supply", "use", SWAB, "1"], ["supply", "use", IPA, "2 ml"]] * ROUNDS]
    serve = ["service", "record", "D1", "--used", f"{SWAB}=2", "--used", f"{IPA}=3 ml"]
    keepers = [_on(book_url, *takes, *[serve] * ROUNDS)] * EIGHT

    done = _done(keepers, _race(forks, *keepers))

    served = done[" ".join(serve)]
    assert 1_000_050 - done[swab] - 2 * served == _left(bench, SWAB)
    assert 1_002_100 - 20 * done[alcohol] - 30 * served == _left(bench, IPA)
    assert 2 - done[belt] == _left(bench, BELT)
    assert 0 == scalar(bench, "SELECT sum(steps) FROM movement m JOIN lot l ON l.id = m.lot_id WHERE l.name = 'B-1'")
    assert acts_before + done.total() == scalar(bench, "SELECT count(*) FROM act")
    _holds(bench)


def _left(engine: Engine, supply: str) -> int:
    sql = "SELECT sum(steps) FROM movement m JOIN supply s ON s.id = m.supply_id WHERE s.name = :supply"
    return int(scalar(engine, sql, supply=supply))


def test_a_count_while_others_take_is_followed_by_what_was_taken_after_it(
    forks: Children, bench: Engine, book_url: str
) -> None:
    """Two count again and again while six take: the book has the last count less every use that came after it."""
    counts = [_on(book_url, *[["supply", "count", SWAB, str(number)]] * 2 * ROUNDS) for number in (40, 30)]
    uses = [_on(book_url, *[["supply", "use", SWAB, "1"]] * 3 * ROUNDS)] * (EIGHT - 2)

    done = _done([*counts, *uses], _race(forks, *counts, *uses))

    with reading(bench) as connection:
        sql = (
            "SELECT m.kind, steps FROM movement m JOIN supply s ON s.id = m.supply_id WHERE s.name = :of ORDER BY m.id"
        )
        moves = fetch(connection, sql, of=SWAB)
    assert done[f"supply use {SWAB} 1"] == sum(kind == "use" for kind, _steps in moves)
    last = max(number for number, (kind, _steps) in enumerate(moves) if kind == "count")
    held = [row["quantity"] for row in _stock(book_url) if row["supply"] == SWAB]
    assert moves[last][1] + sum(steps for _kind, steps in moves[last + 1 :]) == sum(held)
    _holds(bench)


def _stock(book: str) -> list[dict[str, Any]]:
    told: list[dict[str, Any]] = json.loads(run_cli(["stock", "--json"], db=book).out)
    return told


# How many people type what at the same moment ({n} differs from one to the next, {last} is the act before), and how
# often the book then has it.
RIVALS = (
    (EIGHT, "loan out D1 --due 2026-04-01 --to '{person}'", "SELECT count(*) FROM loan_item"),
    (EIGHT, "loan back D1 --condition {n}", "SELECT count(*) FROM loan_item WHERE back_on IS NOT NULL"),
    (
        EIGHT,
        "loan reserve D4 --from 2026-05-1{n} --until 2026-06-01 --to '{person}'",
        "SELECT count(*) FROM reservation",
    ),
    (
        EIGHT,
        "unit dispose P1 --how scrapped --reason {n} --authority 'Bram Oakhollow'",
        "SELECT count(*) FROM unit_exit",
    ),
    (EIGHT, "undo {last}", "SELECT count(*) FROM act WHERE undoes_id IS NOT NULL"),
    (2, "service open D2", "SELECT count(*) FROM service"),
    (2, "unit add {case}1 --model DM-8", "SELECT count(*) FROM unit WHERE tag_folded = 'n1'"),
    (2, "unit edit D{n} --tag N2", "SELECT count(*) FROM unit WHERE tag = 'N2'"),
    (2, f"supply receive '{BELT}' {{n}} --lot {{case}}-2", "SELECT count(*) FROM lot WHERE name_folded = 'n-2'"),
    (2, "person add ans{case}", "SELECT count(*) FROM person WHERE name_folded = 'ansn'"),
)


def _typed(line: str, number: int, last: int) -> list[str]:
    person = ("Ilse Vanterpool", "Bram Oakhollow")[number % 2]
    return shlex.split(line.format(n=number + 1, person=person, case="nN"[number % 2], last=last))


def test_of_many_who_want_the_same_exactly_one_wins(forks: Children, bench: Engine, book_url: str) -> None:
    """The others are refused in one or two lines, and the book holds what the winner did, once."""
    for people, line, count in RIVALS:
        last = scalar(bench, "SELECT max(id) FROM act")
        told = _race(forks, *(_on(book_url, _typed(line, number, last)) for number in range(people)))

        won, *lost = sorted(_all(told), key=lambda answer: answer[0])
        assert (0, "") == (won[0], won[2]), line
        assert {code for code, _out, _err in lost} <= {1, 4}, lost
        assert all(1 <= len(err.splitlines()) <= 2 for _code, _out, err in lost), lost
        assert 1 == scalar(bench, count), line
        assert last + 1 == scalar(bench, "SELECT max(id) FROM act"), line
    _holds(bench)


def test_eight_edits_of_one_record_are_all_in_its_history(forks: Children, bench: Engine, book_url: str) -> None:
    """Each begins with what the one before left; other columns are kept too, and undoing the last brings back one."""
    columns = (["--serial", "17"], ["--rom", "1.2"])
    edits = [["unit", "edit", "D1", "--note", str(number), *columns[number % 2]] for number in range(EIGHT)]

    keepers = [_on(book_url, edit) for edit in edits]
    done = _done(keepers, _race(forks, *keepers))

    with reading(bench) as connection:
        sql = "SELECT before, after FROM change WHERE table_name = 'unit' AND kind = 'update' ORDER BY id"
        notes = [[json.loads(text)["note"] for text in row] for row in fetch(connection, sql)]
    befores, afters = zip(*notes, strict=True)
    assert {note for note in map(str, range(EIGHT)) if done[" ".join(edits[int(note)])]} == set(afters)
    assert done.total() == len(afters) > 2
    assert (None, *afters[:-1]) == befores
    assert "17 1.2" == scalar(bench, "SELECT serial || ' ' || rom FROM unit WHERE tag = 'D1'")
    assert 0 == run_cli(["undo"], db=book_url).code
    assert afters[-2] == scalar(bench, "SELECT note FROM unit WHERE tag = 'D1'")
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
    (refused,) = [err for code, _out, err in _all(told) if code == 1]
    assert "already" in refused or refused == LOCKED  # on a busy machine a start may take its time
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
