"""The command due, as a person and a program see it."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
from pathlib import Path

import pytest
from sqlalchemy.engine import Engine

from collection.store.engine import open_engine
from tests.support.cli import Ran, run_cli
from tests.support.shelf import Shelf, shelf
from tests.support.terminal import screen

KEYS = ["tag", "model", "location", "standing", "due", "days_over", "procedures", "why", "note"]


def write(made: Shelf) -> None:
    """Write a shelf that has one unit of every sort the list knows."""
    made.few_procedures()
    made.model("QD-3", drive_type="direct adjustable", nominal_speeds="300; 360", maker="Ostrella")
    d1, d2 = made.unit("D1"), made.unit("D2", "QD-3")
    made.location(d1, "Shelf A")
    first = made.service(d1, "2026-01-10", "re-lube rails")
    made.reading(made.series(d1), "2026-01-10", 304.9, "as left", first)
    made.work.insert("fault", unit_id=d1, noticed_on="2026-02-01", symptom="read errors on track 40")
    made.service(d2, "2025-03-01", "clean head", "dust out")
    made.service(d2, "2025-03-15", "check spindle speed")
    made.lend(d2, "2026-01-01", "2026-04-01")
    made.unit("D3")
    made.unit("D4", standing="gone")
    made.unit("D10", standing="missing")


@pytest.fixture
def full(sqlite_book: Path) -> Path:
    """Return a book with that shelf."""
    engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        write(made)
    engine.dispose()
    return sqlite_book


AT_80 = """\
tag  due         days over  why
D1   2026-01-10         50  spindle speed: last reading 304.9 r/min, limit 304.5
                            clean head: fault "read errors on track 40" noticed
                            1 Feb 2026
                            check spindle speed: fault "read errors on track 40"
                            noticed 1 Feb 2026
D2   2026-03-01      today  dust out: 12 months since 1 Mar 2025
                            clean head: 12 months since 1 Mar 2025
                            check spindle speed: 12 months since 15 Mar 2025
                            on loan until 1 Apr 2026
2 units due by 2026-03-31, 1 overdue.
on loan or away, due when back: 1 unit (D2)
no history yet: 1 unit (D3); spindlebook import --last-done or spindlebook
  service record gives it one
left out: 1 gone, 1 missing
"""
AT_120 = """\
tag  due         days over  why
D1   2026-01-10         50  spindle speed: last reading 304.9 r/min, limit 304.5
                            clean head: fault "read errors on track 40" noticed 1 Feb 2026
                            check spindle speed: fault "read errors on track 40" noticed 1 Feb 2026
D2   2026-03-01      today  dust out: 12 months since 1 Mar 2025
                            clean head: 12 months since 1 Mar 2025
                            check spindle speed: 12 months since 15 Mar 2025
                            on loan until 1 Apr 2026
2 units due by 2026-03-31, 1 overdue.
on loan or away, due when back: 1 unit (D2)
no history yet: 1 unit (D3); spindlebook import --last-done or spindlebook service record gives it one
left out: 1 gone, 1 missing
"""
BY_PROCEDURE = """\
procedure            due         days over  units
set spindle speed    2026-01-10         50  D1
check spindle speed  2026-02-01         28  D1, D2
clean head           2026-02-01         28  D1, D2
dust out             2026-03-01      today  D2
"""


@pytest.mark.parametrize(("columns", "text"), [(80, AT_80), (120, AT_120)])
def test_the_list_fits_a_terminal(full: Path, columns: int, text: str) -> None:
    """One row per unit, a line per reason, what is not in the list below it."""
    assert text == screen("due", db=full, columns=columns)


@pytest.mark.parametrize("columns", [80, 120])
def test_the_list_by_procedure_fits_a_terminal(full: Path, columns: int) -> None:
    """One row per procedure, with the units it is due on."""
    shown = screen("due", "--by-procedure", db=full, columns=columns)

    assert BY_PROCEDURE == shown[: shown.index("2 units due by")]


def test_json_has_the_documented_keys_and_values(full: Path) -> None:
    """A list of objects, one per unit; what stands below the list is on standard error."""
    ran = run_cli(["due", "--json"], db=full)
    first, second = json.loads(ran.out)

    assert {
        "tag": "D1",
        "model": "VX-5",
        "location": "Shelf A",
        "standing": "ready",
        "due": "2026-01-10",
        "days_over": 50,
        "procedures": ["set spindle speed", "clean head", "check spindle speed"],
        "why": [
            "spindle speed: last reading 304.9 r/min, limit 304.5",
            'clean head: fault "read errors on track 40" noticed 1 Feb 2026',
            'check spindle speed: fault "read errors on track 40" noticed 1 Feb 2026',
        ],
        "note": None,
    } == first
    assert KEYS == list(first)
    assert ("D2", None, "on loan", 0, "on loan until 1 Apr 2026") == tuple(
        second[key] for key in ("tag", "location", "standing", "days_over", "note")
    )
    assert "no history yet: 1 unit (D3)" in ran.err


def test_csv_has_the_same_rows(full: Path) -> None:
    """The same keys as headings, lists separated by semicolons."""
    rows = list(csv.DictReader(io.StringIO(run_cli(["due", "--csv"], db=full).out)))

    assert KEYS == list(rows[0])
    assert ("D2", "0", "dust out;clean head;check spindle speed") == (
        rows[1]["tag"],
        rows[1]["days_over"],
        rows[1]["procedures"],
    )


def test_json_by_procedure_has_its_own_keys(full: Path) -> None:
    """Tags and reasons stand in the same order."""
    rows = json.loads(run_cli(["due", "--by-procedure", "--json"], db=full).out)

    assert ["procedure", "due", "days_over", "tags", "why"] == list(rows[0])
    assert {
        "procedure": "clean head",
        "due": "2026-02-01",
        "days_over": 28,
        "tags": ["D1", "D2"],
        "why": [
            'clean head: fault "read errors on track 40" noticed 1 Feb 2026',
            "clean head: 12 months since 1 Mar 2025",
        ],
    } == rows[2]


@pytest.mark.parametrize(
    ("within", "tags"),
    [("0d", ["D1"]), ("1d", ["D1", "D2"]), ("1w", ["D1", "D2"]), ("1m", ["D1", "D2"])],
)
def test_the_horizon_takes_days_weeks_and_months(sqlite_book: Path, within: str, tags: list[str]) -> None:
    """What falls due within it is shown; a unit due tomorrow is not shown today."""
    _two_due(sqlite_book, "2025-03-02")

    rows = json.loads(run_cli(["due", "--json", "--within", within], db=sqlite_book).out)

    assert tags == [row["tag"] for row in rows]


@pytest.mark.parametrize("typed", ["60", "", "x", "-1d", "1.5m", "60 days", "100000d", "９d"])
def test_another_form_of_horizon_is_a_wrong_command_line(sqlite_book: Path, typed: str) -> None:
    """The message says what was seen and what to type."""
    ran = run_cli(["due", "--within", typed], db=sqlite_book)

    assert (2, "") == (ran.code, ran.out)
    assert f'"{typed}" is no time ahead. Type days, weeks or months, as 60d, 8w or 2m.' in ran.err


@pytest.mark.parametrize(("done_on", "code"), [("2025-02-28", 3), ("2025-03-01", 0), ("2025-03-02", 0)])
def test_the_exit_code_tells_of_overdue_work_only_when_asked(sqlite_book: Path, done_on: str, code: int) -> None:
    """Overdue since yesterday is 3; due today or tomorrow is 0; without the option it is always 0."""
    engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        made.service(made.unit("D1"), done_on, "dust out")
    engine.dispose()

    assert (code, 0) == (
        run_cli(["due", "--exit-code"], db=sqlite_book).code,
        run_cli(["due"], db=sqlite_book).code,
    )


def _two_due(book: Path, second_done: str) -> None:
    engine = open_engine(str(book))
    with shelf(engine) as made:
        made.service(made.unit("D1"), "2025-02-01", "dust out")
        made.service(made.unit("D2"), second_done, "dust out")
    engine.dispose()


def test_an_empty_book_says_how_to_begin(sqlite_book: Path) -> None:
    """The list is empty, the next step is named, the code is 0."""
    begin = "There are no units yet. Type: spindlebook import FILE.xlsx, or spindlebook unit add TAG --model NAME\n"

    assert Ran(0, begin, "") == run_cli(["due", "--exit-code"], db=sqlite_book)
    assert Ran(0, "[\n]\n", begin) == run_cli(["due", "--json"], db=sqlite_book)


def test_a_book_in_which_nothing_is_due_says_so(sqlite_book: Path) -> None:
    """The day up to which was looked stands in the sentence, in the book's date form."""
    engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        made.work.update("book", 1, date_form="dmy")
        made.service(made.unit("D1"), "2026-02-01", "dust out")
    engine.dispose()

    assert Ran(0, "Nothing is due by 31/03/2026.\n", "") == run_cli(["due"], db=sqlite_book)


def test_many_tags_are_not_all_named(sqlite_book: Path) -> None:
    """Twelve are named and the others counted, so that the line stays a line."""
    engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        for number in range(1, 15):
            made.unit(f"D{number}")
    engine.dispose()

    out = run_cli(["due"], db=sqlite_book).out

    assert "no history yet: 14 units (D1, D2, D3, D4, D5, D6, D7, D8, D9, D10, D11, D12 and 2 more)" in out


def test_the_list_reads_the_same_on_both_databases(book_url: str, engine: Engine) -> None:
    """Rows, order and words do not depend on where the book stands."""
    with shelf(engine) as made:
        write(made)

    assert AT_120 == run_cli(["due"], db=book_url).out


def test_rechecks_go_by_the_accepted_risk_of_the_command_or_of_the_book(built_demo: Path, tmp_path: Path) -> None:
    """The demo's drifting unit is read again sooner where less is accepted, once or from then on."""
    book = Path(shutil.copy(built_demo, tmp_path / "demo"))

    def why(*more: str) -> str:
        rows = json.loads(run_cli(["due", "--within", "12m", "--json", *more], db=book).out)
        return str(next(text for row in rows if row["tag"] == "D3" for text in row["why"] if "risk" in text))

    usual, once = why(), why("--risk", "1%")
    assert run_cli(["book", "set", "--accepted-risk", "1%"], db=book).code == 0

    assert re.fullmatch(
        r"spindle speed: recheck by .* 2026, 10 % risk of being outside 295.5 to 304.5 r/min by then", usual
    )
    assert "1 % risk" in once
    assert (why(), why("--risk", "10%")) == (once, usual)
    assert run_cli(["due", "--risk", "51%"], db=book).code == 2
