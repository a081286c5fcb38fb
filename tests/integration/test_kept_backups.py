"""Backups are kept in one folder, each looked into; how old the last one is rests on the chain of acts."""

import errno
import json
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy.engine import Engine

from collection.acts.backups import judge, keep, keep_unless_kept, prune
from collection.acts.restore import restore
from collection.acts.settings import set_book
from collection.analysis.keeping import Rule
from collection.errors import Refused
from collection.store.backup import back_up, condition
from collection.store.engine import open_engine, reading
from collection.store.kept import Kept, backups_in, made_so_far, others_in, remember, remove
from collection.store.manifest import manifest_path, write_manifest
from collection.views.backup_age import BackupAge, age_of_last
from tests.support.books import act, add_unit, scalar
from tests.support.cli import run_cli
from tests.support.times import NOW, TODAY

ONE = Rule(newest=1, days=0, months=0)


def _do_something(engine: Engine, tag: str = "D1") -> None:
    with act(engine) as work:
        add_unit(work, tag)
        work.commit("done")


def _book(engine: Engine) -> str:
    return str(scalar(engine, "SELECT key FROM book"))


def _age(engine: Engine, folder: Path, days: int) -> BackupAge:
    with reading(engine) as connection:
        made = made_so_far(folder, folder / "state", _book(engine))
        return age_of_last(connection, made, NOW + timedelta(days=days))


def test_backups_of_one_second_get_names_of_their_own(sqlite_book: Path, tmp_path: Path) -> None:
    """The name has the instant and the reason; a name that is taken is passed by, also when it is taken meanwhile."""
    engine = open_engine(str(sqlite_book))

    made = [keep(engine, tmp_path / "kept", why, NOW) for why in ("", "before import", "before import")]

    stem = "book-20260301T120000Z"
    assert [kept.file.name for kept in made] == [stem, f"{stem}-before-import", f"{stem}-before-import-2"]
    assert backups_in(tmp_path / "kept", _book(engine)) == made
    assert [condition(kept.file) for kept in made] == ["good"] * 3


def test_what_is_kept_already_is_not_kept_twice(sqlite_book: Path, tmp_path: Path) -> None:
    """Before an import a good backup of just this state will do; after an act, or when it is damaged, it will not."""
    engine = open_engine(str(sqlite_book))
    first = keep_unless_kept(engine, tmp_path / "kept", "before import", NOW)
    assert keep_unless_kept(engine, tmp_path / "kept", "before import", NOW) == first
    first.file.write_bytes(first.file.read_bytes()[:-1])
    second = keep_unless_kept(engine, tmp_path / "kept", "before import", NOW)
    assert second.file != first.file

    _do_something(engine)

    assert keep_unless_kept(engine, tmp_path / "kept", "before import", NOW).manifest.rows["unit"] == 1


def test_where_no_backup_comes_about_no_folder_is_left(
    sqlite_book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One that was there stays, with what is in it."""

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("collection.store.backup.put_in_place", full)
    engine = open_engine(str(sqlite_book))
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "letter.txt").write_text("mine")

    for folder in (tmp_path / "new", tmp_path / "there"):
        with pytest.raises(OSError, match="No space left"):
            keep(engine, folder, "", NOW)

    assert not (tmp_path / "new").exists()
    assert ["letter.txt"] == [path.name for path in (tmp_path / "there").iterdir()]


def test_prune_never_takes_the_last_good_one(sqlite_book: Path, tmp_path: Path) -> None:
    """The newest is damaged and stays to be looked at; the newest good one stays, older good ones go with manifests."""
    engine, folder = open_engine(str(sqlite_book)), tmp_path / "kept"
    made = [keep(engine, folder, "", NOW + timedelta(days=day)) for day in range(3)]
    made[2].file.write_bytes(b"spoilt")
    (folder / "letter.txt").write_text("mine")

    judged = judge(backups_in(folder, _book(engine)), "UTC", ONE)
    prune(judged)

    assert [(each.condition, each.stays) for each in judged] == [("good", ""), ("good", "newest"), ("damaged",) * 2]
    left = [path for kept in made[1:] for path in (kept.file, manifest_path(kept.file))]
    assert sorted(folder.iterdir()) == [*left, folder / "letter.txt"]
    assert others_in(folder, made) == [folder / "letter.txt"]
    with pytest.raises(Refused, match="No good backup would stay"):
        prune([replace(judged[1], stays=""), judged[2]])  # only the damaged one would
    assert made[1].file.exists()


@pytest.mark.parametrize("steps", [0, 1, 2, 3])
def test_a_prune_that_is_cut_off_leaves_nothing_in_the_way_and_the_next_one_ends_it(
    sqlite_book: Path, monkeypatch: pytest.MonkeyPatch, steps: int
) -> None:
    """Between any two of its steps: the list has whole backups only and says that something was left over."""
    for _ in range(2):
        assert 0 == run_cli(["backup"], db=sqlite_book).code
    folder = sqlite_book.parent / "kept"
    old, new = backups_in(folder, None)
    left = iter(range(steps))

    def killed(do: Callable[..., object]) -> Callable[..., object]:
        def step(*args: object, **given: object) -> object:
            if next(left, None) is None:
                raise KeyboardInterrupt
            return do(*args, **given)

        return step

    with monkeypatch.context() as patch, suppress(KeyboardInterrupt):
        patch.setattr(Path, "replace", killed(Path.replace))
        patch.setattr(Path, "unlink", killed(Path.unlink))
        remove(old)
    assert ([new] if steps else [old, new]) == backups_in(folder, None)
    listed = run_cli(["backup", "list"], db=sqlite_book)
    assert ("" if steps in (0, 3) else "1 removal was cut off. To end it: spindlebook backup prune\n") == listed.err
    pruned = run_cli(["backup", "prune", "--newest", "1", "--days", "0", "--months", "0", "--yes"], db=sqlite_book)

    assert (steps in (1, 2)) == ("Removed what 1 removal that was cut off had left.\n" in pruned.out)
    assert sorted(folder.iterdir()) == [new.file, manifest_path(new.file)]
    assert "" == run_cli(["backup", "list"], db=sqlite_book).err


def test_what_a_prune_left_takes_no_backup_away_that_was_given_its_name_since(sqlite_book: Path) -> None:
    """A manifest alone, as an earlier program left it, is told of and stays: its file may be elsewhere."""
    for _ in range(2):
        assert 0 == run_cli(["backup"], db=sqlite_book).code
    folder = sqlite_book.parent / "kept"
    first, second = backups_in(folder, None)
    (folder / f".{first.file.name}.going").write_bytes(manifest_path(first.file).read_bytes())
    second.file.unlink()

    assert "1 other file stands there" in run_cli(["backup", "list"], db=sqlite_book).err
    assert 0 == run_cli(["backup", "prune", "--yes"], db=sqlite_book).code

    assert set(folder.iterdir()) == {first.file, manifest_path(first.file), manifest_path(second.file)}


def test_what_another_prune_has_removed_meanwhile_is_no_failure(sqlite_book: Path) -> None:
    """Two of them may go over one folder at once."""
    assert 0 == run_cli(["backup"], db=sqlite_book).code
    folder = sqlite_book.parent / "kept"
    (kept,) = backups_in(folder, None)

    for _ in range(2):
        remove(kept)
    assert [] == list(folder.iterdir())


def test_a_hidden_file_of_another_program_ends_no_removal(sqlite_book: Path) -> None:
    """A prune takes away what it began to; a name alone says nothing of that, not even one without a file's name."""
    assert 0 == run_cli(["backup"], db=sqlite_book).code
    folder = sqlite_book.parent / "kept"
    for name, text in (("film", "mine"), (".film.going", "half of it"), ("..going", "{}")):
        (folder / name).write_text(text, encoding="utf-8")
    before = {file: file.read_bytes() for file in folder.iterdir()}

    assert "cut off" not in run_cli(["backup", "list"], db=sqlite_book).err
    assert "cut off" not in run_cli(["backup", "prune", "--yes"], db=sqlite_book).out

    assert before == {file: file.read_bytes() for file in folder.iterdir()}


def test_the_days_of_the_rule_are_those_of_the_books_time_zone(sqlite_book: Path, tmp_path: Path) -> None:
    """Half an hour before midnight in UTC it is the next day further east, on which a later one was made."""
    engine = open_engine(str(sqlite_book))
    kept = [keep(engine, tmp_path, "", NOW + timedelta(hours=hours)) for hours in (11.5, 12.5, 99)]

    assert ["its day", "its day", "newest"] == [each.stays for each in judge(kept, "UTC", Rule(1, 3, 0))]
    assert ["", "its day", "newest"] == [each.stays for each in judge(kept, "Etc/GMT-2", Rule(1, 3, 0))]


def test_backups_of_other_books_are_nobody_elses_to_prune(sqlite_book: Path, tmp_path: Path) -> None:
    """In one folder stand those of many books; each sees its own."""
    engine = open_engine(str(sqlite_book))
    own = keep(engine, tmp_path, "", NOW)
    other = tmp_path / "copy"
    other.write_bytes(own.file.read_bytes())
    write_manifest(other, replace(own.manifest, book="another"))

    assert backups_in(tmp_path, _book(engine)) == [own]
    assert len(backups_in(tmp_path, None)) == 2


def test_the_age_of_the_last_backup_counts_when_acts_are_newer(engine: Engine, tmp_path: Path) -> None:
    """Old is above 14 days, or what the book is set to; with no act since, no backup is old."""
    assert [_age(engine, tmp_path, days).is_old for days in (14, 15)] == [False, True]
    assert "No backup of this book is known here, and its first act is 15 days old." == _age(engine, tmp_path, 15).said
    kept = Kept(tmp_path / "elsewhere", back_up(engine, tmp_path / "elsewhere", NOW))
    remember(tmp_path / "state", kept)
    kept.file.rename(tmp_path / "carried off")
    assert not _age(engine, tmp_path, 99).is_old

    _do_something(engine)

    assert [_age(engine, tmp_path, days).is_old for days in (14, 15)] == [False, True]
    assert "The last backup is 15 days old; 1 act is newer." == _age(engine, tmp_path, 15).said
    assert 0 == _age(engine, tmp_path, -3).days  # the clock was set back
    set_book(engine, {"backup days": "1"}, today=TODAY, now=NOW)
    assert [_age(engine, tmp_path, days).is_old for days in (1, 2)] == [False, True]
    assert _age(engine, tmp_path, 2).acts_since == 2
    set_book(engine, {"backup days": "0"}, today=TODAY, now=NOW)
    assert not _age(engine, tmp_path, 9999).is_old


def test_a_backup_of_acts_that_were_restored_away_is_not_the_last_one(sqlite_book: Path, tmp_path: Path) -> None:
    """After going back to Monday's state Tuesday's backup holds nothing of what is done from then on."""
    engine = open_engine(str(sqlite_book))
    monday = keep(engine, tmp_path, "", NOW)
    _do_something(engine)
    keep(engine, tmp_path, "", NOW + timedelta(days=1))

    restore(engine, monday.file, tmp_path / "aside", today=TODAY, now=NOW + timedelta(days=2))

    last = _age(engine, tmp_path, 3).last
    assert last is not None
    assert last.file == str(monday.file)


@pytest.mark.parametrize("days", ["3651", "99999", "2.5", "-1", "many"])
def test_days_to_the_next_backup_that_no_book_can_have_are_refused(sqlite_book: Path, days: str) -> None:
    """0, for never, and 3650 are inside."""
    engine = open_engine(str(sqlite_book))
    with pytest.raises(Refused, match=r"whole days, 0 \(never\) to 3650"):
        set_book(engine, {"backup days": days}, today=TODAY, now=NOW)
    for inside, shown in (("0", "never"), ("1", "1 day"), ("3650", "3650 days")):
        assert set_book(engine, {"backup days": inside}, today=TODAY, now=NOW)[0].after == shown


def test_the_commands_keep_list_remind_and_prune(book_url: str, tmp_path: Path) -> None:
    """An import is backed up before; due says an old backup in one line; the dry run of prune removes none."""
    (tmp_path / "csv").mkdir()
    (tmp_path / "csv" / "locations.csv").write_text("location\nattic\n", encoding="utf-8")
    assert 0 == run_cli(["import", str(tmp_path / "csv"), "--yes"], db=book_url).code
    later = TODAY + timedelta(days=20)
    reminded = run_cli(["due"], db=book_url, today=later)
    assert 0 == run_cli(["backup"], db=book_url, today=later).code

    listed = json.loads(run_cli(["backup", "list", "--json"], db=book_url).out)
    dry = run_cli(["backup", "prune", "--newest", "1", "--days", "0", "--months", "0"], db=book_url)
    told = json.loads(run_cli(["where", "--json"], db=book_url, today=later).out)

    assert reminded.err == "The last backup is 20 days old; 1 act is newer. Make one: spindlebook backup\n"
    assert [(row["why"], row["acts"], row["condition"]) for row in listed] == [
        ("before import", 1, "good"),
        ("", 2, "good"),
    ]
    assert "1 of 2 would go" in dry.out
    assert (told["last_backup"], told["acts_since_backup"]) == ("2026-03-21T12:00:00Z", 0)
    assert 2 == len(json.loads(run_cli(["backup", "list", "--json"], db=book_url).out))
    words = ["backup", "prune", "--newest", "1", "--days", "0", "--months", "0", "--yes"]
    assert 0 == run_cli(words, db=book_url).code
    assert [Path(told["last_backup_file"]).name] == [
        Path(row["file"]).name for row in json.loads(run_cli(["backup", "list", "--json"], db=book_url).out)
    ]


@pytest.mark.parametrize(("word", "meant"), [("lst", "list"), ("prun", "prune"), ("tke", "take"), ("lists", "list")])
def test_a_mistyped_command_makes_no_backup_of_that_name(
    sqlite_book: Path, monkeypatch: pytest.MonkeyPatch, word: str, meant: str
) -> None:
    """A name that is said to be a file is one."""
    monkeypatch.chdir(sqlite_book.parent)
    ran = run_cli(["backup", word], db=sqlite_book)

    assert (2, "") == (ran.code, ran.out)
    assert f"did you mean {meant}? For a file of that name type ./{word}" in ran.err
    assert not Path(word).exists()
    assert 0 == run_cli(["backup", f"./{word}"], db=sqlite_book).code
    assert Path(word).exists()


def test_without_a_book_nothing_is_made_for_its_backups(tmp_path: Path) -> None:
    """The folder of a place that was mistyped is not there afterwards either."""
    ran = run_cli(["backup"], db=tmp_path / "nowhere" / "book")

    assert (5, f"There is no book at {tmp_path / 'nowhere' / 'book'}.") == (ran.code, ran.err.splitlines()[0])
    assert not (tmp_path / "nowhere").exists()


def test_a_list_says_which_may_go_and_what_else_stands_there(sqlite_book: Path) -> None:
    """Nine of one day: the seven newest stay; a file that is no backup of the book is counted and left alone."""
    for _ in range(9):
        assert 0 == run_cli(["backup"], db=sqlite_book).code
    (sqlite_book.parent / "kept" / "letter.txt").write_text("mine", encoding="utf-8")

    ran = run_cli(["backup", "list"], db=sqlite_book)

    assert "2 of 9 may go: spindlebook backup prune\n" in ran.out
    assert (
        "1 other file stands there: of another book, of an older version, of a damaged one, or a manifest alone.\n"
        == ran.err
    )


def test_what_is_restored_says_when_it_was_made_by_the_clocks_of_its_book(sqlite_book: Path) -> None:
    """As every list of instants does; the book that it is put in the place of may be gone."""
    with act(open_engine(str(sqlite_book))) as work:
        work.update("book", 1, time_zone="Asia/Kathmandu")
        work.commit("moved east")
    assert 0 == run_cli(["backup"], db=sqlite_book).code
    sqlite_book.unlink()

    ran = run_cli(["restore", "book-20260301T120000Z", "--yes"], db=sqlite_book)

    assert ": made 2026-03-01 17:45 (Asia/Kathmandu), " in ran.out.splitlines()[0]
    assert "T12:00" not in ran.out


def test_kept_backups_are_listed_when_the_book_itself_is_gone(sqlite_book: Path, tmp_path: Path) -> None:
    """That is when one looks for them; the name alone brings one back."""
    assert 0 == run_cli(["backup"], db=sqlite_book).code
    sqlite_book.unlink()

    ran = run_cli(["backup", "list"], db=sqlite_book)

    assert 0 == ran.code
    assert ran.err.startswith(f"There is no book at {sqlite_book}.\n")
    assert "book-20260301T120000Z" in ran.out
    assert 0 == run_cli(["restore", "book-20260301T120000Z", "--yes"], db=sqlite_book).code
    assert 0 == run_cli(["verify"], db=sqlite_book).code
