"""A book that was worked with travels as a folder: nothing to do at home, the same lists in a new book."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.support.cli import run_cli

SPIRIT, SWAB = "isopropyl alcohol 99 %", "foam swab, lint-free"
WORK = (
    ["supply", "receive", SPIRIT, "500", "--lot", "IPA-9", "--price", "9.99"],
    ["supply", "open", SPIRIT, "--lot", "IPA-9"],
    ["supply", "repack", SPIRIT, "20", "--into", "BOTTLE", "--lot", "IPA-9"],
    ["supply", "discard", SPIRIT, "1", "--lot", "BOTTLE", "--reason", "spilt"],
    ["supply", "return", SPIRIT, "10", "--lot", "IPA-9"],
    ["supply", "use", SPIRIT, "2 cl"],
    ["supply", "use", SWAB, "300"],
    ["supply", "count", SWAB, "30"],
    ["reading", "add", "D1", "spindle speed", "200.1ms", "--instrument", "bench counter"],
    ["reading", "add", "D1", "spindle speed", "3000", "--instrument", "bench counter"],
    ["reading", "set-aside", "D1", "--number", "1", "--reason", "belt slipped"],
    ["unit", "edit", "D1", "--serial", "=1+1", "--note", 'two\nlines, "quoted"'],
    ["unit", "enter", "D1", "--location", "bench"],
    ["loan", "out", "D1", "D9", "--to", "Orla Penhaddock", "--due", "2026-05-01", "--all-the-same", "a fair"],
    ["loan", "back", "D1"],
    ["fault", "add", "D2", "hums"],
    ["person", "add", "Zoe Quick"],
    ["undo"],
)
LISTS = (["unit", "list"], ["due"], ["stock"], ["reorder"], ["loan", "list"], ["fault", "list"], ["unit", "show", "D1"])


@pytest.fixture(scope="module")
def used(built_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demo's book after a day's work."""
    book = Path(shutil.copy(built_demo, tmp_path_factory.mktemp("used") / "demo.sqlite3"))
    for words in WORK:
        ran = run_cli(words, db=book)
        assert ran.code == 0, (words, ran.err)
    return book


@pytest.fixture(scope="module")
def exported(used: Path) -> Path:
    """Return the folder of that book."""
    folder = used.parent / "out"
    assert run_cli(["export", "folder", str(folder)], db=used).code == 0
    return folder


@pytest.fixture(scope="module")
def brought(exported: Path, sqlite_template: Path) -> Path:
    """Return a new book made from that folder; nobody may write to it."""
    book = Path(shutil.copy(sqlite_template, exported.parent / "new.sqlite3"))
    assert run_cli(["import", str(exported), "--yes"], db=book).code == 0
    return book


@pytest.fixture
def one_cache(used: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the lists of a book share what is slow to compute, as they do at a person's own desk."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(used.parent / "kept"))


def test_its_folder_brings_nothing_in(used: Path, exported: Path) -> None:
    """Whatever commands wrote a row, the export writes it as import reads it."""
    ran = run_cli(["import", str(exported)], db=used)

    assert ran.out.endswith("rows already: nothing to do.\n"), ran.out
    assert ran.code == 0


@pytest.mark.usefixtures("one_cache")
@pytest.mark.parametrize("words", LISTS, ids=" ".join)
def test_a_new_book_made_from_it_shows_the_same(used: Path, brought: Path, words: list[str]) -> None:
    """Units, due work, stock, shopping list, loans, faults and a card are those of the book it came from."""
    before, after = (run_cli([*words, "--json"], db=book) for book in (used, brought))

    assert before.code == after.code == 0
    assert _without_worth(after.out) == _without_worth(before.out)


def _without_worth(text: str) -> Any:
    """Return a list without what a lot is worth that was filled from another: the form does not tell of that."""
    told = json.loads(text)
    for row in told if isinstance(told, list) else ():
        if row.get("lot") == "BOTTLE":
            row["value"] = row["currency"] = None
    return told
