"""Which units can be lent by a day, as a program is told it."""

from __future__ import annotations

import json
from pathlib import Path

from collection.store.engine import open_engine
from tests.support.cli import run_cli
from tests.support.shelf import shelf


def test_a_program_is_told_which_units_can_be_lent_what_is_done_before_and_what_lacks(sqlite_book: Path) -> None:
    """One is ready, one is cleaned the Saturday before and lacks two swabs, one has an open fault, one is out."""
    engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        made.few_procedures()
        for tag, day in (("D1", "2026-02-20"), ("D2", "2025-03-20"), ("D3", "2026-02-10"), ("D4", "2026-01-10")):
            unit = made.unit(tag)
            made.service(unit, day, "clean head")
        swabs = made.id_of("supply", "foam swab, lint-free", lambda: 0)
        made.work.insert("amount", procedure_id=made.procedure("clean head"), supply_id=swabs, steps=2, entered="2")
        made.lend(unit, "2026-02-01", "2026-04-01")
    engine.dispose()
    assert run_cli(("fault", "add", "D3", "rattles"), db=sqlite_book).code == 0

    ran = run_cli(("plan", "--lend", "4", "--on", "2026-03-14", "--json"), db=sqlite_book)

    rows = json.loads(ran.out)
    told = ("tag", "ready", "day", "procedures", "short", "next_due")
    work = ["clean head", "check spindle speed"]
    assert [
        ["D1", "now", None, [], [], "2027-02-20"],
        ["D3", "now", None, [], [], "2027-02-10"],
        ["D2", "Sat 2026-03-07", "2026-03-07", work, ["2 pieces foam swab lint-free"], None],
    ] == [[row[key] for key in told] for row in rows]
    assert "a fault is open: the time may not do" == rows[1]["note"]
    assert "3 units of the 4 asked for can be ready by 2026-03-14" in ran.err
    assert "not by then: D4, on loan until 2026-04-01" in ran.err
    assert 0 == ran.code
