"""The commands of a unit that comes, as a person at a terminal and a program see them."""

from __future__ import annotations

import json
from pathlib import Path

import pexpect
import pytest
from sqlalchemy.engine import Engine

from collection.store.engine import open_engine
from tests.support.books import digest
from tests.support.cli import environment, run_cli
from tests.support.shelf import shelf
from tests.support.terminal import screen
from tests.support.times import TODAY
from tests.support.warm import warm_program

PNG = b"\x89PNG\r\n\x1a\n and so on"


@pytest.fixture
def book(sqlite_book: Path) -> Path:
    """Return a book with one drive, a person and an arrival check; a picture lies beside it."""
    engine: Engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        made.no_procedures()
        made.procedure("arrival check", triggers="after arrival")
        made.unit("D1")
        made.person("Anna Lerk")
    engine.dispose()
    (sqlite_book.parent / "a=b.png").write_bytes(PNG)
    return sqlite_book


def answered(book: Path, words: list[str], answers: list[tuple[str, str]]) -> str:
    """Return what a terminal shows of a command whose questions are answered; each must be asked in its turn."""
    clean = {name: value for name, value in environment().items() if name not in ("COLUMNS", "NO_COLOR")}
    args = [*warm_program()[1:], "--no-color", "--db", str(book), "--today", TODAY.isoformat(), *words]
    child = pexpect.spawn(
        warm_program()[0], args, env={**clean, "TERM": "xterm"}, dimensions=(50, 80), encoding="utf-8", timeout=30
    )
    for question, answer in answers:
        child.expect_exact(question)
        child.sendline(answer)
    text = str(child.read())
    child.close()
    assert 0 == child.exitstatus, text
    return "\n".join(line.rstrip() for line in text.splitlines())


def test_whoever_types_the_tag_alone_is_asked_line_by_line(book: Path) -> None:
    """A name that the book does not have is asked for again, a new place is made on a yes, Enter skips."""
    shown = answered(
        book,
        ["arrival", "D2"],
        [
            ("new to the book. Its model: ", "vx-5"),
            ("Who sent or brought it: ", "Nobody"),
            ('There is no person "Nobody".', ""),
            ("Why did it come: ", "a gift"),
            ("What came in the box: ", "drive and cable"),
            ("Damage: ", ""),
            ("For which mains is it set: ", "115 V"),
            ("Fuse: ", ""),
            ("Mains cord and plug: ", "none"),
            ("Where is it put: ", "attic"),
            ('Make the location "attic"? [y/N]: ', "y"),
            ("Anything else: ", ""),
        ],
    )

    assert (
        shown
        == """
D2: Varnhall VX-5, new to the book, arrived 2026-03-01
entry number   E1
for            a gift
contents       drive and cable
mains setting  115 V
cord           none
standing       arrived

Due now
procedure      due         days over  why
arrival check  2026-03-01      today  arrived 1 Mar 2026

Doubtful: mains setting 115 V: the mains here are 230 V: leave it unplugged
Once it is looked over: spindlebook service record D2 --did "arrival check\""""
    )


def test_the_cautions_stand_before_a_unit_is_unpacked(book: Path) -> None:
    """Lifting, mains and stored charge, and who decides; a program gets them in its object."""
    shown = run_cli(["arrival", "D1", "--damage", "bent"], db=book).out
    before, _, after = shown.partition("D1: Varnhall VX-5, arrived")

    assert after
    for word in ("lift", "Mains inside the case can kill", "keep a charge", "qualified person, they decide"):
        assert word in before
    told = json.loads(run_cli(["arrival", "D2", "--model", "VX-5", "--json"], db=book).out)
    assert 3 == len(told["cautions"])


def test_pictures_come_with_the_arrival_and_go_out_as_they_came(book: Path) -> None:
    """TITLE=FILE names one; a file with "=" in its own name is found first; the card counts them."""
    file, there = book.parent / "a=b.png", book.parent / "back.png"
    plain = book.parent / "plain.png"
    plain.write_bytes(PNG + b"!")

    ran = run_cli(["arrival", "D1", "--photo", str(file), "--photo", f"front={plain}", "--json"], db=book)

    assert 2 == json.loads(ran.out)["photos"]
    listed = json.loads(run_cli(["photo", "list", "D1", "--json"], db=book).out)
    assert [("a=b.png", "2026-03-01"), ("front", "2026-03-01")] == [(row["title"], row["taken_on"]) for row in listed]
    assert 0 == run_cli(["photo", "save", "D1", "2", str(there)], db=book).code
    assert PNG + b"!" == there.read_bytes()
    assert "photos        2: spindlebook photo list D1" in screen("unit", "show", "D1", db=book, columns=80)


def test_a_picture_that_cannot_be_read_or_saved_leaves_all_as_it_was(book: Path) -> None:
    """A file that is not there, a folder, and a name that is taken: one refusal each, nothing written."""
    engine = open_engine(str(book))
    was = digest(engine)
    for name, says in (("nowhere.png", "is not there"), (".", "is a folder")):
        ran = run_cli(["arrival", "D1", "--photo", str(book.parent / name)], db=book)
        assert (1, True) == (ran.code, says in ran.err)
    assert was == digest(engine)

    added = run_cli(["photo", "add", "D1", str(book.parent / "a=b.png")], db=book)
    assert "no report shows it: the picture breaks off or is damaged." in " ".join(added.err.split())
    taken = book.parent / "taken.png"
    taken.write_bytes(b"mine")
    ran = run_cli(["photo", "save", "D1", "1", str(taken)], db=book)
    assert (1, b"mine") == (ran.code, taken.read_bytes())
    assert "is there already" in ran.err
