"""Where a table begins and ends in a sheet that a person made."""

from __future__ import annotations

from typing import Any

from collection.exchange.sheets_map import WORDS
from collection.exchange.sheets_tables import Block, LeftOut, find_blocks, letters, place_of
from collection.exchange.workbook_read import EMPTY, Cell
from collection.exchange.workbook_sheet import SheetRows

HEADING = ("tag", "model", "serial no.", "price")


def _cell(value: Any) -> Cell:
    if value is None:
        return EMPTY
    return Cell(str(value), "number" if isinstance(value, int | float) else "text")


def _found(*rows: tuple[Any, ...] | None, **more: Any) -> tuple[list[Block], list[LeftOut]]:
    """Return the tables of a sheet given row by row; None is a blank row."""
    cells = [(number, tuple(map(_cell, row))) for number, row in enumerate(rows, 1) if row]
    return find_blocks(SheetRows("s", cells, **more), WORDS)


def _numbers(block: Block) -> list[int]:
    return [line.number for line in block.lines]


def test_title_lines_above_and_blank_lines_inside_do_not_end_a_table() -> None:
    """The place of the table leaves the titles out, and they are said."""
    blocks, left_out = _found(("My drives",), None, HEADING, ("D1", "VK 1", "a", 3), None, None, ("D2", "VK 1", "b", 4))

    assert [(block.place, _numbers(block)) for block in blocks] == [("A3:D7", [4, 7])]
    assert [(each.row, each.column, each.value) for each in left_out] == [(1, "A", "My drives")]


def test_a_row_of_totals_is_left_out_by_its_word_or_by_its_sums() -> None:
    """A last row whose numbers are no sums is a row like others, and so is one with a word beside them."""
    rows = (HEADING, ("D1", "VK 1", "a", 3), ("D2", "VK 1", "b", 4))
    by_word, said = _found(*rows, ("Summe", None, None, "7,-"))
    by_sums, _ = _found(*rows, (None, None, None, 7))
    no_sums, _ = _found(*rows, (None, None, None, 8))
    named, _ = _found(*rows, ("D3", None, None, 7))

    assert [_numbers(found[0]) for found in (by_word, by_sums, no_sums, named)] == [
        [2, 3],
        [2, 3],
        [2, 3, 4],
        [2, 3, 4],
    ]
    assert {(each.value, each.rule) for each in said} == {("Summe", "a row of totals"), ("7,-", "a row of totals")}


def test_a_table_beside_another_is_its_own_only_where_it_names_things() -> None:
    """A gap in the headings alone parts nothing: prices two columns on belong to the same rows."""
    two, _ = _found(("tag", "model", None, "item", "how much"), ("D1", "VK 1", None, "swabs", "25"))
    one, _ = _found(("tag", "model", None, "price", "bought"), ("D1", "VK 1", None, 3, "2021"))

    assert [[column.heading for column in block.columns] for block in two] == [["tag", "model"], ["item", "how much"]]
    assert [[column.heading for column in block.columns] for block in one] == [["tag", "model", "price", "bought"]]


def test_a_table_below_another_ends_it_and_its_title_is_no_row() -> None:
    """The same headings once more are no new table."""
    blocks, left_out = _found(
        HEADING,
        ("D1", "VK 1", "a", 3),
        HEADING,
        ("D2", "VK 1", "b", 4),
        None,
        ("Loans",),
        ("drive", "lent to"),
        ("D1", "X"),
    )

    assert [(block.heading_row, _numbers(block)) for block in blocks] == [(1, [2, 4]), (7, [8])]
    assert {(each.row, each.rule) for each in left_out} == {
        (3, "the headings once more"),
        (6, "a line outside of every table"),
    }


def test_a_column_without_a_heading_is_kept_where_it_has_cells() -> None:
    """Inside the table and right behind it."""
    blocks, _ = _found(("tag", None, "model", "price"), ("D1", "x", "VK 1", 3, "y"), ("D2", None, "VK 1", 4))

    assert [(column.letter, column.heading) for column in blocks[0].columns] == [
        ("A", "tag"),
        ("B", ""),
        ("C", "model"),
        ("D", "price"),
        ("E", ""),
    ]


def test_merged_cells_are_refused_from_the_heading_to_the_last_row() -> None:
    """Above, below and beside the table they are fine."""
    rows = (("Title",), HEADING, ("D1", "VK 1", "a", 3), ("D2", "VK 1", "b", 4), None, ("end of the list, thank you",))
    refused = {
        area: bool(_found(*rows, merged=(area,))[0][0].refused)
        for area in ("A1:D1", "A1:A2", "B2:C2", "A3:A4", "D4:E4", "A6:D6", "F3:G4")
    }

    assert refused == {
        "A1:D1": False, "A1:A2": True, "B2:C2": True, "A3:A4": True, "D4:E4": True, "A6:D6": False, "F3:G4": False
    }  # fmt: skip


def test_values_that_are_heading_words_make_no_heading_below_half_of_a_row() -> None:
    """Two words in five cells are a row, three in five are headings."""
    row, _ = _found(("tag", "model", "serial no.", "price", "note"), ("D1", "VK 1", "a", "belt", "works"))
    heading, _ = _found(("tag", "model", "serial no.", "price", "note"), ("D1", "VK 1", "motor", "belt", "works"))

    assert (len(row), len(heading)) == (1, 2)


def test_letters_of_columns_are_those_of_a_spreadsheet() -> None:
    """A to Z, then AA; both ways."""
    assert [letters(place) for place in (0, 25, 26, 51, 52, 701, 702)] == ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]
    assert [place_of(letters(place)) for place in range(800)] == list(range(800))
