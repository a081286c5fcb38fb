"""Pages of what comes, is damaged and is carried out: receipt, damage, emergency list."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from collection.store.engine import open_engine
from tests.support.cli import run_cli
from tests.support.shelf import shelf

HOSTILE = "<script>alert(1)</script>{{ 7 * 7 }}"


@pytest.fixture
def book(sqlite_book: Path) -> Path:
    """Return the path of a book with two units, a person and a policy."""
    engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        made.location(made.unit("D1", marks=HOSTILE), "shelf A")
        made.unit("D2")
        made.named("person", "Ada Quill", role="keeper", salt="salt", phone="555 1234", address=HOSTILE)
        made.named("policy", "P-7", from_date="2026-01-01", insurer="Fen Mutual")
    engine.dispose()
    return sqlite_book


def typed(book: Path, *words: str) -> None:
    """Run a command on the book, which does its work."""
    ran = run_cli(words, db=book)
    assert 0 == ran.code, ran


def page(book: Path, *words: str) -> str:
    """Return the text of a report's page, blanks and line ends as one blank; no text of the book runs on it."""
    file = book.with_name("page.html")
    typed(book, "report", *words, "--to", str(file), "--replace")
    html = file.read_text(encoding="utf-8")
    assert "<script>" not in html
    return " ".join(re.sub(r"<[^>]*>", " ", html.partition("</style>")[2]).split())


def test_a_receipt_has_all_that_one_person_brought_as_it_came(book: Path) -> None:
    """Under one number, with what was in the box, the damage, why and until when; both sides sign."""
    brought = ("--from", "Ada Quill", "--for", "to look at", "--return-by", "2026-06")
    typed(book, "arrival", "D1", *brought, "--contents", "drive and cable", "--damage", HOSTILE)
    typed(book, "arrival", "D2", *brought, "--entry", "E1")

    shown = page(book, "receipt", "D2")

    for said in (
        "Receipt E1",
        "Ada Quill",
        "555 1234",
        "to look at",
        "drive and cable",
        "no damage noted",
        "{{ 7 * 7 }}",
    ):
        assert said in shown
    assert "They go back by 2026-06, or earlier" in shown
    assert shown.index("D1 Varnhall") < shown.index("D2 Varnhall") < shown.index("Signed")
    typed(book, "arrival", "D2", "--correct", "--return-by", "2026-07", "--reason", "asked for longer")
    each_its_own = page(book, "receipt", "E1")
    assert "drive and cable; goes back by 2026-06" in each_its_own
    assert "goes back by 2026-07" in each_its_own
    assert "They go back by" not in each_its_own


def test_a_page_of_damage_has_what_is_told_and_lists_what_is_not(book: Path) -> None:
    """The insurer in force, the estimate and the condition stand on it; who reported it is still asked for."""
    typed(book, "condition", "add", "D1", "--condition", "whole", "--on", "2026-02-01")
    told = ("--circumstances", HOSTILE, "--estimate", "40", "--condition", "crack of 3 cm")
    typed(book, "damage", "add", "D1", "bezel cracked", "--on", "2026-02-27", *told)

    shown = page(book, "damage", "dl1")

    for said in ("Damage DL1", "bezel cracked", "condition before whole", "crack of 3 cm", "40.00 EUR", "Fen Mutual"):
        assert said in shown
    to_do = shown.partition("Not told yet")[2]
    assert "who reported it" in to_do
    assert "how it happened" not in to_do


def test_the_emergency_list_says_how_to_stay_safe_before_what_to_carry_and_names_no_sum(book: Path) -> None:
    """Cautions, then whom to call, then units by rank with where they are; others read it, so no worth stands on it."""
    typed(book, "unit", "edit", "D2", "--rescue-rank", "1", "--rescue-note", "two people")
    typed(book, "value", "add", "D1", "981.50", "--basis", "market")
    typed(book, "person", "add", "Cass Lender", "--role", "outside")
    typed(book, "loan", "in", "D1", "--from", "Cass Lender", "--due", "2026-09-30")
    typed(book, "unit", "add", "D3", "--model", "VX-5")
    typed(book, "unit", "enter", "D3", "--standing", "missing")

    shown = page(book, "emergency")
    first = page(book, "emergency", "--first", "1")

    order = [
        "People first",
        "Ada Quill",
        "555 1234",
        "Fen Mutual",
        "D2 Varnhall",
        "two people",
        "D1 Varnhall",
        "shelf A",
    ]
    assert order == sorted(order, key=shown.index)
    assert "981" not in shown
    assert "1 unit is on loan, away or missing and not on this list." in shown
    assert "1 more unit is here; 1 unit is on loan" in first
    assert "borrowed" in shown
    assert "Cass Lender" not in shown


def test_what_leaves_for_good_is_signed_for_with_its_condition_and_its_history_tells_of_damage(book: Path) -> None:
    """One page for what went to one person, with the price; a unit of which nothing is told has none."""
    typed(book, "condition", "add", "D1", "--condition", "two scratches", "--on", "2026-02-01")
    typed(book, "damage", "add", "D1", "dented", "--on", "2026-02-02")
    sold = ("--how", "sold", "--reason", "spare", "--to", "Ada Quill")
    typed(book, "person", "add", "Ida Keep", "--role", "keeper")
    typed(book, "unit", "dispose", "D1", *sold, "--price", "45")
    refused = run_cli(["report", "disposal", "D2"], db=book)
    typed(book, "unit", "dispose", "D2", *sold, "--authority", "Ida Keep")

    shown = page(book, "disposal", "D2", "D1")

    order = [
        "Ada Quill",
        "555 1234",
        "decided by Ida Keep",
        "D1 Varnhall",
        "two scratches",
        "45.00 EUR",
        "D2 Varnhall",
        "Mains inside",
        "Received by",
    ]
    assert order == sorted(order, key=shown.index)
    assert (1, "No disposal of D2 is told.") == (refused.code, refused.err.splitlines()[0])
    assert "damage 2026-02-02: dented; open" in page(book, "unit-history", "D1", "--no-people")
