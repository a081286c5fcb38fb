"""The disk under a book is full, damaged or not one's own: the program says so in two lines, and the book stands."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event
from sqlalchemy.engine import Connection, Engine

from collection.acts.work import Work
from collection.store.backup import back_up
from collection.store.engine import open_engine
from tests.support.bench import SWAB, set_up_bench
from tests.support.books import digest
from tests.support.cli import Ran, run_cli
from tests.support.kills import Children
from tests.support.small_disk import may_mount, on_a_full_disk
from tests.support.times import NOW, TODAY

SERVICE = ["service", "record", "D1", "--findings", "worn", "--used", f"{SWAB}=1"]
FULL = "The disk is full; nothing was changed.\nMake room on it, then repeat the command.\n"
PERHAPS_DONE = "Make room on the disk; before you repeat the command, see whether it was done: spindlebook history"
ROOM = "Make room there, or name a place that has more.\n"
FAILED = (
    "The disk failed under the book, or its folder is gone.\n"
    "Check the disk and the folder, then type: spindlebook verify\n"
)
DAMAGED = "The file of the book is damaged"
NOT_WRITTEN = "The book cannot be written.\nAsk for the right to write its file and folder.\n"
DENIED = ": Permission denied.\nName a place that you may read and write, or ask for the right to.\n"


@pytest.fixture
def book(sqlite_book: Path) -> Path:
    """Return the file of a book with a shelf and a drawer, and a backup of it."""
    engine = open_engine(str(sqlite_book))
    set_up_bench(engine, TODAY, NOW)
    back_up(engine, sqlite_book.with_name("saved"), NOW)
    return sqlite_book


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder with more new units than fit where there is no room."""
    made = tmp_path / "csv"
    made.mkdir()
    rows = ["tag,model", *(f"N{number},DM-8" for number in range(3000))]
    (made / "units.csv").write_text("\n".join(rows), encoding="utf-8")
    return made


def _digest(book: Path | str) -> str:
    return digest(open_engine(str(book)))


def _answer(forks: Children, words: Sequence[str], db: Path, **setting: object) -> Ran:
    (answers,) = forks.run([["--db", str(db), *words]], **setting)
    return Ran(*answers[0])


# --- disks ---------------------------------------------------------------------------------------------------


def test_a_full_disk_says_so_and_keeps_what_is_on_it(book: Path, folder: Path) -> None:
    """Every command that writes fails in two lines, leaves nothing half written, and works when there is room."""
    if not may_mount():
        pytest.skip("this machine lets nobody mount a disk for a test; files that may not grow stand in for it")
    acts = {
        "import": ["import", str(folder), "--yes"],
        "service record": SERVICE,
        "backup": ["backup", "{disk}/copy"],
        "export": ["export", "folder", "{disk}/out"],
        "report": ["import", str(folder), "--report", "{disk}/report.json"],
    }
    places = {"start": ["--db", "{disk}/new", "start"], "demo": ["--db", "{disk}/new", "demo"]}
    lines = [["--db", "{disk}/book", *words] for words in acts.values()] + list(places.values())

    told = on_a_full_disk({"book": book}, lines, size=12_000_000, spare=20_000)

    for name, answer in zip([*acts, *places], told, strict=True):
        assert (1, [], 0) == (answer["code"], answer["changed"], answer["again"]), name
        said = {
            "export": f"No space left on device.\n{PERHAPS_DONE}\n",
            "report": f"cannot be written: No space left on device.\n{ROOM}",
        }
        assert answer["err"].endswith(said.get(name, FULL)), name


@pytest.mark.parametrize("spare", [20_000, 1_100_000], ids=["for nothing", "for the state before"])
def test_a_disk_too_full_for_a_restore_keeps_the_book(book: Path, spare: int) -> None:
    """The book stays in its place and as it was, whether the state before could be kept aside or not."""
    if not may_mount():
        pytest.skip("this machine lets nobody mount a disk for a test")
    line = ["--db", "{disk}/book", "restore", str(book.with_name("saved")), "--yes"]

    (told,) = on_a_full_disk({"book": book}, [line], size=12_000_000, spare=spare)

    kept = ["kept"] if spare > 1_000_000 else []
    assert {"code": 1, "err": FULL, "changed": kept, "again": 0} == told


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["import", "csv", "--yes"], FAILED),
        (SERVICE, FAILED),
        (["backup", "copy"], FAILED),
        (["restore", "saved", "--yes"], FAILED),
        (["export", "folder", "out"], "File too large.\n"),
        (["import", "csv", "--report", "report.json"], f"report.json cannot be written: File too large.\n{ROOM}"),
    ],
    ids=lambda value: " ".join(value[:1]) if isinstance(value, list) else "",
)
def test_a_file_that_may_not_grow_keeps_the_book(
    forks: Children, book: Path, folder: Path, words: list[str], said: str
) -> None:
    """A quota fails in the same way on any machine: code 1, two lines, no half file under any name."""
    here = book.parent
    before, listed = _digest(book), sorted(here.iterdir())
    paths = [str(here / word) if word in ("csv", "copy", "saved", "out", "report.json") else word for word in words]

    ran = _answer(forks, paths, book, largest=1000)

    assert (1, said) == (ran.code, ran.err.removeprefix(f"{here}/"))
    assert before == _digest(book)
    assert listed == [path for path in sorted(here.iterdir()) if path.name != "kept"]
    assert [] == list((here / "kept").glob("*"))


@pytest.mark.parametrize("command", ["start", "demo"])
@pytest.mark.parametrize("largest", [1000, 400_000])
def test_a_new_book_that_may_not_grow_is_not_made(forks: Children, tmp_path: Path, command: str, largest: int) -> None:
    """Neither the book nor what it was made from is left behind."""
    ran = _answer(forks, [command], tmp_path / "new", largest=largest)

    assert 1 == ran.code
    assert ran.err.endswith(FAILED)
    assert [] == list(tmp_path.iterdir())


@pytest.mark.parametrize("page", ["alembic_version", "seal", "unit"])
def test_a_damaged_book_is_called_damaged_and_can_be_brought_back(book: Path, page: str) -> None:
    """Whichever page is gone, it is no foreign file, no backup is made of it, and restore puts it right."""
    with closing(sqlite3.connect(book)) as connection:
        root = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = ?", [page]).fetchone()[0]
        size = connection.execute("PRAGMA page_size").fetchone()[0]
    damaged = bytearray(book.read_bytes())
    damaged[(root - 1) * size : root * size] = bytes(size)
    book.write_bytes(damaged)

    looked = run_cli(["verify"], db=book)
    backed_up = run_cli(["backup", str(book.with_name("copy"))], db=book)

    assert Ran(1, "", f"{DAMAGED}.\nBring back a backup with: spindlebook restore FILE\n") == looked
    assert 1 == backed_up.code
    assert backed_up.err.startswith(DAMAGED)
    assert not book.with_name("copy").exists()
    assert 0 == run_cli(["restore", str(book.with_name("saved")), "--yes"], db=book).code
    assert 0 == run_cli(["verify"], db=book).code


def test_a_book_with_a_text_that_is_none_is_called_damaged_and_can_be_brought_back(book: Path) -> None:
    """A flipped bit leaves every page well and one text no UTF-8."""
    damaged = book.read_bytes()
    assert b"isopropyl alcohol" in damaged
    book.write_bytes(damaged.replace(b"isopropyl alcohol", b"isopropyl \xffalcohol"[:17]))

    looked = [run_cli([words], db=book) for words in ("stock", "verify")]

    said = f"{DAMAGED}: a text in it is none.\nBring back a backup with: spindlebook restore FILE\n"
    assert [Ran(1, "", said)] * 2 == looked
    assert 0 == run_cli(["restore", str(book.with_name("saved")), "--yes"], db=book).code
    assert 0 == run_cli(["verify"], db=book).code


@contextmanager
def _befalls(deed: Callable[[], object], moment: str) -> Iterator[None]:
    """Let something be done to the files once an act has begun to write, or when it is about to be kept."""
    begin = Work.begin

    def begun(work: Work, *args: Any) -> None:
        begin(work, *args)
        deed()

    def kept(connection: Connection) -> None:
        if connection.get_execution_options().get("spindlebook_write"):  # a view ends with a commit too
            deed()

    with pytest.MonkeyPatch.context() as patch:
        if moment == "write":
            patch.setattr(Work, "begin", begun)
            yield
            return
        event.listen(Engine, "commit", kept)
        try:
            yield
        finally:
            event.remove(Engine, "commit", kept)


@pytest.mark.parametrize("moment", ["write", "commit"])
@pytest.mark.parametrize("words", [SERVICE, ["person", "add", "Ansa"], ["undo"]], ids=lambda words: words[0])
def test_a_folder_that_is_deleted_under_an_act_is_told_in_two_lines(book: Path, words: list[str], moment: str) -> None:
    """And nothing is made anew where it stood."""
    shelf = book.parent / "shelf"
    shelf.mkdir()
    shutil.copy(book, shelf / "book")

    with _befalls(lambda: shutil.rmtree(shelf), moment):
        ran = run_cli(words, db=shelf / "book")

    assert (1, FAILED) == (ran.code, ran.err)
    assert not shelf.exists()
    assert 5 == run_cli(words, db=shelf / "book").code
    assert not shelf.exists()


@pytest.mark.parametrize("moment", ["write", "commit"])
def test_a_folder_that_is_moved_away_under_an_act_holds_no_part_of_it(book: Path, moment: str) -> None:
    """The act is refused as on a disk that fails, and what comes to light elsewhere is the book before it."""
    shelf, away = book.parent / "shelf", book.parent / "away"
    shelf.mkdir()
    shutil.copy(book, shelf / "book")
    before = _digest(book)

    with _befalls(lambda: shelf.rename(away), moment):
        ran = run_cli(SERVICE, db=shelf / "book")

    assert (1, FAILED) == (ran.code, ran.err)
    assert before == _digest(away / "book")
    assert 0 == run_cli(["verify"], db=away / "book").code
    assert 0 == run_cli(SERVICE, db=away / "book").code


# --- rights --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("file", "place"), [(0o444, 0o755), (0o644, 0o555), (0o444, 0o555)])
def test_a_book_that_may_only_be_read_can_be_read(forks: Children, book: Path, file: int, place: int) -> None:
    """Lists work as ever; what writes is refused in two lines, and a backup may go elsewhere."""
    shelf = book.parent / "shelf"
    shelf.mkdir()
    shutil.copy(book, shelf / "book")
    before = _digest(book)
    (shelf / "book").chmod(file)
    shelf.chmod(place)

    looked = [_answer(forks, words, shelf / "book", powerless=True) for words in (["due"], ["stock"], ["verify"])]
    backed_up = _answer(forks, ["backup", str(book.parent / "copy")], shelf / "book", powerless=True)
    wrote = [
        _answer(forks, words, shelf / "book", powerless=True)
        for words in (SERVICE, ["undo"], ["person", "add", "Ansa"])
    ]

    assert [(0, "")] * 4 == [(ran.code, ran.err) for ran in (*looked, backed_up)]
    assert [(1, NOT_WRITTEN)] * 3 == [(ran.code, ran.err) for ran in wrote]
    shelf.chmod(0o755)
    assert ["book"] == [path.name for path in shelf.iterdir()]
    assert before == _digest(shelf / "book")


@pytest.mark.parametrize(("file", "place"), [(0o000, 0o755), (0o644, 0o000)])
def test_a_book_that_may_not_be_read_names_the_right_that_is_missing(
    forks: Children, book: Path, file: int, place: int
) -> None:
    """It is neither called foreign nor missing."""
    shelf = book.parent / "shelf"
    shelf.mkdir()
    shutil.copy(book, shelf / "book")
    (shelf / "book").chmod(file)
    shelf.chmod(place)

    ran = [_answer(forks, words, shelf / "book", powerless=True) for words in (["due"], SERVICE)]
    where = _answer(forks, ["where"], shelf / "book", powerless=True)

    shelf.chmod(0o755)
    assert [Ran(1, "", f"{shelf / 'book'}{DENIED}")] * 2 == ran
    assert (0, "") == (where.code, where.err)
    assert "Permission denied" in where.out


@pytest.mark.parametrize("words", [["start"], ["demo"]])
def test_a_folder_that_may_not_be_written_gets_no_book(forks: Children, tmp_path: Path, words: list[str]) -> None:
    """Exit code 1 and the folder's name; the folder stays empty."""
    shelf = tmp_path / "shelf"
    shelf.mkdir(mode=0o555)

    ran = _answer(forks, words, shelf / "book", powerless=True)

    assert 1 == ran.code
    assert ran.err.endswith(DENIED)
    assert str(shelf) in ran.err
    assert [] == list(shelf.iterdir())


def test_a_reader_who_cannot_tidy_up_after_a_kill_is_told_so(forks: Children, book: Path) -> None:
    """A journal of a killed act must be rolled back by someone who may write; the book is not called foreign."""
    shelf = book.parent / "shelf"
    shelf.mkdir()
    with closing(sqlite3.connect(book, isolation_level=None)) as writer:
        writer.execute("PRAGMA cache_size = 1")  # so that pages reach the file before the commit
        writer.execute("BEGIN IMMEDIATE")
        writer.execute("CREATE TABLE t (a)")
        writer.execute("INSERT INTO t SELECT hex(randomblob(500)) FROM change, act LIMIT 2000")
        for name in ("book.sqlite3", "book.sqlite3-journal"):
            shutil.copy(book.with_name(name), shelf / name)
    for path in shelf.iterdir():
        path.chmod(0o444)
    shelf.chmod(0o555)

    ran = _answer(forks, ["due"], shelf / "book.sqlite3", powerless=True)

    shelf.chmod(0o755)
    assert 1 == ran.code, ran
    assert 2 == len(ran.err.splitlines())
    assert "not a book" not in ran.err
