"""The words that pages are given: steps with their cautions, days over, groups of a round and of what to buy."""

from __future__ import annotations

import re
from typing import Any

import pytest

from collection.exchange.report_bench import step_of
from collection.exchange.report_due import due_places
from collection.exchange.report_page import render
from collection.exchange.report_round import SheetLine, round_places
from collection.exchange.report_shopping import shopping_places

FRAME = {"book": "the club", "day": "2026-03-01"}


def text_of(page: str) -> str:
    """Return what is read on a page, blanks and line ends as one blank."""
    return " ".join(re.sub(r"<[^>]*>", " ", page.partition("<body")[2]).split())


@pytest.mark.parametrize(
    ("line", "caution", "number", "text"),
    [
        ("1. Unplug it.", False, "1.", "Unplug it."),
        ("12.  Close it.", False, "12.", "Close it."),
        ("Caution: hot.", True, "", "hot."),
        ("  CAUTION:plug out", True, "", "plug out"),
        ("Use 0.5 g.", False, "", "Use 0.5 g."),
        ("No. 4 screw", False, "", "No. 4 screw"),
    ],
)
def test_a_line_of_a_procedure_is_a_step_or_a_caution(line: str, caution: bool, number: str, text: str) -> None:
    """A caution is never printed as a step with a box to tick."""
    assert {"caution": caution, "number": number, "text": text} == step_of(line)


def due_row(tag: str, over: int) -> dict[str, Any]:
    """Return a row of the due list."""
    return {
        "tag": tag, "model": "VK 410", "location": None, "standing": None, "due": "2026-03-01", "days_over": over,
        "procedures": ["dust out"], "why": ["dust out: 12 months"], "note": None,
    }  # fmt: skip


def test_what_is_due_today_is_not_overdue_yet() -> None:
    """One day over, today, and one day ahead: each on its side, in the singular."""
    places = due_places([due_row("D1", 1), due_row("D2", 0), due_row("D3", -1), due_row("D4", 2)], [], "iso")
    text = text_of(render("due", FRAME | places))

    assert [("Overdue", ["D1", "D4"]), ("Due", ["D2", "D3"])] == [
        (group["title"], [line["tag"] for line in group["lines"]]) for group in places["groups"]
    ]
    assert all(words in text for words in (" 1 day over", " today ", " in 1 day ", " 2 days over"))


def test_a_round_sheet_names_each_place_once_and_has_the_box_that_is_asked() -> None:
    """A value in its unit, a grade to ring, or yes and no; no column of limits where there are none."""
    lines = [
        SheetLine("D2", "attic", "300.1", "2026-01-02", "295.5 to 304.5"),
        SheetLine("D10", "attic", "", "", ""),
        SheetLine("D1", "", "", "2025-01-02", ""),
    ]
    told: dict[str, Any] = {"cautions": ["Plug out."], "left_out": ["D7 (donor)"], "command": "spindlebook round"}
    places = round_places("Round: spindle speed", {"day": ""}, lines, measured_in="r/min", **told)
    speeds = text_of(render("round-sheet", FRAME | places))
    done = text_of(render("round-sheet", FRAME | round_places("Round", {}, lines[1:], measured_in="", **told)))
    grades = text_of(render("round-sheet", FRAME | round_places("Round", {}, lines[1:], measured_in="graded", **told)))

    assert [("attic", 2), ("no location", 1)] == [(each["place"], len(each["lines"])) for each in places["places"]]
    assert "D2 300.1 2026-01-02 295.5 to 304.5 r/min D10 never r/min" in speeds
    assert speeds.index("Plug out.") < speeds.index("D2")
    assert "3 units. Not visited: D7 (donor)." in speeds
    assert ("limit" in speeds, "limit" in done) == (True, False)
    assert "D1 2025-01-02 yes no" in " ".join(done.replace("&emsp;", " ").split())
    assert "D10 never pass / marginal / fail" in grades


def test_the_shopping_list_has_what_is_to_be_bought_and_what_is_to_be_found_out() -> None:
    """What is fine is left out, and so is what a row rests on."""
    fine = {"name": "bag", "state": "fine", "group": "Nothing to order yet", "sheet": ""}
    unsure = {
        "name": "glue", "state": "do not know", "group": "No day", "sheet": "", "under": ["would help most: a count"],
    }  # fmt: skip
    rows: list[dict[str, Any]] = [
        {
            "name": "swab", "state": "order now", "what": "order now", "buy": "2 packs", "price": "8.00 EUR",
            "group": "Order now from Nordlager", "sheet": "order", "under": ["wanted for D1", "rests on: 3 uses"],
        },
        {"name": "cloth", "state": "order now", "sheet": "order", "under": "wanted for D2"},
        unsure,
        fine,
    ]  # fmt: skip
    places = shopping_places(rows, "2027-03-01", ["8.00 EUR"])
    text = text_of(render("shopping", FRAME | places))

    assert [("Order now from Nordlager", ["swab", "cloth"])] == [
        (group["title"], [line["supply"] for line in group["lines"]]) for group in places["groups"]
    ]
    assert "swab wanted for D1 2 packs" in text
    assert "To find out first glue: would help most: a count" in text
    assert "rests on" not in text
    assert "bag" not in text
    assert "Nothing is to be bought for the work until 2027-03-01." in text_of(
        render("shopping", FRAME | shopping_places([fine], "2027-03-01", []))
    )
