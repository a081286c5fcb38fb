"""Readings, faults, people and loans from the command line."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.support.cli import ROOT, Ran, run_cli

BRAM = ["--to", "Bram Oakhollow", "--due", "2026-04-01"]


def _run(book: Path, *args: str) -> Ran:
    return run_cli(args, db=book)


def _rows(book: Path, *args: str) -> list[dict[str, Any]]:
    ran = _run(book, *args, "--json")
    assert (0, "") == (ran.code, ran.err)
    rows: list[dict[str, Any]] = json.loads(ran.out)
    return rows


def test_a_reading_is_typed_with_its_unit_and_shown_as_it_is_kept(book: Path) -> None:
    """An index period becomes a speed; what was typed stands beside it."""
    ran = _run(book, "reading", "add", "D1", "spindle speed", "199.2 ms", "--instrument", "bench counter")

    assert (
        """\
no  day         measurement    reading        says    stage    instrument     remarks
 1  2026-03-01  spindle speed  301.205 r/min  within  between  bench counter  typed 199.2 ms
"""
        == ran.out
    )


def test_a_rail_below_zero_is_typed_as_it_is_read(book: Path) -> None:
    """A minus is no option, a point may stand in brackets, and low speaks of the rail's size."""
    row = _rows(book, "reading", "add", "P1", "rail voltage[-12v]", "-10.7", "--load", "1 A")[0]

    assert ("-12 V", "-10.7", -10.7, "V", "1 A") == (
        row["point"],
        row["value"],
        row["result"],
        row["result_in"],
        row["load"],
    )


def test_readings_are_listed_by_day_with_those_set_aside(book: Path) -> None:
    """The number of a reading is its place in the order of entry; the last ones are shown, all on demand."""
    for day, value in (("2026-02-02", "300"), ("2026-02-01", "3000"), ("2026-02-03", "301")):
        _run(book, "reading", "add", "D1", "spindle speed", value, "--on", day, "--instrument", "bench counter")
    aside = _run(book, "reading", "set-aside", "D1", "--number", "2", "--reason", "typed wrong")

    listed = _rows(book, "reading", "list", "D1", "spindle speed")
    shown = _run(book, "reading", "list", "D1", "--last", "1")

    assert 0 == aside.code
    assert [(2, "2026-02-01", "typed wrong"), (1, "2026-02-02", None), (3, "2026-02-03", None)] == [
        (row["number"], row["taken_on"], row["set_aside"]) for row in listed
    ]
    assert ["ten times nominal; typed wrong?"] == listed[0]["doubts"]
    assert shown.out.endswith("2 earlier; --all lists them.\n")
    assert [] == _rows(book, "reading", "list", "D2")


def test_a_doubtful_reading_is_said_at_once(book: Path) -> None:
    """It is booked all the same."""
    ran = _run(book, "reading", "add", "D4", "spindle speed", "360", "--instrument", "bench counter")

    assert 0 == ran.code
    assert ran.out.endswith("Doubtful: spindle speed 360: +20.00 % from nominal 300 r/min: 360 class? wrong nominal?\n")


def test_a_fault_is_added_listed_and_closed(book: Path) -> None:
    """Each step says what to type next; closed ones are listed on demand."""
    added = _run(book, "fault", "add", "D1", "squeals after ten minutes", "--when", "warm")
    listed = _rows(book, "fault", "list")
    closed = _run(book, "fault", "close", "D1", "--cause", "belt glazed", "--cure", "new belt")

    assert (
        'D1: fault 1 "squeals after ten minutes", noticed 2026-03-01.\n'
        "To close it: spindlebook fault close D1 --cause TEXT --cure TEXT\n"
    ) == added.out
    assert [("D1", 1, "warm", None, False)] == [
        (row["tag"], row["number"], row["circumstances"], row["closed_on"], row["no_fault_found"]) for row in listed
    ]
    assert 'D1: fault 1 "squeals after ten minutes" closed 2026-03-01 (belt glazed, new belt).\n' == closed.out
    assert "No open fault; --all lists closed ones too.\n" == _run(book, "fault", "list", "D1").out
    assert ["belt glazed"] == [row["cause"] for row in _rows(book, "fault", "list", "D1", "--all")]


def test_units_are_lent_and_come_back(book: Path) -> None:
    """The loan is shown with its deposit; back, the unit stands as before and what is due after a loan is said."""
    _run(book, "reading", "add", "D4", "spindle speed", "300", "--instrument", "bench counter")

    out = _run(book, "loan", "out", "D4", *BRAM, "--deposit", "20", "--purpose", "club day")
    back = _run(book, "loan", "back", "d4", "--condition", "good")

    assert (
        """\
loan  tag  person          out         due
L1    D4   Bram Oakhollow  2026-03-01  2026-04-01
     club day; deposit 20.00 EUR
To sign: spindlebook report loan-slip L1
To take back: spindlebook loan back D4
"""
        == out.out
    )
    due = "\nD4 stands ready; due: clean head, check spindle speed.\nAll of L1 is back. Its deposit of 20.00 EUR: "
    assert f"{due}spindlebook loan deposit L1\n" in back.out
    assert "Nothing is on loan.\n" == _run(book, "loan", "list").out
    assert [("D4", "2026-03-01", "good", 0)] == [
        (row["tag"], row["back_on"], row["condition_back"], row["days_over"])
        for row in _rows(book, "loan", "list", "--all")
    ]


def test_an_overdue_loan_shows_its_days(book: Path) -> None:
    """What is over stands in the last column, what is ahead does not."""
    _run(book, "loan", "out", "D4", "--to", "Bram Oakhollow", "--on", "2026-01-01", "--due", "2026-02-27")
    _run(book, "loan", "out", "P1", *BRAM, "--all-the-same", "checked by hand")

    lines = _run(book, "loan", "list").out.splitlines()

    assert lines[1].startswith("L1    D4")
    assert lines[1].endswith(" 2")
    assert lines[2].rstrip().endswith("2026-04-01")


def test_people_are_added_and_listed(book: Path) -> None:
    """A new person is there for the next loan."""
    added = _run(book, "person", "add", "Ada Quill", "--role", "issuer", "--email", "ada@example.org")

    assert "Added Ada Quill, issuer.\n" == added.out
    assert [("Ada Quill", "issuer", "ada@example.org", None)] == [
        (row["person"], row["role"], row["email"], row["phone"])
        for row in _rows(book, "person", "list")
        if row["person"] == "Ada Quill"
    ]


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (
            ["loan", "out", "D3", *BRAM],
            """\
D3 is not lent: it is awaiting parts, not ready.
See: spindlebook unit show D3; or give a reason: --all-the-same "REASON".
""",
        ),
        (
            ["loan", "out", "D1", "--to", "Bram", "--due", "2026-04-01"],
            'There is no person "Bram".\nNearest: Bram Oakhollow. A new one: spindlebook person add Bram\n',
        ),
        (["loan", "back", "D1"], "D1 is not on loan.\nType: spindlebook loan list\n"),
        (["fault", "close", "D1", "--cure", "x"], "D1 has no open fault.\nType: spindlebook fault list D1 --all\n"),
        (
            ["reading", "add", "D1", "spindle sped", "300"],
            'There is no measurement "spindle sped".\nNearest: spindle speed.\n',
        ),
        (["reading", "add", "D9x", "ripple", "300"], 'No unit has the tag "D9x".\nNearest: D9.\n'),
    ],
)
def test_refusals_say_what_is_wrong_and_what_to_type(book: Path, args: list[str], says: str) -> None:
    """Two lines on standard error, nothing on standard output."""
    assert Ran(1, "", says) == _run(book, *args)


def _documented(section: str) -> list[str]:
    page = (ROOT / "docs" / "json-keys.md").read_text(encoding="utf-8")
    return re.findall(r"^\| `(\w+)` \|", page.split(f"\n## {section}\n")[1].split("\n## ")[0], re.MULTILINE)


def test_every_command_prints_the_documented_keys(book: Path) -> None:
    """In the order of docs/json-keys.md, whether a list or one object."""
    reading = _rows(book, "reading", "add", "P1", "rail voltage[+5 V]", "5.02")
    aside = _rows(book, "reading", "set-aside", "P1", "--number", "1", "--reason", "typed wrong")
    loans = [
        _rows(book, "loan", "out", "D1", *BRAM),
        _rows(book, "loan", "back", "D1"),
        _rows(book, "loan", "list", "--all"),
    ]
    objects = {
        "fault list": [
            json.loads(_run(book, "fault", "add", "D1", "squeals", "--json").out),
            json.loads(_run(book, "fault", "close", "D1", "--cure", "new belt", "--json").out),
        ],
        "person list": [json.loads(_run(book, "person", "add", "Ada Quill", "--json").out)],
        "service record": [json.loads(_run(book, "service", "open", "D3", "--json").out)],
        "reading list": [*reading, *aside, *_rows(book, "reading", "list", "P1")],
        "loan list": [row for rows in loans for row in rows],
    }
    objects["fault list"] += _rows(book, "fault", "list", "--all")
    objects["person list"] += _rows(book, "person", "list")

    for section, made in objects.items():
        assert [_documented(section)] * len(made) == [list(row) for row in made]
