"""Offering the tags and names of a book while a person types."""

from __future__ import annotations

from pathlib import Path

import click
import pytest

from collection.acts.work import open_work
from collection.cli.main import program
from collection.cli.tags import (
    complete_instrument,
    complete_measurement,
    complete_procedure,
    complete_supply,
    complete_tag,
)
from collection.errors import fold
from collection.store.engine import open_engine
from collection.views.tag_hits import names_beginning, tags_beginning
from tests.support.cli import Ran, run_cli, run_process, run_python
from tests.support.times import NOW, TODAY


@pytest.fixture
def book(sqlite_book: Path) -> Path:
    """Return a book with 51 units D1 to D51, an accented tag, one with a sign of SQL patterns, and a void one."""
    engine = open_engine(str(sqlite_book))
    with open_work(engine, "unit add", today=TODAY, now=NOW) as work:
        model = work.insert("model", maker="", maker_folded="", name="Marlow 40", name_folded="marlow 40", kind="drive")
        tags = [*(f"D{number}" for number in range(1, 52)), "Élan 1", "100%"]
        for tag in tags:
            work.insert("unit", tag=tag, tag_folded=fold(tag), model_id=model)
        gone = work.insert("unit", tag="D99", tag_folded="d99", model_id=model)
        work.set_void("unit", [gone], void=True)
        work.commit("added units")
    engine.dispose()
    return sqlite_book


@pytest.mark.parametrize(
    ("start", "tags"),
    [
        ("d5", ["D5", "D50", "D51"]),
        ("D9", ["D9"]),
        ("él", ["Élan 1"]),
        ("100%", ["100%"]),
        ("1%", []),
        ("x", []),
    ],
)
def test_tags_are_offered_whatever_the_case_of_the_first_letters(book: Path, start: str, tags: list[str]) -> None:
    """The beginning counts, folded as the book folds tags; a unit whose adding was undone is not offered."""
    assert tags == tags_beginning(book, start)


def test_at_most_fifty_tags_are_offered(book: Path) -> None:
    """A long list helps nobody who is typing."""
    assert 50 == len(tags_beginning(book, "d"))


def test_where_there_is_no_book_nothing_is_offered(tmp_path: Path) -> None:
    """A missing file, a folder and a foreign file are no reason to disturb a person at a prompt."""
    foreign = tmp_path / "notes.txt"
    foreign.write_text("no book")

    assert [] == tags_beginning(tmp_path / "nothing", "d") == tags_beginning(tmp_path, "d")
    assert [] == tags_beginning(foreign, "d")
    assert not (tmp_path / "nothing").exists()


def test_completion_reads_the_book_that_the_line_names(book: Path) -> None:
    """--db on the line being typed decides; a book on a server gets no offers."""
    for place, tags in ((str(book), ["D5", "D50", "D51"]), ("postgresql://club/book", [])):
        with program.make_context("spindlebook", ["--db", place, "due"], resilient_parsing=True) as ctx:
            assert tags == complete_tag(ctx, click.Argument(["tag"]), "d5")


def test_completion_loads_no_database_library(book: Path) -> None:
    """Offering tags must not load SQLAlchemy."""
    script = (
        "import sys\nfrom pathlib import Path\nfrom collection.views.tag_hits import tags_beginning\n"
        f"print(*tags_beginning(Path({str(book)!r}), 'd51'), 'sqlalchemy' in sys.modules)"
    )

    assert Ran(0, "D51 False\n", "") == run_python(script)


def test_a_shell_is_offered_the_tags_of_a_unit_to_show(book: Path) -> None:
    """What a person types after `unit show` is completed from the book in use."""
    words = f"spindlebook --db {book} unit show d5"
    env = {"_SPINDLEBOOK_COMPLETE": "bash_complete", "COMP_WORDS": words, "COMP_CWORD": "5"}

    assert ["plain,D5", "plain,D50", "plain,D51"] == run_process([], env=env).out.split()


def test_names_are_offered_as_tags_are_but_no_instrument_that_is_retired(book: Path) -> None:
    """A new book has its reference data; each kind offers its own, whatever the case."""
    engine = open_engine(str(book))
    with open_work(engine, "instrument add", today=TODAY, now=NOW) as work:
        for name, retired_on in (("Counter A", None), ("Counter B", "2025-01-01")):
            work.insert("instrument", name=name, name_folded=fold(name), retired_on=retired_on)
        work.commit("added instruments")
    engine.dispose()

    with program.make_context("spindlebook", ["--db", str(book), "due"], resilient_parsing=True) as ctx:
        argument = click.Argument(["name"])
        offered = [
            complete(ctx, argument, start)
            for complete, start in (
                (complete_supply, "ISO"),
                (complete_procedure, "Clean"),
                (complete_measurement, "sp"),
                (complete_instrument, "count"),
            )
        ]

    assert [
        ["isopropyl alcohol 99 %"],
        ["clean and re-lube rails", "clean head"],
        ["spindle speed"],
        ["Counter A"],
    ] == offered
    assert [] == names_beginning(book.parent, "supply", "iso")


def test_bash_gets_names_that_it_reads_as_one_word(book: Path) -> None:
    """Blanks are escaped on the line, and neither script loses the escape or what stands behind a comma."""
    words = f"spindlebook --db {book} supply show foam"
    env = {"_SPINDLEBOOK_COMPLETE": "bash_complete", "COMP_WORDS": words, "COMP_CWORD": "5"}

    assert r"plain,foam\ swab,\ lint-free" == run_process([], env=env).out.strip()
    assert "read -r type value" in run_cli(["completion", "bash"]).out
    assert 'string split --max 1 "," $completion' in run_cli(["completion", "fish"]).out
