"""Whatever a folder holds, it is compared without a mistake of the program, and what is taken keeps every rule."""

from __future__ import annotations

import csv
import io
import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.engine import Engine

from collection.acts.bring_in.state import Options
from collection.store.engine import open_engine, reading
from collection.views.folder.form import FORMS
from collection.views.verify import verify
from tests.support.folders import bring, findings, plan
from tests.support.long_run import cases
from tests.support.random_folder import random_folder

_JUNK = (
    "", " ", "x", "-1", "0", "3000", "1e9", "12,5", "2099-01-01", "2026", "2026-02", "D1", "d2", "D99", "VK 1", "yes",
    "A", "spirit", "; ;", "ms", "pass", "ready", "S0", "L0", "O-1", "use", "return", "short", "\N{SNOWMAN}", "a\nb",
    "q" * 201,
)  # fmt: skip


def spoil(dice: random.Random, files: dict[str, str]) -> dict[str, str]:
    """Return a folder with some cells replaced, and some rows and files left out or repeated."""
    spoilt: dict[str, str] = {}
    for name, text in files.items():
        heading, *rows = csv.reader(io.StringIO(text, newline=""))
        if dice.random() < 0.1:
            continue
        for row in rows:
            for place in range(len(row)):
                if dice.random() < 0.04:
                    row[place] = dice.choice(_JUNK)
        if rows and dice.random() < 0.1:
            rows.append(list(dice.choice(rows)))
        stream = io.StringIO(newline="")
        csv.writer(stream).writerows([heading, *rows])
        spoilt[name] = stream.getvalue()
    return spoilt


@given(seed=st.integers(0, 2**32))
@settings(max_examples=cases(20, 60), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_spoilt_folder_is_refused_or_comes_in_whole(
    sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    """Property: every row has its finding; what is written verifies, and is the same the next time."""
    dice = random.Random(seed)
    place = tmp_path_factory.mktemp("book") / "book.sqlite3"
    place.write_bytes(sqlite_template.read_bytes())
    engine = open_engine(str(place))
    whole = random_folder(dice)
    folder = spoil(dice, whole)
    options = dice.choice((None, Options(last_done="2023"), Options(spread_months=12)))
    if dice.random() < 0.3:
        bring(engine, whole)
    _hold(engine, folder, options)
    engine.dispose()


@pytest.mark.parametrize("seed", range(cases(1, 6)))
def test_a_spoilt_folder_is_the_same_matter_on_both_databases(engine: Engine, seed: int) -> None:
    """On PostgreSQL as well, some files by themselves too (all of them in a long run)."""
    dice = random.Random(seed)
    whole = random_folder(dice)
    _hold(engine, spoil(dice, whole), None)
    bring(engine, whole)
    spoilt = sorted(spoil(dice, whole).items())
    for name, text in dice.sample(spoilt, min(len(spoilt), cases(6, len(FORMS)))):
        _hold(engine, {name: text}, None)


def _hold(engine: Engine, folder: dict[str, str], options: Options | None) -> None:
    made = plan(engine, folder, options)
    told = {(found.file, found.row) for found in made.rows()}
    for table in made.tables:
        assert table.file in FORMS
        assert {(table.file, row) for row in table.rows} <= told
    if not made.writable:
        assert findings(made, "refused")
        return
    bring(engine, folder, options)
    again = plan(engine, folder, options)
    assert [found for found in again.rows() if found.kind != "same"] == []
    with reading(engine) as conn:
        assert verify(conn).broken == []
