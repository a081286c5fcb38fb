"""Parts, donors and lubricants as they are typed and shown."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from tests.support.cli import Ran, run_cli


@pytest.fixture
def demo(built_demo: Path) -> Path:
    """Return the demo's book; nobody may write to it."""
    return built_demo


@pytest.fixture
def book(demo: Path, tmp_path: Path) -> Path:
    """Return a copy for this test alone."""
    return Path(shutil.copy(demo, tmp_path / "book"))


def run(book: Path, *words: str) -> Ran:
    """Run a command that works."""
    ran = run_cli(words, db=book)
    assert 0 == ran.code, ran
    return ran


def test_a_donor_s_card_and_list_tell_what_is_left_and_who_has_the_rest(book: Path) -> None:
    """D7 gives its mechanism to D5: the card of each says so, and D5's readings are those of D7."""
    assert "Left on D7, as far as the book knows: mechanism, board," in run(book, "part", "list", "D7").out

    assert (
        "D5: mechanism, from unit D7, fitted 2026-03-01.\n"
        == run(book, "part", "fit", "D5", "mechanism", "--donor", "D7").out
    )

    assert "left on it  board, front\n" in run(book, "unit", "show", "D7").out
    assert "mechanism   its own went to D5 on 2026-03-01\n" in run(book, "unit", "show", "D7").out
    card = run(book, "unit", "show", "D5").out
    assert "of D7, fitted 2026-03-01; what it read in D7 before is shown here; its own lies loose since" in card
    listed = json.loads(run(book, "reading", "list", "D5", "head condition", "--all", "--json").out)
    assert {"mechanism of D5", "mechanism of D7"} == {row["mechanism"] for row in listed}
    assert "read in D7" in run(book, "reading", "list", "D5", "head condition", "--all").out
    rows = json.loads(run(book, "part", "list", "D7", "--json").out)
    assert ("taken", "D5") in {(row["state"], row["to"]) for row in rows}
    refused = run_cli(["part", "fit", "D1", "head", "--donor", "D7"], db=book)
    assert (1, True) == (refused.code, "The head of D7 went to D5 with the mechanism on 2026-03-01." in refused.err)


def test_a_supply_unit_is_opened_with_a_caution_before(book: Path) -> None:
    """The caution is the first thing said."""
    assert run(book, "part", "remove", "P1", "fan", "--reason", "noisy").out.startswith(
        "Caution: a supply unit has mains"
    )


def test_another_lubricant_is_cautioned_before_it_is_written_and_shown_on_its_point(book: Path) -> None:
    """Outside a service, in one by option, and in one by file."""
    run(book, "supply", "add", "blue grease", "--kind", "grease", "--measured-in", "g", "--thickener", "polyurea")

    told = run(book, "unit", "lubricated", "D6", "rails", "blue grease").out.splitlines()

    assert told[0].startswith("Caution: blue grease (polyurea) over rail grease, lithium NLGI 2, on the rails since")
    assert "D6: blue grease on rails since 2026-03-01." == told[1]
    assert "rails  blue grease  2026-03-01" in run(book, "unit", "show", "D6").out
    words = ["service", "record", "D6", "--outcome", "in use", "--anyway", "as before", "--json"]
    (book.parent / "told.json").write_text(
        '{"lubed": [{"point": "rails", "supply": "rail grease, lithium NLGI 2", "cleaned_first": true}]}'
    )
    clean = json.loads(run(book, *words, "--from", str(book.parent / "told.json")).out)
    mixed = json.loads(run(book, *words, "--lubed", "rails=blue grease").out)
    assert [([], 0), (["blue grease"], 1)] == [
        ([row["supply"] for row in made["lubed"] if not row["cleaned_first"]], len(made["doubts"]))
        for made in (clean, mixed)
    ]
    assert "Clean the old one off first" in " ".join(mixed["cautions"])
