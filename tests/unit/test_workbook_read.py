"""Workbooks from anywhere: what stands in them arrives as written, what could do harm is refused in words."""

from __future__ import annotations

import gc
import json
import site
import subprocess
import sys
import zipfile
from datetime import datetime, time
from pathlib import Path

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl.styles.numbers import BUILTIN_FORMATS, is_date_format
from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900, from_excel

from collection.errors import Refused
from collection.exchange.workbook_check import LARGEST_FILE, MOST_PARTS, MOST_RATIO, RATIO_FROM
from collection.exchange.workbook_read import EMPTY, Cell, SheetRows, read_workbook
from collection.exchange.workbook_sheet import LONGEST_TEXT, MOST_COLUMNS, MOST_EMPTY_ROWS, MOST_ROWS, column_letters
from collection.exchange.workbook_values import Formats, plain, read_format
from tests.support import hostile
from tests.support.hostile import MAIN, SHEET, inline, pack, relations, workbook

ROOT = Path(__file__).parents[2]
MOST_SECONDS, MOST_BYTES = 1.0, 200 << 20
# Reads each file that it is told in a process that may not take more memory, and tells time of the processor and words.
CHILD = f"""
import json, resource, sys, time
from pathlib import Path
from collection.errors import Refused
from collection.exchange.workbook_read import read_workbook
resource.setrlimit(resource.RLIMIT_AS, ({MOST_BYTES}, {MOST_BYTES}))
told = {{}}
for name in sys.argv[1:]:
    started = time.process_time()
    try:
        words = "READ: " + repr(read_workbook(Path(name)))[:200]
    except Refused as refused:
        words = f"{{refused.what}}|{{refused.hint}}"
    except BaseException as error:
        words = f"CRASH: {{error!r}}"
    told[Path(name).name] = (words, time.process_time() - started)
print(json.dumps(told))
"""


def one_sheet(path: Path) -> SheetRows:
    """Return the only sheet of a workbook."""
    (sheet,) = read_workbook(path).sheets
    return sheet


def texts(sheet: SheetRows) -> list[list[str]]:
    """Return the texts of a sheet's cells, row by row."""
    return [[cell.text for cell in cells] for _, cells in sheet.rows]


def cells_of(tmp_path: Path, *cells: str) -> list[Cell]:
    """Return what is read of cells written as XML, in one row."""
    ((_, read),) = one_sheet(pack(tmp_path / "cells.xlsx", workbook(f"<row>{''.join(cells)}</row>"))).rows
    return list(read)


def test_every_hostile_file_is_refused_in_words_within_a_second_and_200_megabytes(tmp_path: Path) -> None:
    """Locked, foreign, broken and swollen files say what they are and what to do, and take next to nothing."""
    wanted = hostile.write_hostile(tmp_path)

    run = [sys.executable, "-c", CHILD, *(str(tmp_path / name) for name in wanted)]
    told = json.loads(subprocess.run(run, cwd=ROOT, capture_output=True, text=True, check=True).stdout)

    assert {} == {name: told[name][0] for name, words in wanted.items() if words not in told[name][0]}
    assert {} == {name: words for name, (words, _) in told.items() if not words.startswith(name)}
    assert {} == {name: words for name, (words, _) in told.items() if not words.partition("|")[2]}
    assert {} == {name: seconds for name, (_, seconds) in told.items() if seconds >= MOST_SECONDS}


NASTY = (
    *("00123", "1E5", "+4711", "=x", "=1+1", "-7", "@D7", "NA", "N/A", "#N/A", "nan", "TRUE", "12.05.2021", "300.0"),
    *("2021-05-12", "35,-", "'quoted", '"', " two  blanks ", "two\nlines", "tab\there", "_x0041_", "a<b>&amp;", "µ×–"),
    "\U0001f4be",
)


def test_text_cells_arrive_as_they_were_written(tmp_path: Path) -> None:
    """Leading zeros, things that look like numbers, formulas, dates or escapes stay what they are."""
    book = openpyxl.Workbook()
    for row, text in enumerate(NASTY, 1):
        book.worksheets[0].cell(row, 1, text).data_type = "s"
    book.save(tmp_path / "nasty.xlsx")

    assert [Cell(text, "text") for text in NASTY] == [cells[0] for _, cells in one_sheet(tmp_path / "nasty.xlsx").rows]


def test_a_spreadsheet_programs_own_escapes_become_what_was_typed(tmp_path: Path) -> None:
    """Line ends and an escaped escape are undone (ECMA-376 part 1, 22.9.2.19); what no program escapes stays."""
    read = cells_of(tmp_path, inline("a_x000D_\nb_x0009_c", ""), inline("_x005F_x0041_", ""), inline("_x0041_x_", ""))

    assert ["a\r\nb\tc", "_x0041_", "_x0041_x_"] == [cell.text for cell in read]


@pytest.mark.parametrize(
    ("stored", "shown"),
    [
        ("300", "300"),
        ("300.0", "300"),
        ("12.5", "12.5"),
        ("1E5", "100000"),
        ("1e+15", "1000000000000000"),
        ("4.8929002400518304E+17", "489290024005183000"),
        ("0.30000000000000004", "0.3"),
        ("12.300000000000001", "12.3"),
        ("5E-5", "0.00005"),
        ("-0", "0"),
        ("-1.50", "-1.5"),
        ("12345678901234567890", "12345678901234567890"),
    ],
)
def test_numbers_are_plain_decimals(stored: str, shown: str) -> None:
    """A number reads as a person sees it, with at most 15 digits unless all are written out."""
    assert shown == plain(stored)


def test_what_is_no_number_is_told_as_text() -> None:
    """A number cell with anything else in it keeps what is there."""
    formats = Formats({}, [0], from_1904=False)

    assert [Cell("nan", "text"), Cell("1,5", "text"), Cell("1E999", "text")] == [
        formats.cell("0", stored) for stored in ("nan", "1,5", "1E999")
    ]


@pytest.mark.parametrize(
    ("code", "stored", "shown"),
    [
        ("00000", "7", Cell("00007", "number")),
        ("00000", "123456", Cell("123456", "number")),
        ("00000", "7.5", Cell("7.5", "number")),
        ('"D-"000', "7", Cell("D-007", "text")),
        (r"\K00;-0", "7", Cell("K07", "text")),
        ("0.00", "7", Cell("7", "number")),
        ('0" rpm"', "300", Cell("300", "number")),
        ("#,##0.00 [$EUR]", "35", Cell("35 EUR", "text")),
        (r"_-* #,##0.00\ [$€-407]_-;\-* #,##0.00", "35.125", Cell("35.13 €", "text")),
        ("0.00 €", "-1E+30", Cell("-1E+30", "text")),
        ('"$"#,##0.00', "12.5", Cell("12.50 $", "text")),
        ('0.00" GBP"', "-3", Cell("-3.00 GBP", "text")),
        ("[$-409]0.0", "35", Cell("35", "number")),
        ("0.0%", "0.995", Cell("99.5 %", "text")),
        ('0"%"', "99", Cell("99", "number")),
        ("0.00E+00", "35", Cell("35", "number")),
        ("[Red]0;[Blue]-0", "35", Cell("35", "number")),
        ("yyyy-mm-dd", "44328", Cell("2021-05-12", "date")),
        ("dd/mm/yyyy hh:mm", "44328.5", Cell("2021-05-12 12:00", "date")),
        ("dd/mm/yyyy", "44328.500011574", Cell("2021-05-12 12:00:01", "date")),
        ("mmmm yyyy", "44317", Cell("2021-05", "date")),
        ("yyyy", "44197", Cell("2021", "date")),
        ("[$-407]d. mmmm yyyy;@", "44328", Cell("2021-05-12", "date")),
        ("yyyy-mm-dd", "1", Cell("1900-01-01", "date")),
        ("yyyy-mm-dd", "59", Cell("1900-02-28", "date")),
        ("yyyy-mm-dd", "60", Cell("1900-02-29", "text")),
        ("yyyy-mm-dd", "61", Cell("1900-03-01", "date")),
        ("yyyy-mm-dd", "2958465", Cell("9999-12-31", "date")),
        ("yyyy-mm-dd", "2958466", Cell("2958466", "number")),
        ("yyyy-mm-dd", "-1", Cell("-1", "number")),
        ("yyyy-mm-dd", "0", Cell("0", "number")),
        ("hh:mm", "0.75", Cell("18:00", "text")),
        ("[h]:mm", "1.25", Cell("30:00", "text")),
        ("mm:ss", "0.001", Cell("00:01:26", "text")),
    ],
)
def test_a_number_format_decides_what_a_number_is(code: str, stored: str, shown: Cell) -> None:
    """Zeros that fill up, days, what of a day is shown, and times are read as the cell shows them."""
    assert shown == Formats({200: code}, [0, 200], from_1904=False).cell("1", stored)


def test_days_agree_with_openpyxl_in_both_date_systems() -> None:
    """Serial numbers of days become the days that openpyxl finds, but for its 29 February 1900."""
    for mac, epoch in ((False, CALENDAR_WINDOWS_1900), (True, CALENDAR_MAC_1904)):
        formats = Formats({}, [14], from_1904=mac)
        for serial in [*range(61, 80_000, 97), 62.25, 44328.75]:
            theirs = from_excel(serial, epoch)
            assert isinstance(theirs, datetime)
            shown = theirs.replace(microsecond=0).isoformat(" ").removesuffix(":00").removesuffix(" 00:00")

            assert shown == formats.cell("0", str(serial)).text, (serial, mac)


def test_built_in_formats_are_dates_where_openpyxl_says_so() -> None:
    """The built-in numbers of formats (ECMA-376 part 1, 18.8.30) are dates or times just where openpyxl finds one."""
    for number, code in BUILTIN_FORMATS.items():
        shown = Formats({}, [number], from_1904=False).cell("0", "44328.75").text

        assert (is_date_format(code), code) == (shown not in {"44328.75", "4432875 %"}, code)
        assert is_date_format(code) == (read_format(code).kind != "number")


def test_types_of_cells_that_other_writers_use(tmp_path: Path) -> None:
    """Yes and no, errors, results of formulas as text, and days as ISO text are told apart (ECMA-376, 18.18.11)."""
    read = cells_of(
        tmp_path,
        '<c t="b"><v>1</v></c><c t="b"><v>0</v></c><c t="e"><v>#N/A</v></c>',
        '<c t="str"><f>A1</f><v>007</v></c><c t="d"><v>2021-05-12</v></c><c t="d"><v>2021-05-12T14:30:00</v></c>',
        '<c t="d"><v>2021-02-30</v></c><c t="n"><v> 7 </v></c><c t="inlineStr"><is><r><t>be</t></r><r><t>lt</t></r>'
        "<rPh><t>x</t></rPh></is></c>",
    )

    assert [
        *(Cell("yes", "yes_no"), Cell("no", "yes_no"), Cell("#N/A", "error"), Cell("007", "text")),
        *(Cell("2021-05-12", "date"), Cell("2021-05-12 14:30", "date"), Cell("2021-02-30", "text")),
        *(Cell("7", "number"), Cell("belt", "text")),
    ] == read


def test_merged_ranges_hidden_rows_and_formulas_without_a_value_are_told(tmp_path: Path) -> None:
    """Nothing is dropped: hidden rows are read, and what a reader must know of them stands beside the rows."""
    data = (
        f'<row r="1">{inline("my drives")}</row><row r="2" hidden="1"/>'
        f'<row r="4" hidden="1">{inline("D1", "B4")}<c r="C4"><f>1+1</f></c><c r="D4"><f>1+1</f><v/></c>'
        '<c r="E4"><f>1+1</f><v>2</v></c><c r="F4" t="str"><f>""</f><v></v></c></row>'
    )
    parts = workbook(data, after='<mergeCells><mergeCell ref="A1:D1"/><mergeCell ref="$B$4:$B$6"/></mergeCells>')
    parts["xl/workbook.xml"] = str(parts["xl/workbook.xml"]).replace('name="Shelf"', 'name="Shelf" state="hidden"')

    assert SheetRows(
        "Shelf",
        [
            (1, (Cell("my drives", "text"),)),
            (4, (EMPTY, Cell("D1", "text"), EMPTY, EMPTY, Cell("2", "number"))),
        ],
        hidden=True,
        hidden_rows=(4,),
        merged=("A1:D1", "B4:B6"),
        no_value=("C4", "D4"),
    ) == one_sheet(pack(tmp_path / "told.xlsx", parts))


def test_workbooks_of_other_writers_are_read(tmp_path: Path) -> None:
    """Prefixes, strict names, 1904, rich and phonetic text, chart and empty sheets, no coordinates, odd targets."""
    strict = "http://purl.oclc.org/ooxml/officeDocument/relationships"
    parts = {
        "_rels/.rels": relations(("officeDocument", "/xl/Workbook.xml")).replace(hostile.RELATED, strict),
        "xl/workbook.xml": f'<x:workbook xmlns:x="main" xmlns:q="{strict}" xmlns:x15="ext"><x:workbookPr date1904="1"/>'
        '<x:sheets><x:sheet name="Chart" q:id="r1"/><x:sheet name="Void" q:id="r2"/><x:sheet name="Bench" q:id="r3"/>'
        "</x:sheets><x15:workbookPr/></x:workbook>",
        "xl/_rels/workbook.xml.rels": relations(
            ("chartsheet", "chartsheets/sheet1.xml"),
            ("worksheet", "/xl/worksheets/sheet1.xml"),
            ("worksheet", "../xl/worksheets/Sheet2.xml"),
            ("sharedStrings", "sharedStrings.xml"),
            ("styles", "styles.xml"),
        ).replace(hostile.RELATED, strict),
        SHEET: f"<worksheet {MAIN}><sheetData/></worksheet>",
        "xl/worksheets/sheet2.xml": '<x:worksheet xmlns:x="main"><x:dimension ref="A1"/><x:sheetData><x:row>'
        '<x:c t="s"><x:v>0</x:v></x:c><x:c t="s"><x:v>1</x:v></x:c><x:c s="1"><x:v>42866</x:v></x:c></x:row><x:row>'
        '<x:c r="C2" t="s"><x:v>2</x:v></x:c></x:row></x:sheetData><x:extLst><x:f>B9</x:f></x:extLst></x:worksheet>',
        "xl/sharedStrings.xml": f'<sst {MAIN}><si><t xml:space="preserve"> tag </t></si><si><r><rPr><b/></rPr><t>mo</t>'
        "</r><r><t>del</t></r><rPh><t>x</t></rPh></si><si><t/></si></sst>",
        "xl/styles.xml": f'<styleSheet {MAIN}><numFmts><numFmt numFmtId="164" formatCode="yyyy/mm/dd"/></numFmts>'
        '<cellStyleXfs><xf numFmtId="0"/></cellStyleXfs><cellXfs><xf/><xf numFmtId="164"/></cellXfs>'
        '<dxfs><dxf><numFmt numFmtId="164" formatCode="0.00"/></dxf></dxfs></styleSheet>',
    }

    void, bench = read_workbook(pack(tmp_path / "other.xlsx", parts)).sheets

    assert SheetRows("Void", []) == void
    assert (
        SheetRows("Bench", [(1, (Cell(" tag ", "text"), Cell("model", "text"), Cell("2021-05-12", "date")))]) == bench
    )


def test_any_workbook_found_installed_is_read_or_refused_in_words(tmp_path: Path) -> None:
    """Whatever libraries ship as workbooks is met without a crash; one of openpyxl's making is always among them."""
    book = openpyxl.Workbook()
    book.create_chartsheet("Chart")
    book.save(tmp_path / "made.xlsx")
    installed = [path for place in site.getsitepackages() for path in Path(place).rglob("*.xl[st]*")]

    told = {path.name: met(path) for path in [tmp_path / "made.xlsx", *installed]}

    assert told.pop("made.xlsx") == "read"
    assert {} == {name: words for name, words in told.items() if words != "read" and not words.startswith(name)}


def met(path: Path) -> str:
    """Return "read", or the words of a refusal."""
    try:
        read_workbook(path)
    except Refused as error:
        return error.what
    return "read"


def test_the_collector_is_on_again_after_reading_and_after_a_refusal(tmp_path: Path) -> None:
    """Reading leaves the process as it was, whatever came of it."""
    assert gc.isenabled()
    met(pack(tmp_path / "good.xlsx", workbook()))
    assert gc.isenabled()
    assert "read" != met(pack(tmp_path / "bad.xlsx", workbook('<row r="0"/>')))
    assert gc.isenabled()


def test_the_program_reads_workbooks_with_the_bounded_reader_alone() -> None:
    """What a person hands over is never opened by a library that unpacks without bounds."""
    sources = {path: path.read_text(encoding="utf-8") for path in (ROOT / "collection").rglob("*.py")}

    assert any("read_workbook(" in text for text in sources.values())
    assert [] == [str(path) for path, text in sources.items() if "load_workbook" in text or "read_excel" in text]


values = st.one_of(
    st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=12).filter(
        lambda text: "_x" not in text
    ),
    st.integers(-(10**14), 10**14),
    st.floats(-1e9, 1e9, allow_nan=False).map(lambda number: float(f"{number:.12g}")),
    st.booleans(),
    st.datetimes(datetime(1901, 1, 1), datetime(2100, 1, 1)).map(lambda at: at.replace(microsecond=0)),  # noqa: DTZ001
    st.none(),
)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.lists(values, min_size=1, max_size=6), min_size=1, max_size=6))
def test_reading_agrees_with_openpyxl(tmp_path: Path, table: list[list[str | float | datetime | None]]) -> None:
    """Any table that openpyxl writes reads as the values that openpyxl finds in it, at their places."""
    book = openpyxl.Workbook()
    page = book.worksheets[0]
    for row, line in enumerate(table, 1):
        for column, value in enumerate(line, 1):
            cell = page.cell(row, column, value)
            if isinstance(value, str):
                cell.data_type = "s"
    book.save(tmp_path / "any.xlsx")
    theirs = [cell for line in openpyxl.load_workbook(tmp_path / "any.xlsx").worksheets[0].iter_rows() for cell in line]

    ours = {
        f"{column_letters(at)}{row}": cell.text
        for row, cells in one_sheet(tmp_path / "any.xlsx").rows
        for at, cell in enumerate(cells)
        if cell.text
    }

    assert {cell.coordinate: as_text(cell.value) for cell in theirs if cell.value is not None} == ours


def as_text(value: object) -> str:
    """Return a value of openpyxl as the reader gives it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        shown = value.isoformat(" ", "seconds")
        return shown.removesuffix(" 00:00:00") if value.time() == time() else shown.removesuffix(":00")
    if isinstance(value, float):
        return plain(repr(value))
    return str(value)


@pytest.mark.parametrize("above", [False, True])
def test_each_bound_holds_at_its_limit_and_refuses_above(tmp_path: Path, above: bool) -> None:
    """The last row and column, empty rows, text, parts, and size of the file: at the limit read, above it refused."""
    more = int(above)
    row, column = MOST_ROWS + more, column_letters(MOST_COLUMNS - 1 + more)
    empty = "<row/>" * (MOST_EMPTY_ROWS + more) + f"<row>{inline('x', '')}</row>"
    parts = {**workbook(), **{f"extra{n}.xml": "" for n in range(MOST_PARTS - len(workbook()) + more)}}
    bounds = {
        "row": (workbook(f'<row r="{row}">{inline("x", f"A{row}")}</row>'), f"'x' in cell A{MOST_ROWS + 1}"),
        "column": (workbook(f'<row r="1">{inline("x", f"{column}1")}</row>'), "'x' in cell GS1"),
        "empty": (workbook(empty), "rows with nothing in them"),
        "text": (workbook(f'<row r="1">{inline("x" * (LONGEST_TEXT + more))}</row>'), "more than 32,767 characters"),
        "merge": (
            workbook(after=f'<mergeCells><mergeCell ref="A1:A{100_000 + more}"/></mergeCells>'),
            "merged into one",
        ),
        "parts": (parts, "201 parts"),
    }

    told = {name: met(pack(tmp_path / f"{name}.xlsx", content)) for name, (content, _) in bounds.items()}

    assert dict.fromkeys(bounds, above) == {name: words in told[name] for name, (_, words) in bounds.items()}
    assert dict.fromkeys(bounds, above) == {name: what != "read" for name, what in told.items()}


def test_a_file_is_read_up_to_its_largest_size(tmp_path: Path) -> None:
    """20 MB are read, a byte more is refused before it is opened."""
    base = pack(tmp_path / "big.xlsx", workbook()).stat().st_size
    photo = "x.png"
    spare = LARGEST_FILE - base - 2 * len(photo) - 30 - 46
    with zipfile.ZipFile(tmp_path / "big.xlsx", "a", zipfile.ZIP_STORED) as archive:
        archive.writestr(zipfile.ZipInfo(photo), bytes(spare))

    assert LARGEST_FILE == (tmp_path / "big.xlsx").stat().st_size
    assert "read" == met(tmp_path / "big.xlsx")

    with (tmp_path / "big.xlsx").open("ab") as file:
        file.write(b"x")

    assert "at most 20 MB" in met(tmp_path / "big.xlsx")


def test_ten_thousand_like_rows_are_read_however_well_they_pack(tmp_path: Path) -> None:
    """A plain long workbook is no bomb, even where every row is the same."""
    line = "".join(inline("ready", "") for _ in range(12))
    path = pack(tmp_path / "alike.xlsx", workbook(f"<row>{line}</row>" * 10_000))

    assert path.stat().st_size * MOST_RATIO < len(line) * 10_000 < RATIO_FROM
    assert 10_000 == len(one_sheet(path).rows)
