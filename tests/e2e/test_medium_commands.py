"""Disks and instruments from the command line, and what the due list says of them."""

from __future__ import annotations

import json
from pathlib import Path

from tests.support.cli import run_well


def test_the_due_list_names_checks_and_worn_disks_below_the_units(book: Path) -> None:
    """Below, at and above the horizon; what is retired is named no more, and --json has the units alone."""
    run_well(book, "medium", "add", "R-1", "--role", "reference", "--from", "2024-03-31", "--check-every", "24")
    run_well(book, "medium", "add", "R-2", "--role", "reference", "--from", "2024-04-01", "--check-every", "24")
    run_well(book, "medium", "add", "C-1", "--role", "cleaning", "--most-uses", "2")
    run_well(book, "medium", "use", "C-1", "2")
    run_well(book, "instrument", "check", "hand strobe", "fail")
    lines = run_well(book, "due").out.splitlines()[-3:]
    told = [
        "also due: check of hand strobe, which failed its last",
        "also due: check of R-1, 2026-03-31",
        "worn: C-1, used 2 times of 2",
    ]
    assert told == lines
    assert "also due: check of R-2, 2026-04-01" in run_well(book, "due", "--within", "31d").out
    assert "also due" not in run_well(book, "due", "--json").out

    run_well(book, "medium", "retire", "C-1", "--reason", "worn")
    assert "C-1" not in run_well(book, "due").out


def test_a_disk_that_only_readings_name_is_offered_for_the_list(book: Path) -> None:
    """Names typed for years become disks with their uses in one command."""
    for day in ("2026-02-01", "2026-02-02"):
        run_well(book, "reading", "add", "D1", "head condition", "pass", "--disk", "work disk 1", "--on", day)
    assert "work disk 1 (2)" in run_well(book, "medium", "list").out

    run_well(book, "medium", "add", "work disk 1", "--role", "known good", "--from", "2026")
    (row,) = json.loads(run_well(book, "medium", "list", "--json").out)
    assert (2, "2026-02-02") == (row["uses"], row["last_used"])
    assert "read with it" in run_well(book, "medium", "show", "work disk 1").out


def test_an_instrument_list_marks_references_and_an_edit_says_what_it_changed(book: Path) -> None:
    """One line per change, before and after; the same edit again has nothing to do."""
    edit = ("instrument", "edit", "bench counter", "--for", "spindle speed", "--resolution", "0.1", "--kind", "counter")
    assert "bench counter: spindle speed resolution nothing -> 0.1" in run_well(book, *edit).out
    assert "Nothing to do" in run_well(book, *edit).out
    assert "spindle speed *" in run_well(book, "instrument", "list").out
