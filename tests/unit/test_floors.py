"""The contract between the floors of the program, and the size of its files and functions."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.floors import FLOORS, oversized, violations

ROOT = Path(__file__).parents[2]


def test_no_floor_breaks_the_contract() -> None:
    """Imports go down only, libraries stay in their homes, and only the command line reads the clock."""
    assert [] == violations(ROOT)


def test_no_file_is_over_400_lines_and_no_function_over_60() -> None:
    """Every file and every function can be read in one go."""
    assert [] == oversized(ROOT, lines=400, function_lines=60)


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    """Return a small program with one innocent module on each floor."""
    for floor in FLOORS:
        _write(
            tmp_path,
            f"collection/{floor}.py" if floor in ("quantity", "errors") else f"collection/{floor}/a.py",
            "",
        )
    _write(tmp_path, "migrations/versions/0001.py", "from collection.schema.columns import text")
    return tmp_path


def _write(root: Path, path: str, text: str) -> None:
    file = root / path
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text + "\n", encoding="utf-8")


def test_an_innocent_program_breaks_nothing(tree: Path) -> None:
    """The contract can be kept."""
    assert [] == violations(tree)


def test_an_empty_tree_fails(tmp_path: Path) -> None:
    """A contract that checks nothing says so for each floor, so that a moved folder is noticed."""
    assert len(FLOORS) + 1 == len(violations(tmp_path))


@pytest.mark.parametrize(
    ("path", "text", "what"),
    [
        ("analysis/a.py", "from collection.schema import a", "analysis imports collection.schema"),
        ("quantity.py", "import collection.analysis.a", "quantity imports collection.analysis.a"),
        ("errors.py", "from collection import quantity", "errors imports collection.quantity"),
        ("schema/a.py", "from collection.store import engine", "schema imports collection.store"),
        ("store/a.py", "from collection.views import a", "store imports collection.views"),
        (
            "views/a.py",
            "def f():\n    from collection.acts.work import Work",
            "views imports collection.acts.work",
        ),
        ("acts/a.py", "from collection.exchange.a import x", "acts imports collection.exchange.a"),
        ("exchange/a.py", "from collection.cli.show import emit", "exchange imports collection.cli.show"),
        ("views/a.py", "from ..acts import work", "imports by a relative name"),
        ("acts/a.py", "import pandas as pd", "acts imports pandas"),
        ("cli/a.py", "from openpyxl import Workbook", "cli imports openpyxl"),
        ("cli/a.py", "import matplotlib.pyplot", "cli imports matplotlib"),
        ("acts/a.py", "from alembic import command", "acts imports alembic"),
        ("views/a.py", "import click", "views imports click"),
        ("analysis/a.py", "import sqlite3", "analysis imports sqlite3"),
        ("analysis/a.py", "print(1)", "analysis calls print"),
        ("acts/a.py", "import datetime\nx = datetime.date.today()", "reads the clock: date.today"),
        (
            "store/a.py",
            "from datetime import datetime\nx = datetime.now(None)",
            "reads the clock: datetime.now",
        ),
        ("views/a.py", "import time\nx = time.time()", "reads the clock: time.time"),
        ("views/a.py", "from time import time", "reads the clock: time"),
        ("acts/a.py", "from sqlalchemy import func\nx = func.now()", "reads the clock: func.now"),
        ("store/a.py", "sql = 'SELECT CURRENT_TIMESTAMP'", "reads the database's clock"),
        ("views/a.py", "sql = \"SELECT date('now')\"", "reads the database's clock"),
        ("../migrations/env.py", "from collection.acts import work", "migrations imports collection.acts"),
        ("../migrations/versions/0002.py", "from collection.schema import METADATA", "a revision imports"),
    ],
)
def test_each_breach_is_named_with_its_place(tree: Path, path: str, text: str, what: str) -> None:
    """One forbidden line anywhere fails the contract once, with file, line and what it does."""
    _write(tree, f"collection/{path}", text)

    (breach,) = violations(tree)

    assert what in breach
    assert breach.startswith(f"collection/{path}:".replace("collection/../", ""))


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ("analysis/a.py", "from collection.errors import Refused\nfrom collection.quantity import Day"),
        ("cli/a.py", "from datetime import date\nx = date.today()\nimport click"),
        ("exchange/a.py", "import pandas\nfrom collection.acts import work"),
        ("store/a.py", "import alembic\nfrom collection.schema import a"),
        ("views/a.py", "from collection import __version__"),
        ("acts/a.py", "from time import monotonic\nfrom collection.acts.b import x"),
    ],
)
def test_what_the_contract_allows_passes(tree: Path, path: str, text: str) -> None:
    """The rules forbid no more than they say."""
    _write(tree, f"collection/{path}", text)

    assert [] == violations(tree)


@pytest.mark.parametrize(("lines", "over"), [(399, 0), (400, 0), (401, 1)])
def test_a_file_of_400_lines_is_the_longest(tree: Path, lines: int, over: int) -> None:
    """The limit itself is allowed, one line more is not."""
    _write(tree, "collection/acts/long.py", "\n" * (lines - 1))

    assert over == len(oversized(tree, lines=400, function_lines=60))


@pytest.mark.parametrize(("lines", "over"), [(59, 0), (60, 0), (61, 1)])
def test_a_function_of_60_lines_is_the_longest(tree: Path, lines: int, over: int) -> None:
    """The limit itself is allowed, one line more is not."""
    _write(tree, "collection/acts/long.py", "def f():\n" + "    x = 1\n" * (lines - 1))

    assert over == len(oversized(tree, lines=400, function_lines=60))
