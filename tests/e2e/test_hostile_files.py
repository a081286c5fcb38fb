"""Whatever the texts of a book are, no file that is made of them runs, loads or loses any of them."""

from __future__ import annotations

import csv
import re
import zipfile
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from icalendar import Calendar

from collection.exchange.frames import list_frame
from tests.support.cli import run_cli
from tests.support.hostile_book import TEXTS, hostile_book
from tests.support.hostile_texts import FORMULAS, runs, seen_by
from tests.support.paper import opened_by_office
from tests.support.times import TODAY

PAGES = """
report due --to {here}/due.html
report shopping --to {here}/shopping.html
report loan-slip T0 --to {here}/slip.html
report bench-sheet T0 T1 --to {here}/bench.html
report round-sheet --of "spindle speed" T1 T2 T3 --to {here}/round.html
report unit-history T7 --to {here}/history.html
report year 2026 --to {here}/year.html
report insurance --to {here}/insured.html --workbook {here}/insured.xlsx
label T0 T1 --to {here}/label.html
"""
OTHERS = """
export folder {here}/out
export workbook {here}/book.xlsx
import --template {here}/template.xlsx
round --of "spindle speed" T1 T2 T3 --write {here}/round.xlsx
round --of "spindle speed" T1 T2 T3 --write {here}/round.csv
reorder --order-sheet {here}/orders
calendar {here}/all.ics
"""
LISTS = (
    "unit list", "fault list", "person list", "supply list", "stock", "reorder", "location list", "value list",
    "loan list", "policy list", "model list", "history", "due", "order offers", "order suppliers",
)  # fmt: skip
# LibreOffice's words for a CSV file: separated by comma, semicolon or tab, quoted, UTF-8, formulas evaluated.
_AS_CSV = "Text - txt - csv (StarCalc):44/59/9,34,76,1,,0,false,true,false,false,false,-1,true"
# Of a formula of ours: cells and functions, and words of the program in quotation marks.
_OURS = re.compile(r"""=(?:[A-Za-z0-9!$:,*/+<>=(). -]|"[a-z ]*"|"[A-Z]{3}")+""")

_KEY = re.compile(rb"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}(?=\r\n)")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a hostile book and everything that can be written of it; nobody changes it."""
    folder = tmp_path_factory.mktemp("hostile")
    book = hostile_book(folder)
    for line in filter(None, (PAGES + OTHERS).splitlines()):
        words = next(csv.reader([line.format(here=folder)], delimiter=" "))
        ran = run_cli(words, db=book)
        assert 0 == ran.code, f"{line}\n{ran.out}\n{ran.err}"
    for name in LISTS:
        ran = run_cli([*name.split(), "--csv"], db=book)
        assert 0 == ran.code, ran.err
        (folder / f"{name}.csv").write_text(ran.out, encoding="utf-8", newline="")
    return folder


def csv_files(made: Path) -> Iterator[tuple[str, str]]:
    """Yield the CSV files that the program wrote, by name."""
    for file in sorted(made.rglob("*.csv")):
        if file.parent.name != "hostile":
            yield str(file.relative_to(made)), file.read_bytes().decode("utf-8-sig")


def cells_of(file: Path) -> list[Any]:
    """Return all cells of all sheets of a workbook."""
    return [cell for sheet in openpyxl.load_workbook(file).worksheets for row in sheet.iter_rows() for cell in row]


def _leads_out(cell: Any) -> bool:
    return bool(cell.hyperlink and (cell.hyperlink.target or cell.hyperlink.id))


def test_no_cell_of_a_csv_file_runs_however_its_cells_are_separated(made: Path) -> None:
    """Lists, forms, order sheets and the folder; read with a comma, a semicolon and a tab."""
    found = {name: [runs(seen_by(separator, text)) for separator in ",;\t"] for name, text in csv_files(made)}
    assert {} == {name: cells for name, cells in found.items() if any(cells)}
    assert len(found) > len(LISTS) + len(list((made / "orders").glob("*.csv")))


def test_an_office_program_finds_no_formula_in_any_csv_file(made: Path, tmp_path: Path) -> None:
    """All of them in one file; the same texts without a guard are run, so it would have found one."""
    together, bare = tmp_path / "together.csv", tmp_path / "bare.csv"
    together.write_text("".join(text for _, text in csv_files(made)), encoding="utf-8", newline="")
    with bare.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([text] for text in FORMULAS)

    files = opened_by_office([together, bare], "xlsx", tmp_path / "opened", reading=_AS_CSV)

    guarded, bare_ones = ([cell.value for cell in cells_of(file) if cell.data_type == "f"] for file in files)
    assert [] == guarded
    assert len(bare_ones) >= 5


def test_no_cell_of_a_workbook_is_a_formula_but_our_own_sums(made: Path) -> None:
    """And no text has become an error, a link or a macro; sums name cells, and nothing of the book stands in them."""
    for file in sorted(made.glob("*.xlsx")):
        cells = cells_of(file)
        formulas = [str(cell.value) for cell in cells if cell.data_type == "f"]
        assert not [text for text in formulas if file.name != "insured.xlsx" or not _OURS.fullmatch(text)], file.name
        assert not [cell.value for cell in cells if cell.data_type == "e" or _leads_out(cell)], file.name
        with zipfile.ZipFile(file) as parts:
            names = parts.namelist()
        assert not [name for name in names if "externalLink" in name or "vba" in name.lower()], file.name


class _Page(HTMLParser):
    """Gathers what a browser would run or load of a page, and the text that a person reads."""

    def __init__(self) -> None:
        super().__init__()
        self.harm: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what loads or runs."""
        if tag in {"script", "iframe", "object", "embed", "form", "base", "link", "a"}:
            self.harm.append(tag)
        for name, value in attrs:
            outside = name in {"src", "href", "srcset", "action"} and not (value or "").startswith(("data:image/", "#"))
            if name.startswith("on") or outside:
                self.harm.append(f"{tag} {name}={value}")

    def handle_data(self, data: str) -> None:
        """Keep the text."""
        self.text += data


def test_a_page_shows_hostile_texts_and_runs_none(made: Path) -> None:
    """No element, attribute, template or picture comes as it is in the book; the policy comes before all else."""
    shown = ""
    for file in (*sorted(made.glob("*.html")), *sorted((made / "orders").glob("*.html"))):
        html = file.read_text(encoding="utf-8")
        page = _Page()
        page.feed(html)
        assert [] == page.harm, file.name
        assert html.index("Content-Security-Policy") < html.index("<title"), file.name
        shown += page.text
    history = (made / "history.html").read_text(encoding="utf-8")
    assert 2 == history.count('src="data:image/jpeg;base64,')
    assert "<b>" not in history
    for text in ("<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "{{ 7*7 }}{% for x in y %}", "=1+1"):
        assert text in shown


def test_a_folder_comes_back_text_by_text(made: Path, tmp_path: Path) -> None:
    """Brought into an empty book and written again, no byte is another but the keys of what every book begins with."""
    other = tmp_path / "other.sqlite3"
    for words in (["start"], ["import", str(made / "out"), "--yes"], ["export", "folder", str(tmp_path / "again")]):
        ran = run_cli(words, db=other)
        assert 0 == ran.code, f"{ran.out}\n{ran.err}"

    folders = (made / "out", tmp_path / "again")
    first, again = ({file.name: _KEY.sub(b"", file.read_bytes()) for file in folder.iterdir()} for folder in folders)
    assert first == again
    assert 15 < len(first)


def test_a_workbook_of_ours_comes_back_without_a_change(made: Path) -> None:
    """Whatever its texts look like to a spreadsheet."""
    ran = run_cli(["import", str(made / "book.xlsx")], db=made / "hostile.sqlite3")
    assert "othing to do" in ran.out + ran.err, f"{ran.out}\n{ran.err}"


def test_a_frame_has_every_text_as_it_is(made: Path) -> None:
    """None is missing because it is called NA, and none is a number."""
    frame = list_frame(str(made / "hostile.sqlite3"), "units", today=TODAY)
    assert [re.sub("\r\n?", "\n", text) for text in TEXTS] == frame["condition"].tolist()


def test_a_calendar_has_its_events_and_nothing_that_a_text_smuggled_in(made: Path) -> None:
    """Every line is a property that we write; RFC 5545, 3.3.11, has texts escaped."""
    content = (made / "all.ics").read_bytes()
    calendar = Calendar.from_ical(content)
    events = calendar.walk("VEVENT")
    assert len(TEXTS) <= len(events)
    assert {"VEVENT"} == {each.name for each in calendar.subcomponents}
    names = {name for event in events for name in event}
    assert not names & {"ATTACH", "ATTENDEE", "ORGANIZER", "RRULE"}, names
    assert 1 == content.count(b"BEGIN:VCALENDAR")
    assert content.count(b"\nBEGIN:VEVENT") == len(events)
