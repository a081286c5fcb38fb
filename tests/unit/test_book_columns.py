"""The form of an exported workbook against the CSV form it mirrors and against the page that explains that."""

from __future__ import annotations

import re
from pathlib import Path

from collection.errors import fold
from collection.exchange.book_about import ABOUT
from collection.exchange.book_columns import (
    AS_EXPORTED,
    AS_TYPED,
    BOOK_SHEET,
    DAY,
    MONEY,
    NUMBER,
    ROW_KEY,
    SHOWN,
    TEXT,
    WHOLE,
    YES_NO,
    as_exported,
    sheet_of,
    sheets,
)
from collection.views.folder.form import FORMS
from tests.support.csv_form import what_may_stand_in

PAGE = (Path(__file__).parents[2] / "docs/csv-folder.md").read_text(encoding="utf-8")
KINDS = ((YES_NO,), (DAY,), (WHOLE,), (NUMBER, MONEY), (TEXT, AS_TYPED))
LONGEST_NAME, LONGEST_LIST = 31, 255  # of a sheet, of words written into a rule; common practice, no source
COLUMNS = [(form.file, column) for form in sheets().values() for column in form.marked]


def test_each_file_of_the_csv_form_has_its_sheet_with_its_columns_in_order() -> None:
    """Nothing that a folder carries is missing in a workbook, and no sheet is of no file."""
    assert list(map(sheet_of, FORMS)) == [form for file in FORMS for form in sheets().values() if form.file == file]
    assert {file: form.columns for file, form in FORMS.items()} == {
        form.file: tuple(column.column for column in form.marked) for form in sheets().values()
    }
    assert len(FORMS) == len(sheets())


def test_headings_tell_columns_apart() -> None:
    """A column that was moved is found by its heading, whatever its capitals; no other sheet has the sheet's name."""
    for form in sheets().values():
        headings = [fold(column.heading) for column in form.columns]
        assert len(headings) == len({*headings, ROW_KEY, AS_EXPORTED}) - 2, form.name
        assert len(form.name) <= LONGEST_NAME
        assert form.name not in (ABOUT, "choices", BOOK_SHEET)


def test_the_kind_of_a_cell_is_what_the_import_reads() -> None:
    """Numbers, days, yes and no and closed lists are such in the workbook where the import takes nothing else."""
    takes = {(file, column.column): what_may_stand_in(file, column.column) for file, column in COLUMNS}

    assert {place: _kinds(what) for place, what in takes.items()} == {
        (file, column.column): next(kinds for kinds in KINDS if column.kind in kinds) for file, column in COLUMNS
    }
    assert {place: _closed(what) for place, what in takes.items()} == {
        (file, column.column): tuple(column.words) for file, column in COLUMNS
    }
    for _file, column in COLUMNS:
        assert len(",".join(column.words)) <= LONGEST_LIST
        assert not any("," in word for word in column.words)


def _kinds(takes: str) -> tuple[str, ...]:
    """Return the kinds of cell that are right for what a column takes."""
    if takes == "yes / no":
        return (YES_NO,)
    if takes.startswith("day"):
        return (DAY,)
    if takes.startswith("whole number"):
        return (WHOLE,)
    return (NUMBER, MONEY) if takes.startswith("number") else (TEXT, AS_TYPED)


def _closed(takes: str) -> tuple[str, ...]:
    words = tuple(takes.split(" / "))
    return words if len(words) > 1 and words[0] not in ("number", "unit of measure", "measurement: level") else ()


def test_a_column_means_what_the_page_of_the_csv_form_says() -> None:
    """The first sheet of a workbook and docs/csv-folder.md explain a column in the same words."""
    told = {}
    for section in PAGE.split("\n## ")[1:]:
        file = section.split("\n")[0]
        for name, meaning in re.findall(r"^\| \*{0,2}`(\w+)`\*{0,2} \| .*? \| (.*) \|$", section, re.MULTILINE):
            told[file, name] = re.sub(r"(\w+)\.csv", r"sheet \1", meaning)

    assert told == {(file, column.column): column.meaning for file, column in COLUMNS}


def test_what_a_row_said_is_marked_by_its_meaning() -> None:
    """The spelling of a number, blanks around a text and letters no workbook holds change no mark; a word does."""
    form = sheet_of("hours.csv")
    said = as_exported(None, form, ["D1", "2026-02-01", "120.50", "no"])

    assert said == as_exported(None, form, [" D1\a", "2026-02-01", "120.5", "No"])
    assert said != as_exported(None, form, ["D1", "2026-02-01", "120.51", "no"])
    assert said != as_exported(None, form, ["D1", "2026-02", "120.50", "no"])
    assert (":", "3:") == (said[:1], as_exported(3, form, ["D1", "", "", ""])[:2])


def test_what_is_only_shown_is_no_part_of_a_row() -> None:
    """The columns that tell what a number is measured in stand in no file."""
    shown = {
        (form.name, column.heading) for form in sheets().values() for column in form.columns if column.kind == SHOWN
    }

    assert ("units", "on loan until") in shown
    assert {"lots", "uses", "counts", "offers", "amounts", "readings", "instruments", "limits"} == {
        name for name, heading in shown if heading == "in"
    }
