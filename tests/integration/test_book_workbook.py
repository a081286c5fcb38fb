"""The book as a workbook: what stands in it, what it says of itself, what is left out, and what is refused."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from sqlalchemy.engine import Engine

from collection.errors import Refused
from collection.exchange import book_workbook
from collection.exchange.book_columns import AS_EXPORTED, BOOK_SHEET, ROW_KEY, as_exported, sheet_of, sheets
from collection.exchange.book_workbook import Choice, Written, write_workbook
from collection.exchange.workbook_read import read_workbook
from collection.schema.equipment import STANDINGS
from collection.store.engine import fetch, reading
from collection.views.book_sheets import sheet_rows
from collection.views.unit_list import Wanted
from tests.support.came_back import SHELF
from tests.support.folders import bring
from tests.support.times import TODAY


@pytest.fixture
def shelf(engine: Engine) -> Engine:
    """Return the book of a small shelf with a row of every kind, one unit out on loan."""
    more = "L2,D2,Anouk Verrin,2026-02-01,2026-04,show,\n"
    bring(engine, {**SHELF, "loans": SHELF["loans"] + more})
    return engine


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """Return a folder in which nothing stands."""
    (tmp_path / "out").mkdir()
    return tmp_path / "out"


def export(
    engine: Engine, file: Path, *only: str, day: date = TODAY, units: Mapping[str, str] | None = None
) -> Written:
    """Write a workbook, over another one too."""
    with reading(engine) as conn:
        return write_workbook(conn, file, Choice(only, Wanted(**(units or {}))), today=day, replace=True)


def table(book: Any, sheet: str) -> list[dict[str, Any]]:
    """Return the rows of a sheet of a workbook that openpyxl has opened, by their headings."""
    heading, *rows = book[sheet].iter_rows(values_only=True)
    return [dict(zip(map(str, heading), row, strict=True)) for row in rows]


def said(file: Path) -> dict[str, list[tuple[str, ...]]]:
    """Return every cell of every sheet."""
    return {sheet.name: [tuple(cell.text for cell in cells) for _, cells in sheet.rows] for sheet in rows_of(file)}


def rows_of(file: Path) -> Any:
    """Return the sheets as the import reads them."""
    return read_workbook(file).sheets


def test_cells_are_days_numbers_and_texts_as_another_program_sees_them(shelf: Engine, place: Path) -> None:
    """Days are dates, prices and readings numbers, tags and serials texts; a month stays a month."""
    export(shelf, file := place / "book.xlsx", "units", "readings", "uses")

    book = openpyxl.load_workbook(file)
    first, second, *_ = table(book, "units")
    found = next(row for row in table(book, "readings") if row["stage"] == "between")

    assert ("D1", "70-1", 25, "EUR", "2019-05") == tuple(
        first[name] for name in ("tag", "serial", "price", "currency", "acquired on")
    )
    assert (datetime(2020, 1, 2), "2026-04") == (second["acquired on"], second["on loan until"])  # noqa: DTZ001
    assert (299.4, "r/min", datetime(2025, 3, 1)) == (found["value"], found["in"], found["taken on"])  # noqa: DTZ001
    assert [("rail oil", 0.5, "ml"), ("rail oil", 1, "ml")] == [
        (row["supply"], row["quantity"], row["in"]) for row in table(book, "uses")
    ]


def test_the_foot_of_a_printed_sheet_has_room_for_its_line(shelf: Engine, place: Path) -> None:
    """Name and page stand whole below the rows, above what printers leave blank (about 6 mm; common practice)."""
    export(shelf, file := place / "book.xlsx", "units")
    margins = openpyxl.load_workbook(file)["units"].page_margins
    a_line = 10 / 72  # inches of letters of 10 points

    assert 6 / 25.4 < margins.footer < margins.bottom - a_line


def test_each_row_carries_its_key_its_version_and_what_it_said(shelf: Engine, place: Path) -> None:
    """Behind the first column, in every sheet: by them the import knows a row again and what was edited."""
    written = export(shelf, file := place / "book.xlsx")

    cells = said(file)
    assert list(sheets()) == list(written.rows) == [name for name in cells if name in sheets()]
    with reading(shelf) as conn:
        for name, form in sheets().items():
            rows = [(row.key, as_exported(row.version, form, row.cells)) for row in sheet_rows(conn, form.file, TODAY)]
            assert [(ROW_KEY, AS_EXPORTED), *rows] == [row[1:3] for row in cells[name]]
            assert len(rows) == written.rows[name] > 0


def test_the_workbook_says_of_which_book_and_state_it_is(shelf: Engine, place: Path) -> None:
    """The first sheet says it to a person, a hidden one to the import; a third has the names to choose from."""
    export(shelf, file := place / "book.xlsx", "units", "people", units={"standing": "", "owner": ""})

    with reading(shelf) as conn:
        ((key,),) = fetch(conn, "SELECT key FROM book")
        act, seal = fetch(conn, "SELECT act_id, hash FROM seal ORDER BY id DESC LIMIT 1")[0]
    book = openpyxl.load_workbook(file)
    about = "\n".join(str(cell.value) for row in book["about"].iter_rows() for cell in row if cell.value)
    marks: dict[Any, Any] = {row[0]: row[1] for row in book[BOOK_SHEET].iter_rows(values_only=True)}

    assert ["about", "units", "people", BOOK_SHEET, "choices"] == book.sheetnames
    assert ["visible"] * 3 + ["veryHidden"] * 2 == [book[name].sheet_state for name in book.sheetnames]
    assert {
        "form": "1",
        "book": key,
        "act": str(act),
        "seal": seal,
        "today": TODAY.isoformat(),
    }.items() <= marks.items()
    assert {"only": "units; people"}.items() <= marks.items()
    assert all(
        words in about
        for words in (key, "the sheets units, people", "names and addresses", "spindlebook import", "'2025-10")
    )
    assert all(column.meaning in about for name in ("units", "people") for column in sheets()[name].columns)
    units = book["units"]
    assert (True, True) == (units.column_dimensions["B"].hidden, units.column_dimensions["C"].hidden)
    assert ("D2", units.dimensions) == (units.freeze_panes, units.auto_filter.ref)
    offered = {str(rule.sqref): rule.formula1 for rule in units.data_validations.dataValidation}
    assert f'"{",".join(STANDINGS)}"' == offered["J2:J5004"]
    assert "'choices'!$A$2:$A$3" == offered["D2:D5004"]
    assert ["PS 2", "VK 1"] == [row[0] for row in book["choices"].iter_rows(2, 3, values_only=True)]


def test_a_second_export_equals_the_first_cell_for_cell(shelf: Engine, place: Path) -> None:
    """Nothing in it hangs on the moment of writing."""
    export(shelf, place / "one.xlsx", "units", "services", "lots")
    export(shelf, place / "two.xlsx", "units", "services", "lots")

    assert said(place / "one.xlsx") == said(place / "two.xlsx")


def test_chosen_units_bring_their_own_rows_and_nothing_else(shelf: Engine, place: Path) -> None:
    """Of one standing, place or owner there are the sheets about units, and no name of anything else."""
    written = export(shelf, file := place / "book.xlsx", units={"standing": "on loan"})

    assert {"units": 1, "models": 1, "entries": 3, "pairings": 0, "readings": 1, "loans": 2} == {
        name: written.rows.get(name, 0) for name in ("units", "models", "entries", "pairings", "readings", "loans")
    }
    book = openpyxl.load_workbook(file)
    assert {"D2"} == {row["tag"] for name in ("units", "entries", "readings", "faults") for row in table(book, name)}
    assert "Mirel Tosk" in str(table(book, "units"))
    assert not [
        word for word in ("shelf A", "rail oil", "meter", "D1", "70-1") if word in str([*book["choices"].values])
    ]
    assert {"people", "supplies", "lots", "locations", "uses"}.isdisjoint(written.rows)
    assert {"D1", "P1"} == {row["tag"] for row in _units(shelf, file, standing="ready")}
    assert {"D1", "D2"} == {row["tag"] for row in _units(shelf, file, location="cellar")}
    assert {"D1", "D2", "P1"} == {row["tag"] for row in _units(shelf, file, owner="mirel tosk")}


def _units(engine: Engine, file: Path, **units: str) -> list[dict[str, Any]]:
    export(engine, file, "units", units=units)
    return table(openpyxl.load_workbook(file), "units")


def test_an_empty_sheet_is_written_when_it_was_asked_for(engine: Engine, place: Path) -> None:
    """A book without units has a workbook of what it has; a sheet that was named is there to be filled in."""
    whole = export(engine, place / "whole.xlsx")
    named = export(engine, file := place / "named.xlsx", "loans")

    assert "units" not in whole.rows
    assert ["procedures", "amounts", "measurements"] == [name for name in whole.rows if name in sheets()][1:4]
    assert {"loans": 0} == named.rows
    assert [column.heading for column in sheet_of("loans.csv").columns][1:] == list(said(file)["loans"][0])[3:]


def test_a_name_that_nothing_has_is_refused_and_no_file_is_made(shelf: Engine, place: Path) -> None:
    """The refusal names what was typed and what there is."""
    for only, units, words in (
        (("unit",), {}, 'There is no sheet "unit".'),
        (("people",), {"owner": "Mirel Tosk"}, "The sheet people is not about single units."),
        ((), {"owner": "Mirel Task"}, 'There is no person "Mirel Task".'),
        ((), {"standing": "redy"}, 'There is no standing "redy".'),
    ):
        with pytest.raises(Refused) as refusal:
            export(shelf, place / "book.xlsx", *only, units=units)
        assert words == refusal.value.what
        assert refusal.value.hint
    assert [] == list(place.iterdir())


def test_a_file_that_is_there_is_not_written_over_unasked(shelf: Engine, place: Path) -> None:
    """Nor is one of another kind made; with replace the old file stays until the new one is whole."""
    (place / "mine.xlsx").write_bytes(b"mine")
    with reading(shelf) as conn:
        for name, words in (
            ("mine.xlsx", "is there already"),
            ("book.csv", "does not end in .xlsx"),
            ("no/b.xlsx", "no"),
        ):
            with pytest.raises(Refused, match=words):
                write_workbook(conn, place / name, Choice(), today=TODAY)
    assert b"mine" == (place / "mine.xlsx").read_bytes()

    export(shelf, place / "mine.xlsx", "units")

    assert ["mine.xlsx"] == [path.name for path in place.iterdir()]
    assert 3 == len(table(openpyxl.load_workbook(place / "mine.xlsx"), "units"))


def test_a_sheet_with_more_rows_than_one_can_have_is_refused(
    shelf: Engine, place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At the limit it is written, above it nothing is; what is too large to be read again is said so."""
    monkeypatch.setattr(book_workbook, "_FULL", 3)
    monkeypatch.setattr(book_workbook, "MOST_ROWS", 4)
    assert "" == export(shelf, place / "book.xlsx", "units").too_large
    monkeypatch.setattr(book_workbook, "MOST_ROWS", 3)
    assert "more than 3 rows" in export(shelf, place / "book.xlsx", "units").too_large

    with pytest.raises(Refused, match="The sheet readings would have more than 3 rows"):
        export(shelf, place / "more.xlsx", "readings")

    assert ["book.xlsx"] == [path.name for path in place.iterdir()]
