"""The empty workbook of the import: what stands in it, and that the import understands it."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from collection.analysis.written.headings import propose, subject_of
from collection.errors import Refused
from collection.exchange.sheets_read import read_tables
from collection.exchange.workbook_read import read_workbook
from collection.exchange.workbook_template import SHEETS, write_template
from collection.schema.equipment import STANDINGS

HOSTILE = ['=HYPERLINK("x")', "+1", "-1", "@x", "\tcmd", "clean, then grease", "bell\x07"]


@pytest.fixture
def template(tmp_path: Path) -> Path:
    """Return a template whose words to choose from are hostile."""
    write_template(tmp_path / "mine.xlsx", procedures=HOSTILE, locations=HOSTILE)
    return tmp_path / "mine.xlsx"


@pytest.mark.parametrize("name", list(SHEETS))
def test_each_heading_is_understood_without_a_question(name: str) -> None:
    """A sheet is surely about its subject, and each of its headings surely another field."""
    headings = [heading.name for heading in SHEETS[name]]
    first = [propose(heading, name)[0] for heading in headings]

    assert (name, True) == (subject_of(headings)[0].field, subject_of(headings)[0].sure)
    assert [] == [guess for guess in first if not guess.sure]
    assert len(headings) == len({guess.field for guess in first})


def test_the_import_finds_four_empty_tables_and_nothing_else(template: Path) -> None:
    """Examples and the sheet of words are passed over without a word; nothing is unsure."""
    found = read_tables(template)

    assert list(SHEETS) == [table.holds for table in found.tables]
    assert [[], [], [], []] == [table.block.lines for table in found.tables]
    assert [True] * 4 == [table.sure and all(column.sure for column in table.columns) for table in found.tables]
    assert ([], []) == (found.left_out, found.told)


def test_what_is_typed_below_the_example_is_read(template: Path) -> None:
    """A line of one's own, under a tag that looks like a number, comes in as typed."""
    book = openpyxl.load_workbook(template)
    cell = book["units"]["A3"]
    cell.value, cell.data_type = "00123", "s"
    book.save(template)

    (line,) = read_tables(template).tables[0].block.lines

    assert (3, "00123") == (line.number, line.cells[0].text)


def test_every_cell_is_text_and_examples_are_marked(template: Path) -> None:
    """No word of a book becomes a formula; the second row of each sheet begins with "example:"."""
    book = openpyxl.load_workbook(template)

    kinds = {cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None}

    assert {"s"} == kinds
    assert {"example:"} == {str(book[name]["A2"].value).split()[0] for name in SHEETS}
    assert {"text", "empty"} == {cell.kind for s in read_workbook(template).sheets for _, row in s.rows for cell in row}


def test_lists_widths_formats_and_the_frozen_heading_are_there(template: Path) -> None:
    """Words can be chosen, tags and serials stay as typed, columns are wide enough, and the heading stays in sight."""
    book = openpyxl.load_workbook(template)
    offered = {
        (name, str(book[name].cell(1, openpyxl.utils.cell.range_boundaries(str(offer.sqref))[0] or 0).value)): [
            str(cell.value) for (cell,) in book["choices"][str(offer.formula1).split("!")[1].replace("$", "")]
        ]
        for name in SHEETS
        for offer in book[name].data_validations.dataValidation
    }

    assert list(STANDINGS) == offered["units", "standing"]
    assert {"drive type", "kind", "location"} <= {heading for name, heading in offered if name == "units"}
    assert [*HOSTILE[:-1], "bell_x0007_"] == offered["services", "work done"]
    assert ["as found", "as left", "between"] == offered["readings", "stage"]
    assert "spindle speed" in offered["readings", "measurement"]
    assert "veryHidden" == book["choices"].sheet_state
    for name, headings in SHEETS.items():
        assert "B2" == book[name].freeze_panes
        for place, heading in enumerate(headings):
            column = book[name].column_dimensions[openpyxl.utils.get_column_letter(place + 1)]
            assert max(len(heading.name) + 1, len(heading.example)) <= column.width
            assert heading.as_typed == (column.number_format == "@")
    assert {"tag", "serial no"} <= {heading.name for heading in SHEETS["units"] if heading.as_typed}


def test_nothing_is_overwritten_and_only_a_workbook_is_written(template: Path, tmp_path: Path) -> None:
    """A file that stands, another ending and a missing folder are refused, and nothing is left behind."""
    before = template.read_bytes()

    for file, words in (
        (template, "is there already"),
        (tmp_path / "mine.xls", "does not end in .xlsx"),
        (tmp_path / "no" / "mine.xlsx", "cannot be written"),
    ):
        with pytest.raises(Refused, match=words):
            write_template(file)

    assert before == template.read_bytes()
    assert [template] == list(tmp_path.iterdir())
