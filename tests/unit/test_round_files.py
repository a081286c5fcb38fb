"""The form of a round and the file of its answers, without a book."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from collection.errors import Refused
from collection.exchange.round_form import Filled, FormLine, read_form, write_form
from collection.exchange.round_kept import KeptRound, unfinished

HEAD = {"round of": "spindle speed", "instrument": "bench counter", "day": "2026-03-01"}
TAGS = ("D1", "007", "1E5", "=x", "+4711")
LINES = [FormLine(tag, "shelf A", "300", "3 Jan 2026", "295.5 to 304.5") for tag in TAGS]


@pytest.mark.parametrize("ending", ["xlsx", "csv"])
def test_a_form_comes_back_with_its_tags_as_written(tmp_path: Path, ending: str) -> None:
    """Leading zeros, exponents and what looks like a formula arrive as they were."""
    file = tmp_path / f"round.{ending}"
    write_form(file, HEAD, "r/min", LINES)
    form = read_form(file)

    assert HEAD == form.head
    assert [(tag, "", "") for tag in TAGS] == [line[1:] for line in form.lines]


def test_a_workbook_filled_in_by_a_person_is_read_where_its_headings_are(tmp_path: Path) -> None:
    """A title above, a column moved and a number in a cell do not matter; rows are named as the screen counts."""
    write_form(tmp_path / "round.xlsx", HEAD, "r/min", LINES[:1])
    book = openpyxl.load_workbook(tmp_path / "round.xlsx")
    sheet = book.active
    assert sheet is not None
    sheet.insert_rows(1)
    sheet.insert_cols(2)
    sheet["A1"], sheet["G8"], sheet["H8"] = "Saturday", 300.25, "cold"
    sheet["C2"], sheet["B2"] = None, "spindle speed"
    book.save(tmp_path / "filled.xlsx")

    assert (Filled(8, "D1", "300.25", "cold"),) == read_form(tmp_path / "filled.xlsx").lines


def test_a_comma_is_a_decimal_point_where_the_semicolon_separates(tmp_path: Path) -> None:
    """So a spreadsheet of many countries saves CSV; with a comma between cells it is left as it is."""
    (tmp_path / "a.csv").write_text("tag;value\nD1;300,1\nD2;1,2,3\nD3;pass\n", encoding="utf-8")
    (tmp_path / "b.csv").write_text('tag,value\nD1,"300,1"\n', encoding="utf-8")

    assert ["300.1", "1,2,3", "pass"] == [line.value for line in read_form(tmp_path / "a.csv").lines]
    assert ["300,1"] == [line.value for line in read_form(tmp_path / "b.csv").lines]


def test_a_form_is_not_written_over_nor_under_another_ending(tmp_path: Path) -> None:
    """What a person filled in stays."""
    (tmp_path / "round.csv").write_text("mine", encoding="utf-8")
    for name in ("round.csv", "round.ods", "round"):
        with pytest.raises(Refused):
            write_form(tmp_path / name, HEAD, "r/min", LINES)
    assert ["round.csv"] == [file.name for file in tmp_path.iterdir()]


def test_a_file_without_the_headings_is_refused(tmp_path: Path) -> None:
    """Another list is not taken for a form."""
    (tmp_path / "other.csv").write_text("tag,model\nD1,VK\n", encoding="utf-8")
    with pytest.raises(Refused, match='no row with the headings "tag" and "value"'):
        read_form(tmp_path / "other.csv")


def test_answers_outlive_the_program_and_a_torn_last_line(tmp_path: Path) -> None:
    """The later line of a unit counts, a line spoilt or cut off does not, and the next is whole again."""
    head = {"book": "b1", "measurement": "spindle speed"}
    kept = KeptRound(tmp_path, head)
    for tag, value in (("D1", "300"), ("D2", "301"), ("D1", "299")):
        kept.keep(tag, value)
    with kept.file.open("a", encoding="utf-8") as stream:
        stream.write("[" * 100_000 + "\n")
        stream.write('["D3", "30')
    assert {"D1": "299", "D2": "301"} == KeptRound(tmp_path, dict(head)).answers()

    kept.keep("D4", "")
    assert {"D1": "299", "D2": "301", "D4": ""} == kept.answers()
    assert [head] == [each.head for each in unfinished(tmp_path, "b1")]
    assert [] == unfinished(tmp_path, "another book")

    kept.drop()
    assert {} == kept.answers()
