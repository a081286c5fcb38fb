"""The commands of unit, as a person and a program see them."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.store.engine import open_engine
from tests.support.cli import ROOT, environment, run_cli
from tests.support.shelf import Shelf, shelf
from tests.support.terminal import screen
from tests.support.times import TODAY

HEAVY = ("pandas", "openpyxl", "alembic", "matplotlib", "scipy", "numpy", "collection.schema")


def write(made: Shelf) -> None:
    """Write a drive that has something in every section of its card, and one that has nothing."""
    made.few_procedures()
    made.model("PS-9", kind="supply unit", drive_type=None, nominal_speeds=None, maker="Ostrella")
    d1 = made.unit(
        "D1",
        serial="4711",
        serial_state="known",
        acquired_on="2019-05",
        price_minor=4500,
        currency="EUR",
        note="The label on the back is half gone; keep solvents away from it, and do not rub it dry either.",
    )
    made.owner(d1, "Anna Lerk")
    made.location(d1, "Shelf A")
    supply_unit = made.unit("P1", "PS-9")
    made.work.insert("pairing", drive_id=d1, supply_unit_id=supply_unit, from_date="2024-01-01")
    made.work.append(
        "valuation", unit_id=d1, valued_on="2025-06", amount_minor=8050, currency="EUR", basis="market value"
    )
    service = made.service(d1, "2026-01-10", "clean head", "set spindle speed", outcome="ready")
    stray = made.reading(made.series(d1), "2026-01-10", 304.9, "as left", service)
    made.work.doubt("reading", stray, "value", "304.9", "typed in a hurry")
    made.named("measurement", "head condition", measured_in="graded")
    made.reading(made.series(d1, "head condition"), "2026-01-10", "marginal", "as left", service)
    made.work.insert("fault", unit_id=d1, noticed_on="2026-02-01", symptom="squeals when warm")
    made.work.insert("fault", unit_id=d1, noticed_on="2025", symptom="hums", closed_on="2025-05-01", no_fault_found=1)
    made.work.insert("fitted_part", unit_id=d1, part="belt", fitted_on="2025-01-01", donor_id=supply_unit)
    grease = made.named("supply", "rail grease", kind="lubricant")
    made.work.append(
        "movement",
        supply_id=grease,
        kind="use",
        steps=-3,
        entered="0.3",
        occurred_on="2026-01-10",
        unit_id=d1,
        used_past_date=0,
    )
    made.unit("D2")
    made.lend(made.unit("D3"), "2026-01-05", "2026-04-05")


@pytest.fixture
def full(sqlite_book: Path) -> Path:
    """Return a book with these units."""
    engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        made.named("supply", "rail grease", kind="lubricant", measured_in="g", smallest_step="0.1", tracked="count")
        write(made)
    engine.dispose()
    return sqlite_book


LIST = """\
tag  kind         model  owner      location  standing  due
D1   drive        VX-5   Anna Lerk  Shelf A   ready     2026-01-10
D2   drive        VX-5                        ready
D3   drive        VX-5                        on loan
P1   supply unit  PS-9                        ready
"""
CARD_80 = """\
D1  Varnhall VX-5
kind         drive, belt, 300 r/min
serial       4711 (known)
owner        Anna Lerk
location     Shelf A
standing     ready since 2020-01-01
worth        80.50 EUR (market value, 2025-06)
supply unit  P1
acquired     2019-05, 45.00 EUR
last seen    2026-02-01 (fault)
note         The label on the back is half gone; keep solvents away from it, and
             do not rub it dry either.

Due
procedure            due         days over  why
set spindle speed    2026-01-10         50  spindle speed: last reading 304.9
                                            r/min, limit 304.5
replace belt         2026-02-01         28  fault "squeals when warm" noticed 1
                                            Feb 2026
clean head           2027-01-10     in 315  12 months since 10 Jan 2026
check spindle speed  2027-01-10     in 315  unused for 12 months since 10 Jan
                                            2026

Last readings
measurement     day         stage    reading      limit               instrument
head condition  2026-01-10  as left  marginal     marginal            disk A
spindle speed   2026-01-10  as left  304.9 r/min  high, 295.5 to      disk A
                                                  304.5

Fitted parts
part  fitted on   from     age
belt  2025-01-01  unit P1  age unknown: inspect

Lubricants
lubricant    since       last used
rail grease  2026-01-10  0.3 g

Faults
noticed     closed      symptom            cause
2026-02-01  open        squeals when warm
2025        2025-05-01  hums               no fault found

Services
opened      closed      procedures                     outcome
2026-01-10  2026-01-10  clean head, set spindle speed  ready

Doubts
record                 day         field  value  doubt
reading spindle speed  2026-01-10  value  304.9  typed in a hurry

never recorded  dust out, re-lube rails, replace belt, check spindle speed
"""
SOME_OF_120 = """\
note         The label on the back is half gone; keep solvents away from it, and do not rub it dry either.
set spindle speed    2026-01-10         50  spindle speed: last reading 304.9 r/min, limit 304.5
check spindle speed  2027-01-10     in 315  unused for 12 months since 10 Jan 2026
spindle speed   2026-01-10  as left  304.9 r/min  high, 295.5 to 304.5  disk A
"""


def test_the_card_fits_a_terminal_of_80(full: Path) -> None:
    """What is long is wrapped below itself; no word is broken."""
    assert CARD_80 == screen("unit", "show", "D1", db=full, columns=80)


def test_the_card_uses_a_terminal_of_120(full: Path) -> None:
    """The same card with longer lines, none over the edge."""
    lines = screen("unit", "show", "D1", db=full, columns=120).splitlines()

    assert set(SOME_OF_120.splitlines()) <= set(lines)
    assert max(map(len, lines)) <= 120


@pytest.mark.parametrize("columns", [80, 120])
def test_the_list_fits_a_terminal(full: Path, columns: int) -> None:
    """One line per unit."""
    assert LIST == screen("unit", "list", db=full, columns=columns)


def test_the_card_of_a_unit_without_history_says_so(full: Path) -> None:
    """And names the next step."""
    out = run_cli(["unit", "show", "D2"], db=full).out

    assert "\nno history yet; spindlebook service record D2 gives it one\n" in out
    assert "not valued, and its model has no replacement value" in out


def test_a_unit_of_no_known_place_says_how_to_enter_one(full: Path) -> None:
    """Where nothing was ever entered, the list of its places is empty and no mistake."""
    ran = run_cli(["unit", "places", "D2"], db=full)

    assert (0, "No location of D2 is known. Type: spindlebook unit move D2 --to LOCATION\n") == (ran.code, ran.out)


def test_the_card_of_a_lent_unit_says_who_has_it(full: Path) -> None:
    """Standing and loan stand beside each other."""
    out = run_cli(["unit", "show", "D3"], db=full).out

    assert re.search(r"^standing +on loan since 2026-01-05$", out, re.MULTILINE)
    assert re.search(r"^loan +L\d+ to Ilva until 2026-04-05$", out, re.MULTILINE)


def test_only_the_newest_services_are_on_the_card(full: Path) -> None:
    """Five are shown and the others counted."""
    engine = open_engine(str(full))
    with shelf(engine) as made:
        d2 = made.unit("D9")
        for month in range(1, 8):
            made.service(d2, f"2025-0{month}-01", "dust out")
    engine.dispose()

    out = run_cli(["unit", "show", "D9"], db=full).out

    assert ["2025-07-01", "2025-06-01", "2025-05-01", "2025-04-01", "2025-03-01"] == [
        line[:10] for line in out.splitlines() if line.endswith("dust out")
    ]
    assert "and 2 earlier: spindlebook unit show D9 --json\n" in out


def documented(section: str) -> list[str]:
    """Return the keys that docs/json-keys.md lists for a command."""
    page = (ROOT / "docs" / "json-keys.md").read_text(encoding="utf-8")
    part = page.split(f"\n## {section}\n")[1].split("\n## ")[0]
    return re.findall(r"^\| `(\w+)` \|", part, re.MULTILINE)


def documented_inside(key: str) -> set[str]:
    """Return the keys inside a key of unit show, as the page lists them."""
    page = (ROOT / "docs" / "json-keys.md").read_text(encoding="utf-8").split("\n## unit show\n")[1]
    row = next(line for line in page.splitlines() if line.startswith(f"| `{key}` |"))
    return set(re.findall(r"`(\w+)`", row.split("|")[2]))


def printed(full: Path, *words: str) -> Any:
    """Return the JSON that a command prints."""
    return json.loads(run_cli([*words, "--json"], db=full).out)


@pytest.mark.parametrize("words", ["due", "due --by-procedure", "unit list"])
def test_lists_print_the_documented_keys(full: Path, words: str) -> None:
    """In the order of the page."""
    for row in printed(full, *words.split()):
        assert documented(words) == list(row)


def test_the_card_prints_the_documented_keys(full: Path) -> None:
    """Outside and inside."""
    shown = printed(full, "unit", "show", "D1") | {"loan": printed(full, "unit", "show", "D3")["loan"]}

    assert set(documented("unit show")) == set(shown)
    for key in ("loan", "worth", "parts", "lubricants", "readings", "faults", "services", "due", "doubts"):
        inside = shown[key][0] if isinstance(shown[key], list) else shown[key]
        assert documented_inside(key) == set(inside), key


def test_the_card_prints_values_and_not_words(full: Path) -> None:
    """Numbers are numbers, days are ISO days, what is not known is null."""
    shown = printed(full, "unit", "show", "D1")

    assert {
        "measurement": "spindle speed",
        "point": None,
        "taken_on": "2026-01-10",
        "stage": "as left",
        "value": 304.9,
        "measured_in": "r/min",
        "lower": 295.5,
        "upper": 304.5,
        "says": "high",
        "instrument": "disk A",
    } == shown["readings"][1]
    assert ("80.50", "EUR", "2025-06", None) == tuple(
        shown["worth"][key] for key in ("amount", "currency", "valued_on", "by")
    )
    assert ("P1", None, "2019-05", []) == (
        shown["paired_with"][0],
        shown["rom"],
        shown["acquired_on"],
        shown["aliases"],
    )
    assert (50, -315) == (shown["due"][0]["days_over"], shown["due"][-1]["days_over"])


def test_the_list_prints_nulls_for_what_is_not_known(full: Path) -> None:
    """A unit without owner, place and work ahead."""
    assert {
        "tag": "D2",
        "kind": "drive",
        "model": "VX-5",
        "maker": "Varnhall",
        "serial": None,
        "owner": None,
        "location": None,
        "standing": "ready",
        "due": None,
    } == printed(full, "unit", "list")[1]


def test_an_empty_book_says_how_to_add_a_unit(sqlite_book: Path) -> None:
    """The list is empty and the code 0."""
    assert "No unit. Type: spindlebook unit add TAG --model NAME\n" == run_cli(["unit", "list"], db=sqlite_book).out


def test_a_unit_is_added_edited_moved_and_retired_from_the_command_line(book_url: str, engine: Engine) -> None:
    """Each act says what it did; undo takes the last one back."""
    with shelf(engine) as made:
        made.person("Anna Lerk")

    def said(*words: str) -> str:
        ran = run_cli(["unit", *words], db=book_url)
        assert (0, "") == (ran.code, ran.err)
        return ran.out

    assert "Added D1, Varnhall VX-5 (new model): arrived.\nNext: spindlebook service record D1\n" == said(
        "add", "D1", "--model", "VX-5", "--maker", "Varnhall", "--kind", "drive", "--drive-type", "belt"
    )
    assert "D1: serial (nothing) -> 4711\nD1: serial state (nothing) -> known\n" == said(
        "edit", "d1", "--serial", "4711"
    )
    assert "Nothing to do: D1 says so already.\n" == said("edit", "D1", "--serial", "4711")
    assert "owner (nothing) -> Anna Lerk\nlocation (nothing) -> Attic\n" == said(
        "enter", "D1", "--owner", "anna lerk", "--location", "Attic", "--new-location"
    )
    assert "standing (nothing) -> away\nA later entry holds today: standing arrived\n" == said(
        "enter", "D1", "--standing", "away", "--on", "2025"
    )
    assert "standing arrived -> gone\n" == said("enter", "D1", "--standing", "gone", "--reason", "sold")
    assert "Nothing to do: it is so already.\n" == said("enter", "D1", "--standing", "gone", "--reason", "sold")
    assert 0 == run_cli(["undo"], db=book_url).code
    assert "arrived" == json.loads(said("list", "--json"))[0]["standing"]


def test_a_doubtful_serial_is_told_on_standard_error(sqlite_book: Path) -> None:
    """The unit is added all the same."""
    ran = run_cli(["unit", "add", "D1", "--model", "VX-5", "--kind", "drive", "--serial", "???"], db=sqlite_book)

    assert (0, "Marked as doubtful: serial: is this a serial? serial_state may say lost or illegible\n") == (
        ran.code,
        ran.err,
    )


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        ("show P2", 1, 'No unit has the tag "P2".\nNearest: P1, '),
        ("list --sort size", 2, 'The list has no column "size".\nSort by one of: tag, kind,'),
        ("list --standing redy", 1, 'There is no standing "redy".\nNearest: ready, '),
        ("edit D1", 2, "Nothing to change is given.\n"),
        ("enter D1", 2, "Give --owner, --location or --standing.\n"),
        ("enter D1 --standing gone", 1, "D1 is not called gone without a reason.\n"),
        ("add d1 --model VX-5", 1, 'Tag "d1" was given to a unit before; no tag is given twice.\n'),
    ],
)
def test_a_refusal_is_one_or_two_lines_on_standard_error(full: Path, words: str, code: int, says: str) -> None:
    """The thing, the value seen, the rule, and what to type next."""
    ran = run_cli(["unit", *words.split()], db=full)

    assert (code, "") == (ran.code, ran.out)
    assert says in ran.err
    assert "Traceback" not in ran.err


def test_the_list_and_the_cards_say_the_day_that_the_due_list_says(sqlite_book: Path) -> None:
    """A recheck by drift is work ahead as any other."""
    engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        made.reading(made.series(made.unit("D1")), "2025-11-20", 301.0)
    engine.dispose()

    (row,), (listed,) = printed(sqlite_book, "due"), printed(sqlite_book, "unit", "list")
    assert ["2026-02-20"] * 2 == [row["due"], listed["due"]]
    assert "2026-02-20" == printed(sqlite_book, "unit", "show", "D1")["due"][0]["due"]


def test_looking_loads_nothing_heavy(full: Path, tmp_path: Path) -> None:
    """Whoever looks waits for no library that the command does not need: numbers for rechecks, until these are kept."""
    looks = ["due", "due --json", "unit show D1", "unit list"]
    script = f"""
import os, sys
from collection.cli.main import run
codes = []
for words in {looks}:
    os.environ["XDG_CACHE_HOME"] = f"{tmp_path}/kept by {{words}}"
    codes.append(run(["--db", {str(full)!r}, "--today", "{TODAY}", *words.split()]))
print([name for name in {HEAVY} if name in sys.modules], codes)
"""

    for loaded in ("['numpy'] [0, 0, 0, 0]", "[] [0, 0, 0, 0]"):
        done = subprocess.run(
            [sys.executable, "-c", script], check=True, capture_output=True, text=True, env=environment(), timeout=60
        )
        assert loaded == done.stdout.splitlines()[-1]
    assert len(looks) == len([*tmp_path.glob("kept by *")])
