"""The stock plan is projected anew for what has changed, and for nothing else."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from collection.analysis.stock_plan import plan
from collection.analysis.stock_plan.found import PlanFound
from collection.analysis.stock_plan.given import SupplyGiven
from collection.cli.face import cache_folder
from collection.store.engine import open_engine
from tests.support.cli import run_cli
from tests.support.shelf import shelf
from tests.support.times import TODAY

LIST = ("reorder", "--json")


@pytest.fixture
def book(sqlite_book: Path) -> Path:
    """Return a book with work that takes several supplies, one of them on the shelf."""
    engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        for tag, day in (("D1", "2025-06-01"), ("D2", "2025-09-01")):
            made.service(made.unit(tag), day, "clean head", "clean and re-lube rails")
    engine.dispose()
    assert run_cli(("supply", "receive", "foam swab, lint-free", "40"), db=sqlite_book).code == 0
    return sqlite_book


@pytest.fixture
def projected(monkeypatch: pytest.MonkeyPatch) -> list[SupplyGiven]:
    """Return what was projected, as it comes."""
    asked: list[SupplyGiven] = []
    real = plan.plan_supply

    def counted(given: SupplyGiven) -> PlanFound:
        asked.append(given)
        return real(given)

    monkeypatch.setattr(plan, "plan_supply", counted)
    return asked


def test_only_what_has_changed_is_projected_anew(book: Path, projected: list[SupplyGiven]) -> None:
    """Nothing the second time; the one supply that came after it did; all of them on another day."""
    first = run_cli(LIST, db=book)
    many = len(projected)
    assert many >= 3
    projected.clear()
    assert first == run_cli(LIST, db=book)
    assert [] == projected

    assert run_cli(("supply", "receive", "foam swab, lint-free", "5"), db=book).code == 0
    assert first != run_cli(LIST, db=book)
    assert [45] == [sum(lot.steps for lot in given.lots) for given in projected]

    projected.clear()
    run_cli(LIST, db=book, today=TODAY + timedelta(1))
    assert many == len(projected)


def test_what_is_kept_reads_as_what_is_projected(book: Path) -> None:
    """With and without the kept results, for the list and for one supply."""
    lines = (LIST, ("reorder",), ("reorder", "foam swab, lint-free"))
    kept = [run_cli(line, db=book) for line in (*lines, *lines)]
    for file in cache_folder().rglob("*"):
        if file.is_file():
            file.unlink()
    assert [run_cli(line, db=book) for line in lines] * 2 == kept
