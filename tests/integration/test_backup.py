"""A backup is checked before it is kept, and again before it is restored; the present state is kept aside."""

import errno
import os
import random
import sqlite3
from contextlib import closing
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy.engine import Engine
from sqlalchemy.exc import OperationalError

from collection.acts.demo import refuse_unless_demo
from collection.acts.restore import restore
from collection.acts.start import start_book
from collection.errors import Moved, NoBook, Refused, typed
from collection.store.backup import Damaged, back_up, check_backup, condition, journal_path
from collection.store.book import BookSettings
from collection.store.engine import open_engine, reading
from collection.store.manifest import manifest_path, write_manifest
from collection.store.place import beside, put_in_place
from collection.views.verify import verify
from tests.support.books import act, add_person, add_unit, digest, scalar
from tests.support.cli import run_cli
from tests.support.times import NOW, TODAY


@pytest.fixture
def filled(engine: Engine) -> Engine:
    """A book with an act in it."""
    with act(engine) as work:
        person = add_person(work)
        add_unit(work, acquired_from_id=person)
        work.commit("filled")
    return engine


def test_a_backup_is_a_whole_book_with_the_same_rows(filled: Engine, tmp_path: Path) -> None:
    """The copy of either database opens as a book, verifies, and holds just the same rows."""
    manifest = back_up(filled, tmp_path / "copy", NOW)

    copy = open_engine(str(tmp_path / "copy"))
    assert digest(copy) == digest(filled)
    with reading(copy) as connection:
        assert verify(connection).broken == []
    assert manifest.rows["unit"] == 1
    assert manifest == check_backup(tmp_path / "copy")


def test_restore_brings_back_every_row_and_keeps_the_present_state(filled: Engine, tmp_path: Path) -> None:
    """What was done after the backup is gone from the book, and stands in the kept file."""
    back_up(filled, tmp_path / "copy", NOW)
    before = digest(filled)
    with act(filled) as work:
        add_unit(work, "D2")
        work.commit("later")
    later = digest(filled)

    restored = restore(filled, tmp_path / "copy", tmp_path / "kept", today=TODAY, now=NOW)

    assert digest(filled) == before
    assert restored.kept is not None
    assert digest(open_engine(str(restored.kept))) == later
    with act(filled) as work:
        add_unit(work, "D3")
        work.commit("goes on")
    with reading(filled) as connection:
        assert verify(connection).broken == []


def test_restore_makes_a_book_where_none_is(filled: Engine, tmp_path: Path) -> None:
    """A lost disk: the backup alone gives the book back."""
    back_up(filled, tmp_path / "copy", NOW)
    fresh = open_engine(str(tmp_path / "new" / "book.sqlite3"))

    restored = restore(fresh, tmp_path / "copy", tmp_path / "kept", today=TODAY, now=NOW)

    assert restored.kept is None
    assert digest(fresh) == digest(filled)


def test_an_open_second_connection_sees_the_restored_rows(sqlite_book: Path, tmp_path: Path) -> None:
    """Restoring goes through SQLite's locks, so that other connections stay right."""
    engine = open_engine(str(sqlite_book))
    back_up(engine, tmp_path / "copy", NOW)
    with act(engine) as work:
        add_unit(work)
        work.commit("later")
    with engine.connect() as other:
        assert other.exec_driver_sql("SELECT count(*) FROM unit").scalar() == 1
        other.rollback()

        restore(engine, tmp_path / "copy", tmp_path / "kept", today=TODAY, now=NOW)

        assert other.exec_driver_sql("SELECT count(*) FROM unit").scalar() == 0


def test_every_flipped_bit_is_refused(sqlite_book: Path, tmp_path: Path) -> None:
    """60 of 60 damaged backups are refused, and the book stays as it was."""
    engine = open_engine(str(sqlite_book))
    file = tmp_path / "copy"
    back_up(engine, file, NOW)
    whole, before, chance = file.read_bytes(), digest(engine), random.Random(7)
    refused = 0
    for _ in range(60):
        spoilt = bytearray(whole)
        spoilt[chance.randrange(len(whole))] ^= 1 << chance.randrange(8)
        file.write_bytes(spoilt)
        with pytest.raises(Refused, match="digest differs"):
            restore(engine, file, tmp_path / "kept", today=TODAY, now=NOW)
        refused += 1

    assert refused == 60
    assert digest(engine) == before


@pytest.mark.parametrize("kind", ["database of another program", "text"])
def test_a_foreign_file_is_no_backup_though_its_manifest_fits(sqlite_book: Path, tmp_path: Path, kind: str) -> None:
    """Digest and size tell that a file is as it was written, not what it is: it is looked into before a restore."""
    engine = open_engine(str(sqlite_book))
    true = back_up(engine, tmp_path / "copy", NOW)
    before, foreign = digest(engine), tmp_path / "foreign"
    if kind == "text":
        foreign.write_text("dear diary")
    else:
        with closing(sqlite3.connect(foreign)) as other, other:
            other.execute("CREATE TABLE recipe (name TEXT)")
    content = foreign.read_bytes()
    write_manifest(foreign, replace(true, size=len(content), sha256=sha256(content).hexdigest()))

    assert "damaged" == condition(foreign)
    with pytest.raises(Damaged, match="foreign is not a sound book: it is a file of something else"):
        restore(engine, foreign, tmp_path / "kept", today=TODAY, now=NOW)

    assert before == digest(engine)
    assert not (tmp_path / "kept").exists()


def test_a_backup_overwrites_nothing(sqlite_book: Path, tmp_path: Path) -> None:
    """A file or a manifest that is there already is left alone."""
    (tmp_path / "copy").write_text("mine")

    with pytest.raises(Refused, match="overwrites nothing"):
        back_up(open_engine(str(sqlite_book)), tmp_path / "copy", NOW)
    assert (tmp_path / "copy").read_text() == "mine"
    manifest_path(tmp_path / "other").write_text("of a backup that was carried off")
    with pytest.raises(Refused, match="overwrites nothing"):
        back_up(open_engine(str(sqlite_book)), tmp_path / "other", NOW)
    assert not (tmp_path / "other").exists()
    with pytest.raises(Refused, match="no folder"):
        back_up(open_engine(str(sqlite_book)), tmp_path / "nowhere" / "copy", NOW)


def test_a_backup_follows_no_link_to_a_file_that_is_not_there(sqlite_book: Path, tmp_path: Path) -> None:
    """A name that leads nowhere is taken all the same, and no manifest is left beside it."""
    (tmp_path / "copy").symlink_to(tmp_path / "nowhere")

    with pytest.raises(Refused, match="overwrites nothing"):
        back_up(open_engine(str(sqlite_book)), tmp_path / "copy", NOW)

    assert not manifest_path(tmp_path / "copy").exists()


def test_a_backup_that_fails_at_its_last_step_leaves_nothing(
    sqlite_book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No manifest stands without its backup, in the way of the next one; and a name taken meanwhile is refused."""
    engine, link = open_engine(str(sqlite_book)), os.link

    def taken(source: Path, target: Path) -> None:
        if target.name == "copy":
            target.write_text("theirs")
        link(source, target)

    monkeypatch.setattr("os.link", taken)
    with pytest.raises(Refused, match=r"There is something at .*copy already"):
        back_up(engine, tmp_path / "copy", NOW)

    assert (tmp_path / "copy").read_text() == "theirs"
    assert [path.name for path in tmp_path.glob("*copy*")] == ["copy"]


def test_a_backup_of_another_book_is_refused(sqlite_book: Path, tmp_path: Path, engine: Engine) -> None:
    """It would put one collection in the place of another; the refusal names a place of its own."""
    start_book(str(tmp_path / "other"), BookSettings(name="Hill Club"), today=TODAY, now=NOW)
    back_up(open_engine(str(tmp_path / "other")), tmp_path / "copy", NOW)
    before = digest(engine)

    with pytest.raises(Refused, match=r"another book .Hill Club. than the one in use;") as refusal:
        restore(engine, tmp_path / "copy", tmp_path / "kept", today=TODAY, now=NOW)

    assert "--db NEWFILE restore" in refusal.value.hint
    assert digest(engine) == before
    assert not (tmp_path / "kept").exists()


def test_the_book_itself_is_not_restored_over_itself(sqlite_book: Path, tmp_path: Path) -> None:
    """Naming the live file with a manifest beside it is refused."""
    engine = open_engine(str(sqlite_book))
    back_up(engine, tmp_path / "copy", NOW)
    manifest_path(sqlite_book).write_bytes(manifest_path(tmp_path / "copy").read_bytes())

    with pytest.raises(Refused):
        restore(engine, sqlite_book, tmp_path / "kept", today=TODAY, now=NOW)


def test_a_foreign_file_in_the_books_place_is_not_overwritten(sqlite_book: Path, tmp_path: Path) -> None:
    """Restore refuses to replace something that is not a book."""
    back_up(open_engine(str(sqlite_book)), tmp_path / "copy", NOW)
    foreign = tmp_path / "letters.txt"
    foreign.write_text("dear aunt " * 500)

    with pytest.raises(NoBook, match="not a book"):
        restore(open_engine(str(foreign)), tmp_path / "copy", tmp_path / "kept", today=TODAY, now=NOW)
    assert foreign.read_text().startswith("dear aunt")


def test_what_cannot_be_restored_is_refused_before_anything_is_asked(sqlite_book: Path, tmp_path: Path) -> None:
    """A folder, and a place that is not a book's: nobody says yes to what is refused afterwards."""
    back_up(open_engine(str(sqlite_book)), tmp_path / "copy", NOW)
    foreign = tmp_path / "letters.txt"
    foreign.write_text("dear aunt " * 500)

    folder = run_cli(["restore", str(tmp_path)], db=sqlite_book)
    letters = run_cli(["restore", str(tmp_path / "copy")], db=foreign)

    listed = f"Name one of its backups: spindlebook backup list {typed(str(tmp_path))}"
    assert (1, "", f"{tmp_path} is a folder.\n{listed}\n") == (folder.code, folder.out, folder.err)
    assert (5, "") == (letters.code, letters.out)
    assert letters.err.startswith(f"{foreign} is not a book of this program")


def test_a_damaged_book_is_kept_and_replaced(sqlite_book: Path, tmp_path: Path) -> None:
    """A book whose pages are damaged is kept byte by byte, its journal too, and the backup takes its place."""
    engine = open_engine(str(sqlite_book))
    back_up(engine, tmp_path / "copy", NOW)
    before = digest(engine)
    damaged = bytearray(sqlite_book.read_bytes())
    damaged[4096 * 3 : 4096 * 60] = bytes(4096 * 57)
    sqlite_book.write_bytes(damaged)
    # SQLite leaves a journal alone that begins so ("Atomic Commit In SQLite" 4.2, from memory).
    left_over = bytes(28) + b"pages"
    journal_path(sqlite_book).write_bytes(left_over)

    try:
        restored = restore(engine, tmp_path / "copy", tmp_path / "kept", today=TODAY, now=NOW)
    except NoBook:
        pytest.fail("the damage reached the pages that name the book; choose others")

    assert restored.kept is not None
    assert restored.kept.read_bytes() == bytes(damaged)
    assert journal_path(restored.kept).read_bytes() == left_over
    assert not journal_path(sqlite_book).exists()
    assert digest(engine) == before


def test_a_locked_book_is_not_taken_for_a_damaged_one(sqlite_book: Path, tmp_path: Path) -> None:
    """What another program is writing stays in its place, and its commit is in the book."""
    engine = open_engine(str(sqlite_book))
    back_up(engine, tmp_path / "copy", NOW)
    with closing(sqlite3.connect(sqlite_book, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        other.execute("UPDATE book SET name = 'theirs'")

        with pytest.raises(OperationalError, match="locked"):
            restore(engine, tmp_path / "copy", tmp_path / "kept", today=TODAY, now=NOW)

        other.execute("COMMIT")
    assert scalar(engine, "SELECT name FROM book") == "theirs"
    assert not (tmp_path / "kept").exists()


def test_no_act_is_lost_between_keeping_the_present_state_and_restoring(
    engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An act that comes while the present state is kept stops the restore, or waits until the restore is through."""
    back_up(engine, tmp_path / "copy", NOW)

    def kept_while_another_writes(*given: Any, **named: Any) -> Any:
        manifest = back_up(*given, **named)
        with act(open_engine(engine.url.render_as_string(hide_password=False))) as work:
            add_unit(work, "D9")
            work.commit("in between")
        return manifest

    monkeypatch.setattr("collection.acts.backups.back_up", kept_while_another_writes)
    with pytest.raises((Moved, OperationalError)) as stopped:
        restore(engine, tmp_path / "copy", tmp_path / "kept", today=TODAY, now=NOW)

    assert isinstance(stopped.value, Moved) == (engine.dialect.name == "sqlite")
    assert scalar(engine, "SELECT count(*) FROM unit") == (1 if engine.dialect.name == "sqlite" else 0)


def test_a_name_that_is_taken_does_not_make_a_sound_book_a_damaged_one(sqlite_book: Path, tmp_path: Path) -> None:
    """What a killed restore left in the folder of kept states is passed by."""
    engine, kept = open_engine(str(sqlite_book)), tmp_path / "kept"
    back_up(engine, tmp_path / "copy", NOW)
    first = restore(engine, tmp_path / "copy", kept, today=TODAY, now=NOW).kept
    assert first is not None
    first.unlink()

    second = restore(engine, tmp_path / "copy", kept, today=TODAY, now=NOW).kept

    assert second is not None
    assert second != first
    assert check_backup(second).rows["book"] == 1


def test_the_journal_of_a_book_that_is_gone_spoils_no_other(sqlite_book: Path, tmp_path: Path) -> None:
    """SQLite would roll it back into whatever file has its name: a restore removes it, a start refuses."""
    engine, before = open_engine(str(sqlite_book)), digest(open_engine(str(sqlite_book)))
    back_up(engine, tmp_path / "copy", NOW)
    with closing(sqlite3.connect(sqlite_book, isolation_level=None)) as other:
        other.execute("PRAGMA cache_size = 1")
        other.execute("PRAGMA cache_spill = 1")
        other.execute("BEGIN IMMEDIATE")
        other.execute("UPDATE book SET name = 'half'")
        other.execute("UPDATE procedure SET steps = steps || 'x'")
        left_over = journal_path(sqlite_book).read_bytes()
        other.execute("ROLLBACK")
    sqlite_book.unlink()
    journal_path(sqlite_book).write_bytes(left_over)

    with pytest.raises(Refused, match="left over by a book that is gone"):
        start_book(str(sqlite_book), BookSettings(), today=TODAY, now=NOW)
    with pytest.raises(Refused, match="left over by a book that is gone"):
        refuse_unless_demo(sqlite_book)
    restore(engine, tmp_path / "copy", tmp_path / "kept", today=TODAY, now=NOW)

    assert not journal_path(sqlite_book).exists()
    assert digest(engine) == before


class _Cut(sqlite3.Connection):
    """A connection whose copying is cut short, as by Ctrl-C."""

    def backup(self, *_: object, **__: object) -> None:
        raise KeyboardInterrupt


def _cut_short(monkeypatch: pytest.MonkeyPatch) -> None:
    real = sqlite3.connect
    monkeypatch.setattr("collection.store.backup.sqlite3.connect", lambda *a, **k: real(*a, factory=_Cut, **k))


def test_a_restore_that_is_cut_short_leaves_an_empty_place_empty(
    sqlite_book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No empty file stands where a book belongs, in the way of the next start."""
    back_up(open_engine(str(sqlite_book)), tmp_path / "copy", NOW)
    _cut_short(monkeypatch)

    with pytest.raises(KeyboardInterrupt):
        restore(open_engine(str(tmp_path / "fresh")), tmp_path / "copy", tmp_path / "kept", today=TODAY, now=NOW)

    assert list(tmp_path.glob("*fresh*")) == []


def test_a_damaged_book_stays_in_its_place_until_the_backup_is_there(
    sqlite_book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the restore fails, a book that could be read in part is no worse off than before."""
    back_up(open_engine(str(sqlite_book)), tmp_path / "copy", NOW)
    damaged = bytearray(sqlite_book.read_bytes())
    damaged[4096 * 3 : 4096 * 60] = bytes(4096 * 57)
    sqlite_book.write_bytes(damaged)

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("collection.store.backup.put_over", full)
    with pytest.raises(OSError, match="No space"):
        restore(open_engine(str(sqlite_book)), tmp_path / "copy", tmp_path / "kept", today=TODAY, now=NOW)

    assert sqlite_book.read_bytes() == bytes(damaged)


def test_a_medium_without_hard_links_takes_books_and_backups(
    sqlite_book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A memory stick refuses them with EPERM; files are renamed there, and still nothing is overwritten."""

    def refuse(*_: object) -> None:
        raise PermissionError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr("os.link", refuse)
    engine = open_engine(str(sqlite_book))
    back_up(engine, tmp_path / "copy", NOW)
    start_book(str(tmp_path / "other"), BookSettings(), today=TODAY, now=NOW)

    assert check_backup(tmp_path / "copy").rows["book"] == 1
    assert (tmp_path / "other").exists()
    (tmp_path / "new").write_text("whole")
    with pytest.raises(FileExistsError):
        put_in_place(tmp_path / "new", tmp_path / "copy")
    check_backup(tmp_path / "copy")


def test_what_was_broken_off_leaves_no_file_behind(tmp_path: Path) -> None:
    """Where a disk is full, SQLite cannot even take away the journal of the copy: it holds rows of the book."""
    with pytest.raises(OSError, match="full"), beside(tmp_path / "copy") as temporary:
        Path(f"{temporary}-journal").touch()
        raise OSError(errno.ENOSPC, "full")

    assert [] == list(tmp_path.iterdir())
