"""Reading files of the folder: encodings, separators, quoting, headings, and what keeps a file from being read."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collection.acts.bring_in.sheet import Finding
from collection.acts.bring_in.tables import Table
from collection.errors import Refused
from collection.exchange.folder_read import SEPARATORS, Folder, read_folder

ROWS = [["tag", "model", "note"], ["D1", "Möbius ½", 'says "5.25""'], ["D2", "VK 1", "two\r\nlines; or, more\tthan"]]


def _text(rows: list[list[str]], separator: str = ",") -> str:
    stream = io.StringIO(newline="")
    csv.writer(stream, delimiter=separator, lineterminator="\r\n").writerows(rows)
    return stream.getvalue()


def _read(folder: Path, text: str | bytes, name: str = "units.csv", encoding: str | None = None) -> Folder:
    folder.mkdir(exist_ok=True)
    (folder / name).write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_folder(folder, encoding=encoding)


def _table(folder: Folder) -> Table:
    assert folder.refused == []
    (table,) = folder.tables
    return table


def _rows(table: Table) -> list[tuple[str, ...]]:
    return list(zip(*table.cells, strict=True))


def _refusal(folder: Folder) -> Finding:
    (refusal,) = folder.refused
    assert folder.tables == []
    return refusal


@pytest.mark.parametrize("separator", SEPARATORS)
@pytest.mark.parametrize(
    ("written", "declared"),
    [
        ("utf-8", None),
        ("utf-8-sig", None),
        ("utf-16", None),
        ("cp1252", "cp1252"),
        ("utf-8-sig", "cp1252"),
        ("utf-16-le", "utf-16-le"),
    ],
)
def test_every_encoding_and_separator_gives_the_same_cells(
    tmp_path: Path, separator: str, written: str, declared: str | None
) -> None:
    """A mark decides, else the declared encoding, else UTF-8; the separator is found in the heading."""
    table = _table(_read(tmp_path / "in", _text(ROWS, separator).encode(written), encoding=declared))

    assert [table.columns, *_rows(table)] == [tuple(row) for row in ROWS]


def test_utf_16_with_the_other_mark_is_read_too(tmp_path: Path) -> None:
    """Big and little ends are told apart by the mark."""
    text = _text(ROWS).encode("utf-16-be")

    assert len(_table(_read(tmp_path / "in", b"\xfe\xff" + text))) == 2


@settings(deadline=None)
@given(
    st.lists(
        st.lists(st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")), min_size=3, max_size=3)
    )
)
def test_rows_are_those_of_the_csv_module(tmp_path_factory: pytest.TempPathFactory, cells: list[list[str]]) -> None:
    """Whatever stands in cells, they come back as the csv module wrote them, blank rows left out."""
    rows = [["tag", "model", "note"], *cells]
    folder = tmp_path_factory.mktemp("in")
    table = _table(_read(folder, _text(rows)))

    expected = [tuple(row) for row in cells if any(cell.strip() for cell in row)]
    assert _rows(table) == expected
    numbers = [number for number, row in enumerate(cells, 2) if any(cell.strip() for cell in row)]
    assert list(table.rows) == numbers


@pytest.mark.parametrize("rows", [49, 50, 51, 101])
def test_row_numbers_count_blank_rows_as_a_spreadsheet_does(tmp_path: Path, rows: int) -> None:
    """A blank line anywhere, also at the edge of a chunk, moves the numbers of the rows after it."""
    lines = [f"D{number},VK 1" for number in range(rows)]
    whole = _table(_read(tmp_path / "whole", "tag,model\n" + "\n".join(lines)))
    gap = _table(_read(tmp_path / "gap", "tag,model\n" + "\n".join([*lines[:-1], "", ",", lines[-1]])))

    assert list(whole.rows) == list(range(2, rows + 2))
    assert list(gap.rows) == [*range(2, rows + 1), rows + 3]
    assert _rows(gap) == _rows(whole)


def test_blank_lines_before_the_heading_are_skipped(tmp_path: Path) -> None:
    """And counted, so that row numbers are those of the file."""
    table = _table(_read(tmp_path / "in", "\r\n;;\r\ntag;model;\r\nD1;VK 1;\r\n"))

    assert (table.columns, list(table.rows)) == (("tag", "model"), [4])


def test_headings_are_known_whatever_their_capitals_and_blanks(tmp_path: Path) -> None:
    """The form's own spelling is what the rest of the program sees."""
    assert _table(_read(tmp_path / "in", " Tag ,MODEL\nD1,VK 1\n")).columns == ("tag", "model")


def test_the_name_of_a_file_is_known_whatever_its_capitals(tmp_path: Path) -> None:
    """Units.CSV is units.csv."""
    assert _table(_read(tmp_path / "in", "tag,model\nD1,VK 1\n", "Units.CSV")).file == "units.csv"


@pytest.mark.parametrize(
    ("text", "row", "column", "rule"),
    [
        ("", None, None, "is empty: not even a heading row"),
        ("\n\n", None, None, "is empty: not even a heading row"),
        ("tag,model,noet\n", 1, "noet", "is no column of units.csv; nearest: note"),
        ("tag,model,TAG\n", 1, "tag", "this column stands twice"),
        ("tag,,model\n", 1, None, "column 2 has no heading; give it one or take it out"),
        ("tag,note\n", 1, "model", "units.csv needs this column"),
        ("tag,model\nD1\n", 2, None, "has 1 cell where the heading has 2"),
        ("tag,model\nD1,VK 1,x\n", 2, None, "has 3 cells where the heading has 2"),
        ("tag,model\n\nD1,VK 1,x\n", 3, None, "has 3 cells where the heading has 2"),
        ("tag,model,\nD1,VK 1,x\n", 2, None, "has a cell beyond the last heading, model"),
        ('tag,model\nD1,"VK 1\n', None, None, "a quotation mark is missing"),
        ('tag,model\nD1,"VK" 1\n', 2, None, "a quotation mark is missing"),
        ("tag,model\nD1,VK\0 1\n", None, None, "has a NUL character on line 2"),
        ("tag,model\nD1," + "x" * 100_001 + "\n", None, None, "has a cell of more than 100000 characters"),
    ],
)
def test_what_keeps_a_file_from_being_read_is_told(
    tmp_path: Path, text: str, row: int | None, column: str | None, rule: str
) -> None:
    """File, row and rule; nothing of such a file is used."""
    refusal = _refusal(_read(tmp_path / "in", text))

    assert (refusal.kind, refusal.record, refusal.file) == ("refused", "file units.csv", "units.csv")
    assert rule in str(refusal.rule)
    assert refusal.column == column
    if row is not None:
        assert refusal.row == row


def test_everything_wrong_with_a_heading_is_told_at_once(tmp_path: Path) -> None:
    """Two unknown columns and two missing ones are four refusals."""
    folder = _read(tmp_path / "in", "tga,modle\nD1,VK 1\n")

    assert [refusal.column for refusal in folder.refused] == ["tga", "modle", "tag", "model"]


def test_a_cell_at_the_limit_is_read(tmp_path: Path) -> None:
    """100,000 characters are no sign of a missing quotation mark; the column's own limit is another matter."""
    assert len(_table(_read(tmp_path / "in", "tag,model,note\nD1,VK 1," + "x" * 100_000 + "\n"))) == 1


def test_another_encoding_names_the_option(tmp_path: Path) -> None:
    """Bytes that are no UTF-8 are never guessed at."""
    refusal = _refusal(_read(tmp_path / "in", "tag,model\nD1,Möbius\n".encode("cp1252")))

    assert refusal.rule == "is not UTF-8 text; add --encoding cp1252, or whatever the program that wrote it uses"


def test_an_unknown_encoding_is_refused(tmp_path: Path) -> None:
    """A mistyped encoding is no encoding."""
    with pytest.raises(Refused, match='Encoding "utf-88" is not known'):
        _read(tmp_path / "in", "tag,model\n", encoding="utf-88")


def test_unknown_files_are_named(tmp_path: Path) -> None:
    """A CSV file of another name is refused with the nearest; what is no CSV file is named and left."""
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "notes.txt").write_text("x")
    (folder / "old").mkdir()
    read = _read(folder, "tag,model\n", "unit.csv")

    assert [(refusal.file, refusal.rule) for refusal in read.refused] == [
        ("unit.csv", "no file of the folder is called so; rename it to units.csv")
    ]
    assert read.left_out == ["notes.txt", "old"]


@pytest.mark.parametrize(("name", "words"), [("in.xlsx", "is a workbook"), ("in", "does not exist")])
def test_what_is_no_folder_is_refused(tmp_path: Path, name: str, words: str) -> None:
    """A workbook is refused in words that say what to do instead."""
    with pytest.raises(Refused, match=words):
        read_folder(tmp_path / name)


def test_a_folder_without_csv_files_is_refused(tmp_path: Path) -> None:
    """Nothing to read is a mistake, not nothing to do."""
    with pytest.raises(Refused, match="has no CSV file"):
        read_folder(tmp_path)


def test_equal_cells_are_one_text(tmp_path: Path) -> None:
    """What makes a million rows fit into memory: a name is kept once however often it stands there."""
    table = _table(_read(tmp_path / "in", "tag,model\n" + "".join(f"D{n},Velkari VK 1\n" for n in range(200))))

    assert len({id(text) for text in table.column("model") or []}) == 1
