"""A large book's due list is taken from the kept results, and never after anything it rests on has moved."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from collection.cli import kept
from collection.cli.face import cache_folder
from collection.store.engine import open_engine
from tests.support.cli import run_cli
from tests.support.shelf import shelf
from tests.support.times import TODAY

FORMS = (("due",), ("due", "--json"), ("due", "--csv"), ("due", "--by-procedure"), ("due", "--by-procedure", "--json"))


@pytest.fixture
def book(sqlite_book: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a book with due work, treated as large."""
    engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        made.few_procedures()
        made.service(made.unit("D1"), "2025-02-01", "clean head")
        made.service(made.unit("D2"), "2025-03-20", "clean head", "dust out")
    engine.dispose()
    monkeypatch.setattr(kept, "_LARGE", 1)
    return sqlite_book


@pytest.mark.parametrize("form", FORMS)
def test_a_kept_list_reads_as_the_computed_one(
    book: Path, form: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second run prints the same as the first and as a run that keeps nothing, without computing."""
    first = run_cli(form, db=book)
    monkeypatch.setattr("collection.views.due.due_view", lambda *_: pytest.fail("computed again"))
    second = run_cli(form, db=book)
    monkeypatch.undo()
    plain = run_cli(form, db=book)

    assert first.code == 0
    assert "D1" in first.out
    assert first == second == plain


@pytest.mark.parametrize(
    "act",
    [
        ("service", "record", "D1", "--did", "clean head", "--outcome", "on the bench"),
        ("unit", "enter", "D1", "--standing", "gone", "--reason", "scrapped"),
        ("fault", "add", "D2", "read errors"),
        ("person", "add", "Ada Quill"),
    ],
)
def test_an_act_makes_the_kept_list_stale(book: Path, act: tuple[str, ...]) -> None:
    """After any act the list is what a run without kept results computes."""
    run_cli(("due",), db=book)
    assert run_cli(act, db=book).code == 0
    after = run_cli(("due",), db=book)
    for file in cache_folder().rglob("*.json"):
        file.unlink()

    assert run_cli(("due",), db=book) == after
    assert run_cli(("undo",), db=book).code == 0
    undone = run_cli(("due",), db=book)
    for file in cache_folder().rglob("*.json"):
        file.unlink()
    assert run_cli(("due",), db=book) == undone


def test_another_day_and_another_horizon_are_other_lists(book: Path) -> None:
    """What was kept for today is not shown tomorrow."""
    today = run_cli(("due", "--within", "30d"), db=book)

    assert run_cli(("due", "--within", "30d"), db=book, today=TODAY + timedelta(days=1)) != today
    assert run_cli(("due", "--within", "0d"), db=book) != today
    assert run_cli(("due", "--within", "30d"), db=book) == today


def test_a_small_book_keeps_nothing(sqlite_book: Path) -> None:
    """Below a thousand units no file is written."""
    assert run_cli(("due",), db=sqlite_book).code == 0

    assert not cache_folder().exists()


def test_rechecks_are_kept_on_a_small_book_until_one_of_its_readings_moves(
    sqlite_book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The fit takes longest of all: it is not made again for the same day, and is after a reading is added."""
    engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        made.reading(made.series(made.unit("D1")), "2025-11-20", 301.0)
    engine.dispose()
    first = run_cli(("due",), db=sqlite_book)
    assert "spindle speed: recheck by 20 Feb 2026" in first.out

    with monkeypatch.context() as patch:
        patch.setattr("collection.views.recheck.recheck_dates", lambda *_: pytest.fail("fitted again"))
        assert run_cli(("due",), db=sqlite_book) == first
    added = ("reading", "add", "D1", "spindle speed", "301", "--instrument", "disk A")
    assert run_cli(added, db=sqlite_book).code == 0
    assert "recheck by 20 Feb 2026" not in run_cli(("due",), db=sqlite_book).out
