"""The commands of the drawer as a person and a program meet them."""

from __future__ import annotations

import json
import os
import re
import shlex
import sys
from datetime import date
from pathlib import Path
from typing import Any

import pexpect
import pytest

from collection.store.engine import open_engine
from tests.support.books import digest
from tests.support.cli import ROOT, Ran, environment, run_cli, run_process
from tests.support.shelf import shelf
from tests.support.warm import warm_program

GREASE = "rail grease, lithium NLGI 2"


def sb(db: str | Path, *words: str, code: int = 0) -> Ran:
    """Run a command on a book and check its exit code."""
    ran = run_cli(words, db=db)
    assert (code, "Traceback" in ran.err) == (ran.code, False), ran
    return ran


def rows(db: str | Path, *words: str) -> list[dict[str, Any]]:
    """Return the rows of a list for programs."""
    found: list[dict[str, Any]] = json.loads(sb(db, *words, "--json").out)
    return found


@pytest.fixture
def book(sqlite_book: Path) -> Path:
    """Return a book with a drive due in April and in need of grease, a supplier and an offer."""
    engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        made.service(made.unit("D1"), "2025-04-14", "clean and re-lube rails")
        made.named("location", "shelf 3")
    engine.dispose()
    sb(sqlite_book, "order", "supplier", "Nordlager", "--lead-days", "14", "--shipping", "4.50")
    sb(sqlite_book, "order", "offer", "Nordlager", GREASE, "50 g", "9.00")
    return sqlite_book


# --- a life in the drawer, in words ------------------------------------------------------------------------


def test_a_life_in_the_drawer_reads_in_sentences(book_url: str) -> None:
    """Add, receive, use, open, count, discard, move, take back: each says what it did and what is left."""
    engine = open_engine(book_url)
    with shelf(engine) as made:
        made.named("location", "shelf 3")
    engine.dispose()
    say = [
        sb(book_url, "supply", "add", "white grease", "--kind", "paste", "--measured-in", "g", "--step", "0.1"),
        sb(book_url, "supply", "receive", "white grease", "50", "g", "--lot", "A", "--expires", "2027-06"),
        sb(book_url, "supply", "receive", "white grease", "20", "--lot", "B", "--expires", "2026-06"),
        sb(book_url, "supply", "use", "White Grease", "22", "g"),
        sb(book_url, "supply", "open", "white grease", "--lot", "A"),
        sb(book_url, "supply", "count", "white grease", "47.5"),
        sb(book_url, "supply", "discard", "white grease", "0.5", "--reason", "spilt"),
        sb(book_url, "supply", "move", "white grease", "shelf 3", "40"),
        sb(book_url, "supply", "repack", "white grease", "10", "--into", "jar"),
        sb(book_url, "supply", "return", "white grease", "--lot", "A"),
        sb(book_url, "supply", "reverse", "white grease", "3"),
    ]

    assert [
        'Added "white grease", counted in steps of 0.1 g.\nNext: spindlebook supply receive "white grease" QUANTITY\n',
        'Received 50 g of "white grease" as lot "A".\nLeft: 50 g (lot "A" 50 g).\n',
        'Received 20 g of "white grease" as lot "B".\nLeft: 70 g (lot "B" 20 g; lot "A" 50 g).\n',
        'Used 22 g of "white grease" (lot "B" 20 g, lot "A" 2 g).\nLeft: 48 g (lot "A" 48 g).\n',
        'Opened lot "A" of "white grease".\nLeft: 48 g (lot "A" 48 g).\n',
        'Counted 47.5 g of "white grease".\nLeft: 47.5 g (lot "A" 47.5 g).\n',
        'Discarded 0.5 g of "white grease", lot "A".\nLeft: 47 g (lot "A" 47 g).\n',
        'Moved 40 g of "white grease" to "shelf 3".\nLeft: 47 g (lot "A" 47 g).\n',
        'Repacked 10 g of "white grease" from lot "A" into lot "jar".\nLeft: 47 g (lot "A" 37 g; lot "jar" 10 g).\n',
        'Returned 37 g of "white grease", lot "A".\nLeft: 10 g (lot "jar" 10 g).\n',
        'Took back use of "white grease" of 2026-03-01 (number 3, 4).\nLeft: 30 g (lot "B" 20 g; lot "jar" 10 g).\n',
    ] == [ran.out for ran in say]
    assert 'The book said 48 g: 0.5 g less (lot "A" 0.5 g less).\n' == say[5].err
    assert 0 == run_cli(["verify"], db=book_url).code


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("supply", "use", GREASE, "-3"), '"-3": an amount is never below zero.\nType it without a minus.\n'),
        (("supply", "count", GREASE, "-.5"), '"-.5": an amount is never below zero.\nType it without a minus.\n'),
        (
            ("supply", "use", "rail greese", "1"),
            f'There is no supply "rail greese".\nNearest: "{GREASE}".\n',
        ),
        (
            ("supply", "use", GREASE, "1 oz"),
            'Unit "oz" may be a mass, a US or an imperial volume.\nType "oz av", "US fl oz" or "imp fl oz".\n',
        ),
        (
            ("supply", "use", GREASE, "1", "--lot", "A"),
            f'"{GREASE}" has no lot "A".\nIt has none; type: spindlebook supply receive "{GREASE}"\n',
        ),
        (("supply", "discard", GREASE, "1"), 'No reason was given.\nAdd --reason "dried out".\n'),
        (
            ("supply", "receive", GREASE, "--order", "P9"),
            'There is no order "P9".\nType: spindlebook order list\n',
        ),
        (
            ("order", "place", "Nordlage", f"{GREASE}=1"),
            'There is no supplier "Nordlage".\nNearest: "Nordlager".\n',
        ),
        (
            ("order", "place", "Nordlager", f"{GREASE}=0"),
            f'0 packs of "{GREASE}": whole packs, 1 to 10000.\nType "{GREASE}=2".\n',
        ),
        (("stock", "greese"), f'There is no supply "greese".\nNearest: "{GREASE}".\n'),
        (("reorder", "greese"), f'There is no supply "greese".\nNearest: "{GREASE}".\n'),
    ],
)
def test_bad_input_is_refused_in_one_or_two_lines(book: Path, words: tuple[str, ...], says: str) -> None:
    """The thing, the value seen, the rule, and what to type next, on standard error; nothing is written."""
    engine = open_engine(str(book))
    before = digest(engine)
    ran = sb(book, *words, code=1)

    assert ("", says) == (ran.out, ran.err)
    assert before == digest(engine)
    engine.dispose()


@pytest.mark.parametrize(
    "words",
    [
        ("supply", "use", GREASE),
        ("supply", "repack", GREASE, "1"),
        ("supply", "reverse", GREASE, "0"),
        ("supply", "reverse", GREASE, "two"),
        ("stock", "--expiring", "soon"),
        ("reorder", GREASE, "swab"),
        ("order", "place", "Nordlager", GREASE),
        ("supply", "add", "x", "--kind", "y", "--measured-in", "g", "--tracked", "sometimes"),
    ],
)
def test_a_wrong_command_line_leaves_with_code_2(book: Path, words: tuple[str, ...]) -> None:
    """What is missing or of no form is said, and how to get help."""
    assert "--help" in sb(book, *words, code=2).err


def test_cautions_stand_before_a_solvent_is_opened(book: Path) -> None:
    """Opening and filling over say what to mind; so does the card."""
    name = "isopropyl alcohol 99 %"
    sb(book, "supply", "receive", name, "1 l", "--lot", "can")
    opened = sb(book, "supply", "open", name)
    card = sb(book, "supply", "show", name)

    assert opened.err.startswith("Caution: Isopropyl alcohol: danger. Highly flammable liquid and vapour (H225)")
    assert "\nCaution: Keep solvent off rubber and felt" in card.out


# --- orders ------------------------------------------------------------------------------------------------


def test_an_order_is_placed_confirmed_and_received_in_parts(book: Path) -> None:
    """The list says when the rest is to come; each line that came is a lot with its date and its price."""
    placed = sb(book, "order", "place", "Nordlager", f"{GREASE}=2", "foam swab, lint-free=1", "--name", "P1")
    confirmed = sb(book, "order", "confirm", "P1", "2026-03-20")
    listed = rows(book, "order", "list")
    came = sb(book, "order", "receive", "P1", f"{GREASE}=1, expires 2027-06, lot A", "foam swab, lint-free=50 piece")

    assert placed.out.splitlines() == [
        'Placed order "P1" with "Nordlager":',
        f"  2 packs of {GREASE}, 100 g, at 9.00 EUR",
        "  1 pack of foam swab, lint-free, how much a pack holds is not known",
        "When they name a day: spindlebook order confirm P1 DATE",
        "When it comes: spindlebook order receive P1",
    ]
    assert confirmed.out == 'Order "P1": to come on 2026-03-20, as "Nordlager" said.\n'
    assert [("2026-03-20", "confirmed 2026-03-01", 0)] * 2 == [
        (row["expected_on"], row["rests_on"], row["overdue_days"]) for row in listed
    ]
    assert came.out.splitlines() == [
        'Received by order "P1" from "Nordlager":',
        f'  1 pack of {GREASE}, 50 g: lot "A", good to 2027-06-30',
        '  1 pack of foam swab, lint-free, 50 pieces: lot "2026-03-01"',
        f"Still to come: 1 pack of {GREASE}.",
    ]
    assert [(GREASE, 1)] == [(row["supply"], row["open_packs"]) for row in rows(book, "order", "list")]
    assert "2 packs of 50 g  1 came 2026-03-01, 1 to come   9.00 EUR\n" in sb(book, "order", "list").out
    assert ["9.00"] == [row["value"] for row in rows(book, "stock", GREASE)]
    assert 2 == len(rows(book, "order", "list", "--all"))


@pytest.mark.parametrize(("today", "says"), [("2026-03-20", ""), ("2026-03-21", "overdue by 1 day, was to come on")])
def test_an_order_that_did_not_come_by_its_day_is_said_to_be_overdue(book: Path, today: str, says: str) -> None:
    """On the day itself it may still come; from the next one on the list asks to ask."""
    sb(book, "order", "place", "Nordlager", f"{GREASE}=2", "--name", "P1")
    sb(book, "order", "confirm", "P1", "2026-03-20")
    ran = run_cli(["order", "list"], db=book, today=date.fromisoformat(today))

    assert says in ran.out
    assert bool(says) == ("overdue by" in ran.out) == ('Order "P1" is overdue.' in ran.err)


def test_a_cancelled_order_is_no_longer_to_come(book: Path) -> None:
    """Cancelling twice has nothing to cancel."""
    sb(book, "order", "place", "Nordlager", f"{GREASE}=2", "--name", "P1")

    assert f'Cancelled of order "P1": 2 of {GREASE}.\n' == sb(book, "order", "cancel", "P1").out
    assert "No order is under way.\n" == sb(book, "order", "list").out
    assert (
        'Nothing of order "P1" is still to come: it was cancelled on 2026-03-01.'
        in sb(book, "order", "cancel", "P1", code=1).err
    )


# --- lists -------------------------------------------------------------------------------------------------


def test_stock_gives_a_program_one_object_a_lot(book: Path) -> None:
    """The keys are documented in the help; amounts are numbers, money is exact text."""
    sb(
        book,
        "supply",
        "receive",
        GREASE,
        "50",
        "--lot",
        "A",
        "--price",
        "9.00",
        "--expires",
        "2027-06",
        "--on",
        "2026-02",
    )
    sb(book, "supply", "use", GREASE, "0.5")
    (row,) = rows(book, "stock", GREASE)

    assert {
        "supply": GREASE,
        "lot": "A",
        "quantity": 49.5,
        "measured_in": "g",
        "received_on": "2026-02",
        "expires_on": "2027-06",
        "opened_on": "2026-03-01",
        "usable_through": "2027-06-30",
        "rests_on": "printed expiry 2027-06",
        "state": ["next", "opened"],
        "location": None,
        "value": "8.91",
        "currency": "EUR",
        "then": "inspect or discard",
        "after_inspection": None,
    } == row
    assert all(key in sb(book, "stock", "--help").out for key in row)


def test_reorder_gives_a_program_one_object_a_supply(book: Path) -> None:
    """The first keys are those that programs were promised; what is held up is named with its day."""
    row, *others = rows(book, "reorder")
    promised = "supply state order_by packs quantity supplier cost currency chance_short on_hand rests_on"

    assert promised.split() == list(row)[:11]
    assert {
        "supply": GREASE,
        "packs": 1,
        "quantity": 50,
        "measured_in": "g",
        "supplier": "Nordlager",
        "cost": "13.50",
        "shipping": "4.50",
        "currency": "EUR",
        "on_hand": 0,
        "on_order": 0,
        "needed_by": "2026-04-14",
        "unplanned": None,
        "held_up": ["D1: clean and re-lube rails 2026-04-14"],
        "wanted": [],
    }.items() <= row.items()
    # The supplier says 14 days: the work of 14 April, done a fortnight early at most, is served by ordering before.
    assert "2026-02-15" < row["order_by"] < "2026-03-31"
    assert 0 < row["planned_low"] < 0.5 < row["planned_high"] < 1
    assert 0 < row["chance_short"] < 1
    assert {None} == {each["order_by"] for each in others if each["supplier"] is None}
    assert all(key in sb(book, "reorder", "--help").out for key in row)


def test_an_order_sheet_is_written_for_each_supplier_and_for_what_nobody_offers(book: Path, tmp_path: Path) -> None:
    """Packs, price and sum with shipping once, as text, CSV and a page; nothing is overwritten."""
    folder = tmp_path / "sheets"
    told = sb(book, "reorder", "--order-sheet", str(folder)).out
    text = (folder / "order-to-nordlager-eur-2026-03-01.txt").read_text(encoding="utf-8")
    page = (folder / "order-to-nordlager-eur-2026-03-01.html").read_text(encoding="utf-8")
    table = (folder / "order-to-nordlager-eur-2026-03-01.csv").read_text(encoding="utf-8-sig")

    assert [
        "Order to Nordlager",
        "Date: 2026-03-01",
        f"  1  {GREASE}      1  50 g             9.00  9.00",
        "shipping: 4.50 EUR",
        "total: 13.50 EUR",
    ] == [line for line in text.splitlines() if line.startswith(("Order", "Date", "  1", "shipping", "total"))]
    assert f'1,"{GREASE}",1,50 g,9.00,9.00,EUR' in table.splitlines()
    assert "<h1>Order to Nordlager</h1>" in page
    assert not re.search(r"\{[a-z_]+\}", page)
    assert "foam swab, lint-free" in (folder / "shopping-list-2026-03-01.txt").read_text(encoding="utf-8")
    assert 6 == len(list(folder.iterdir())) == told.count("2026-03-01.")
    assert "is there already; nothing is overwritten" in sb(book, "reorder", "--order-sheet", str(folder), code=1).err


def test_a_supply_is_drawn_with_its_story(book: Path, tmp_path: Path) -> None:
    """As a picture of either form; one of no supply, or of no amounts, is refused with what to type."""
    for name in ("grease.png", "grease.svg"):
        sb(book, "reorder", GREASE, "--plot", str(tmp_path / name))
    sb(book, "supply", "add", "tape", "--kind", "tape", "--measured-in", "piece", "--tracked", "pack")

    assert (tmp_path / "grease.png").read_bytes().startswith(b"\x89PNG")
    assert "<svg" in (tmp_path / "grease.svg").read_text(encoding="utf-8")
    assert "Type: spindlebook reorder SUPPLY --plot FILE.png" in sb(book, "reorder", "--plot", "x.png", code=1).err
    assert "there are no amounts to draw" in sb(book, "reorder", "tape", "--plot", "x.png", code=1).err
    assert "--order-sheet is of all" in sb(book, "reorder", GREASE, "--order-sheet", "x", code=1).err


def keys_of_page(command: str) -> list[str]:
    """Return the keys that docs/json-keys.md lists for a command."""
    page = (ROOT / "docs" / "json-keys.md").read_text(encoding="utf-8").split(f"\n## {command}\n")[1]
    return re.findall(r"^\| `(\w+)` \|", page.split("\n## ")[0], re.MULTILINE)


def test_every_key_stands_in_the_page_of_keys(book: Path) -> None:
    """In the order of docs/json-keys.md, for every list of the drawer and the card of a supply."""
    sb(book, "supply", "receive", GREASE, "50", "--lot", "A")
    sb(book, "order", "place", "Nordlager", f"{GREASE}=1")
    words = {
        "stock": ("stock",),
        "reorder": ("reorder",),
        "reorder SUPPLY": ("reorder", GREASE),
        "supply list": ("supply", "list"),
        "supply history": ("supply", "history", GREASE),
        "order list": ("order", "list"),
    }
    card = json.loads(sb(book, "supply", "show", GREASE, "--json").out)

    assert {name: keys_of_page(name) for name in words} == {name: list(rows(book, *words[name])[0]) for name in words}
    assert keys_of_page("supply show") == list(card)[-6:]


def test_the_csv_of_a_list_has_the_same_columns(book: Path) -> None:
    """One line of headings, then one line a row."""
    for words in (("reorder",), ("stock",), ("supply", "list"), ("order", "list", "--all")):
        heading = sb(book, *words, "--csv").out.splitlines()[0]
        found = rows(book, *words)
        assert all(heading == ",".join(row) for row in found), words


def test_the_history_of_a_supply_numbers_its_movements(book: Path) -> None:
    """Newest first; what a person reads is one line a movement, a program gets every column."""
    sb(book, "supply", "receive", GREASE, "50", "--lot", "A")
    sb(book, "supply", "use", GREASE, "60", "--unit", "D1", "--basis", "sheet")
    history = sb(book, "supply", "history", GREASE).out.splitlines()

    assert [
        "no.  day         what     lot  quantity  remarks",
        (
            "  3  2026-03-01  use              -10 g  by the sheet; D1; doubtful: more than the book has:"
            " entries are missing, please count"
        ),
        "  2  2026-03-01  use      A       -50 g  by the sheet; D1",
        "  1  2026-03-01  receive  A        50 g  measured",
    ] == history
    assert [3, 2] == [row["number"] for row in rows(book, "supply", "history", GREASE, "--last", "2")]


# --- on a terminal -----------------------------------------------------------------------------------------


_STOCK_AT_80 = """\
supply                   lot  quantity  usable through  state           location
foam swab, lint-free          0 pieces                  none left, low
isopropyl alcohol 99 %            0 ml                  none left, low
lint-free cloth               0 pieces                  none left, low
rail grease, lithium     A       0.4 g  2027-06-30      next, low       shelf 3
NLGI 2
low: foam swab, lint-free; isopropyl alcohol 99 %; lint-free cloth; rail
  grease, lithium NLGI 2
4 more supplies were never held, and no due work needs them: spindlebook
  supply list
"""


def screen(db: Path, columns: int, *words: str) -> list[str]:
    """Return what a person sees on a terminal of so many columns."""
    env = {name: value for name, value in environment().items() if name != "COLUMNS"}
    started = warm_program("--db", str(db), "--today", "2026-03-01", *words)
    child = pexpect.spawn(
        started[0],
        started[1:],
        env={**env, "TERM": "dumb"},
        dimensions=(24, columns),
        encoding="utf-8",
        timeout=30,
    )
    text = str(child.read())
    child.close()
    assert 0 == child.exitstatus
    return [line.rstrip() for line in text.splitlines()]


def test_the_drawer_fits_a_terminal_of_80_columns(book: Path) -> None:
    """Long names are wrapped, never cut; what needs a look stands under the list."""
    sb(book, "supply", "receive", GREASE, "0.4", "--lot", "A", "--expires", "2027-06", "--location", "shelf 3")

    assert _STOCK_AT_80.splitlines() == screen(book, 80, "stock")


def test_the_reorder_list_fits_a_terminal_of_80_columns(book: Path) -> None:
    """First the orders to send with what they cost, then what nobody offers, then what may be left alone."""
    shown = screen(book, 80, "reorder")
    groups = [line for line in shown if line.startswith(("Order ", "Shopping ", "Nothing "))]

    assert max(map(len, shown)) <= 80
    assert 3 == len(groups)
    assert re.fullmatch(r"Order (now|by [-0-9]{10}) from Nordlager: 13\.50 EUR, 4\.50 of it shipping", groups[0])
    assert "     waits without it: D1: clean and re-lube rails 2026-04-14" in shown
    assert "All that is to be ordered: 13.50 EUR." in shown


def test_the_story_of_one_supply_can_be_followed_by_hand(book: Path) -> None:
    """What is there and will be taken, what to order, who waits for it, and the sum with what it rests on."""
    sb(book, "supply", "receive", GREASE, "0.3", "--lot", "A")
    shown = screen(book, 80, "reorder", GREASE)
    text = " ".join(line.strip() for line in shown)

    assert max(map(len, shown)) <= 80
    assert shown[0].startswith(f"{GREASE}: order ")
    for sentence in (
        "On the shelf: 0.3 g within its date.",
        "One planned service by 2027-03-01 will take about 0.5",
        "Repairs nobody planned: no basis to say",
        "If you do nothing, it runs short about 2026-0",
        "days (their word; no order of yours yet).",
        "Order 1 pack of 50 g, 13.50 EUR with shipping: lasts",
        "D1    clean and re-lube rails  about 2026-04-14",
        "This rests on:",
    ):
        assert sentence in text, sentence
    assert "2026-04-14     0.5     0.2        0  D1: clean and re-lube rails" in shown


# --- what a start-up loads ---------------------------------------------------------------------------------


def test_a_look_into_the_drawer_loads_nothing_that_it_does_not_need(book: Path) -> None:
    """No table definitions, no data frames, no spreadsheets, no migrations, no plots."""
    looks = ["stock", "reorder", "supply list", "order list"]
    script = (
        "import sys; from collection.cli.main import run;"
        f"codes = [run(['--db', {str(book)!r}, '--today', '2026-03-01', *words.split()]) for words in {looks}];"
        "print('|', *codes, *sys.modules)"
    )
    child = pexpect.run(
        shlex.join([sys.executable, "-c", script]), env={**os.environ, "PYTHONPATH": str(ROOT)}, encoding="utf-8"
    )
    *codes, loaded = str(child).rsplit("|", 1)[1].split(maxsplit=len(looks))

    assert ["0"] * len(looks) == codes
    assert "sqlalchemy" in loaded.split()
    heavy = {"collection.schema", "collection.acts.work", "pandas", "openpyxl", "alembic", "matplotlib", "scipy"}
    assert set() == heavy & set(loaded.split())


def test_the_drawer_of_no_book_is_code_5(tmp_path: Path) -> None:
    """Nothing is created by looking."""
    ran = run_process(["--db", str(tmp_path / "none.sqlite3"), "stock"])

    assert (5, "") == (ran.code, ran.out)
    assert not (tmp_path / "none.sqlite3").exists()
