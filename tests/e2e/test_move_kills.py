"""A move that is killed leaves its place empty or the whole book in it, and the old book as it was."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy.engine import Engine

from collection.errors import Refused
from collection.store.engine import open_engine, reading
from collection.store.migrate import refuse_filled
from collection.views.verify import verify
from tests.support.bench import set_up_bench
from tests.support.books import digest
from tests.support.cli import run_cli
from tests.support.kills import KILLS, Children, settled, spread
from tests.support.postgres import Server
from tests.support.times import NOW, TODAY

pytestmark = pytest.mark.kills

FEW = KILLS // 10  # from each database to each kind of place


def _places(target: str, folder: Path, postgres: Server) -> Iterator[str]:
    """Yield one empty place after the other."""
    for number in range(FEW + 1):
        if target == "file":
            yield str(folder / f"moved {number}")
        else:
            with postgres.copy("template0") as url:
                yield url


def _is_empty(place: str) -> bool:
    if "://" not in place:
        return not Path(place).exists()
    try:
        refuse_filled(place)
    except Refused:
        return False
    return True


@pytest.mark.parametrize("target", ["file", "server"])
def test_a_killed_move_leaves_the_place_empty_or_the_whole_book_in_it(
    forks: Children, engine: Engine, book_url: str, tmp_path: Path, postgres: Server, target: str
) -> None:
    """Where it is empty the same command works; where the book is whole, the same command says that it is there."""
    set_up_bench(engine, TODAY, NOW)
    before = digest(engine)
    places = _places(target, tmp_path, postgres)
    seconds = forks.measure([["--db", book_url, "move-to", next(places)]])["begin"]
    deaths = []
    for moment, place in zip(spread(f"move from {engine.dialect.name} to {target}", FEW), places, strict=True):
        command = ["--db", book_url, "move-to", place]
        deaths.append(forks.kill([command], at=1, since="begin", wait=moment * seconds))
        settled(engine)
        there = open_engine(place)
        settled(there)

        was_empty = _is_empty(place)
        again = run_cli(command)

        assert again.code == (0 if was_empty else 1), again
        assert was_empty or "holds a copy of this book; nothing was copied" in again.err
        assert before == digest(there) == digest(engine)
        with reading(there) as connection:
            assert [] == verify(connection).broken
    assert any(died.in_the_middle for died in deaths)
