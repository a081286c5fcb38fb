"""An upgrade that is killed at any moment leaves the older book or the newer one, and the next upgrade ends the work.

The statements of a migration one by one are in tests/integration/test_killed_upgrades.py; here the whole command is
killed at random: its backup, the migration, and the act that brings newer reference data.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from collection.store.engine import HEAD, open_engine, reading, schema_version
from collection.views.verify import verify
from tests.support.cli import run_cli
from tests.support.kills import KILLS, Children, Died, settled, spread
from tests.support.older import RELEASED, book_of, onto_server, rows_of, shape_of
from tests.support.postgres import Server

pytestmark = pytest.mark.kills

EACH = KILLS // 20  # on each database


@contextmanager
def _older(postgres: Server | None, file: Path, revision: str) -> Iterator[str]:
    """Yield where a book of an older schema stands; without a server it is the file."""
    book_of(revision, file)
    if postgres is None:
        yield str(file)
        return
    with postgres.copy("template0") as url:
        yield onto_server(file, url, revision)


@pytest.mark.parametrize("database", ["sqlite", "postgresql"])
def test_a_killed_upgrade_leaves_the_older_book_or_the_newer_one(
    forks: Children, postgres: Server, tmp_path: Path, database: str
) -> None:
    """No row of the older book is lost at any moment, and the same command again brings it up."""
    server = postgres if database == "postgresql" else None
    seconds: dict[str, float] = {}
    left, deaths = set(), list[Died]()
    for number, moment in enumerate(spread(f"upgrade on {database}", EACH)):
        revision = RELEASED[number % len(RELEASED)]
        if revision not in seconds:
            with _older(server, tmp_path / f"whole {revision}", revision) as place:
                seconds[revision] = forks.measure([["--db", place, "upgrade"]])["begin"]
        file = tmp_path / f"book {number}"
        with _older(server, file, revision) as place:
            engine, shape = open_engine(place), shape_of(book_of(revision, tmp_path / f"shape {number}"))
            before = rows_of(engine, shape)

            wait = moment * seconds[revision]
            deaths.append(forks.kill([["--db", place, "upgrade"]], at=1, since="begin", wait=wait))
            settled(engine)

            with engine.connect() as connection:
                found = schema_version(connection)
            assert found in (revision, HEAD)
            assert before == rows_of(engine, shape, before)
            again = [run_cli(["upgrade"], db=place) for _ in range(2)]
            assert [0, 0] == [ran.code for ran in again], again
            assert again[1].out.startswith("Nothing to do"), again
            assert before == rows_of(engine, shape, before)
            with reading(engine) as connection:
                assert [] == verify(connection).broken
            left.add(found)
    assert any(died.in_the_middle for died in deaths)
    print(f"{EACH} upgrades killed on {database}; schemas found: {sorted(left)}")  # noqa: T201  as of a long run
