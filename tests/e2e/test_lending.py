"""Which units can be lent by a day, as a program is told it, and a loan from the first word to the last."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

from collection.store.engine import open_engine
from tests.support.bench import set_up_bench
from tests.support.cli import run_cli
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

PNG = b"\x89PNG\r\n\x1a\n and so on"


def test_a_program_is_told_which_units_can_be_lent_what_is_done_before_and_what_lacks(sqlite_book: Path) -> None:
    """One is ready, one is cleaned before and lacks two swabs, one has an open fault, one is out, one is kept."""
    engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        made.few_procedures()
        for tag, day in (("D1", "2026-02-20"), ("D2", "2025-03-20"), ("D3", "2026-02-10"), ("D4", "2026-01-10")):
            unit = made.unit(tag)
            made.service(unit, day, "clean head")
        swabs = made.id_of("supply", "foam swab, lint-free", lambda: 0)
        made.work.insert("amount", procedure_id=made.procedure("clean head"), supply_id=swabs, steps=2, entered="2")
        made.lend(unit, "2026-02-01", "2026-04-01")
        kept = made.unit("D5")
        made.service(kept, "2026-02-20", "clean head")
        days = {"from_date": "2026-03-01", "to_date": "2026-03-14"}
        made.work.insert("reservation", unit_id=kept, person_id=made.person("Ilva"), **days)
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
    for says in ("D4, on loan until 2026-04-01", "D5, reserved from 2026-03-01"):
        assert f"not by then: {says}" in ran.err
    assert 0 == ran.code


def test_a_loan_is_handed_out_taken_back_and_shown_whole(sqlite_book: Path, tmp_path: Path) -> None:
    """An issuer does it all; what is typed of one unit is kept of that one, with readings and pictures at both ends."""
    engine = open_engine(str(sqlite_book))
    set_up_bench(engine, TODAY, NOW)
    engine.dispose()
    (tmp_path / "front.png").write_bytes(PNG)

    def run(*words: str, today: date = TODAY) -> str:
        ran = run_cli(("--who", "Ada Quill", *words), db=sqlite_book, today=today)
        assert 0 == ran.code, ran.err
        return ran.out

    assert 0 == run_cli(("person", "add", "Ada Quill", "--role", "issuer"), db=sqlite_book).code
    told = run(
        *("loan", "out", "D1", "D4", "--to", "Bram Oakhollow", "--due", "2026-04-01", "--deposit", "50"),
        *("--along", "d1: two disks", "--condition", "clean", "--reading", "D1: spindle speed=300.2 @bench counter"),
        *("--photo", f"D1: {tmp_path / 'front.png'}", "--cover", "theirs, the way too"),
    )
    assert 1 == told.count("deposit 50.00 EUR") == run("loan", "list").count("deposit 50.00 EUR")
    read = "spindle speed=300.2 r/min @bench counter"
    out = json.loads(run("loan", "show", "L1", "--json"))
    assert [("D1", "clean", [read]), ("D4", "clean", [])] == [
        (check["tag"], check["condition"], check["readings"]) for check in out["checks"]
    ]
    assert f"D1   2026-03-01  loan out  clean      1       Ada Quill\n     {read}\n" in run("loan", "show", "D1")
    later = date(2026, 4, 3)
    assert "D1, DM-8 (loan L1): out since 2026-03-01, due back 2026-04-01\n    with it: two disks\n" in run(
        "loan", "overdue", today=later
    )
    told = run(
        *("loan", "back", "D4", "D1", "--condition", "D1: lid cracked", "--damage", "D1: lid cracked"),
        *("--reading", "D1: spindle speed=306.9 @bench counter", "--complaint", "D1: slow"),
        today=later,
    )
    for says in (
        "D1   spindle speed  300.2 r/min  306.9 r/min  +6.7 r/min  295.5 to 304.5  high",
        'D1 went out "clean" and came back "lid cracked".',
        'Fault "slow" is open.',
        "Damage DL1, lid cracked: spindlebook damage show DL1",
        "All of L1 is back. Its deposit of 50.00 EUR: spindlebook loan deposit L1",
    ):
        assert says in told
    shown = json.loads(run("loan", "show", "L1", "--json", today=later))
    assert ("Ada Quill", "theirs, the way too") == (shown["issued_by"], shown["cover"])
    assert [("D1", "two disks", "clean", "Ada Quill"), ("D4", None, "clean", "Ada Quill")] == [
        (unit["tag"], unit["along"], unit["condition_out"], unit["taken_by"]) for unit in shown["units"]
    ]
    assert [("D1", "loan out", [1]), ("D4", "loan out", []), ("D1", "loan back", [])] == [
        (check["tag"], check["occasion"], check["photos"]) for check in shown["checks"]
    ]


def test_what_was_lost_is_not_said_to_have_come_back(sqlite_book: Path) -> None:
    """Its loan is over all the same, and the deposit is still to be settled."""
    engine = open_engine(str(sqlite_book))
    set_up_bench(engine, TODAY, NOW)
    engine.dispose()

    def run(*words: str) -> str:
        ran = run_cli(words, db=sqlite_book)
        assert 0 == ran.code, ran.err
        return ran.out

    run("loan", "out", "D1", "--to", "Bram Oakhollow", "--due", "2026-04-01", "--deposit", "50", "--condition", "good")
    told = run("loan", "back", "D1", "--lost", "left in a train")
    assert "came back" not in told
    assert "D1 stands missing" in told
    assert "All of L1 is over. Its deposit of 50.00 EUR: spindlebook loan deposit L1" in told
    shown = run("loan", "show", "L1")
    assert "     lost: left in a train\n" in shown
    assert "came back" not in shown
