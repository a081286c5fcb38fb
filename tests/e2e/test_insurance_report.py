"""The insurance schedule from the command line: its workbook as three other programs read it, its page on paper."""

from __future__ import annotations

import re
import shutil
import warnings
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest

from collection.acts.attachments import GivenPhoto, add_photo
from collection.acts.policies import add_policy
from collection.acts.valuations import add_valuation
from collection.store.engine import open_engine
from tests.support.books import digest
from tests.support.cli import Ran, run_cli
from tests.support.drawer import Drawer
from tests.support.paper import opened_by_office, sizes_of, texts_of
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

AT: dict[str, Any] = {"today": TODAY, "now": NOW}
# OWASP, "CSV Injection": the characters that begin a formula, and their full-width forms; markup that a page would run.
OWNER, SERIAL, PLACE, MODEL = '=HYPERLINK("http://x.example")', "=1+1", "\uff1dcmd*", "<script>alert(1)</script>"


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a small book with a picture, a policy, things of two currencies, and texts that would do harm."""
    from PIL import Image

    file = tmp_path_factory.mktemp("book") / "book.sqlite3"
    assert 0 == run_cli(["start"], db=file).code
    engine = open_engine(str(file))
    with shelf(engine) as made:
        made.model(MODEL, replacement_minor=7000, currency="EUR")
        d1 = made.unit("D1", MODEL, serial=SERIAL, marks="@SUM(A1)", acquired_on="2020-05-17", price_minor=1250)
        made.work.update("unit", d1, currency="EUR", note="made: 1984")
        d2, d3 = made.unit("D2", MODEL, acquired_on="2021"), made.unit("D3", MODEL)
        for unit in (d1, d2):
            made.owner(unit, OWNER)
            made.location(unit, PLACE)
        made.reading(made.series(d1), "2026-02-01", 300.1)
        made.lend(d2, "2026-02-01", "2026-05-01")
        made.lend(d3, "2026-02-01", "2026-05-01", direction="in")
        made.model("VX-6", kind="Drive")
        made.unit("D4", "VX-6")
    add_valuation(engine, "D1", "1430.00", basis="market", on="2025-12-01", evidence="two sold", **AT)
    add_valuation(engine, "D4", "5000", "JPY", basis="agreed", on="2020", **AT)
    add_policy(engine, "P 1", {"sum_insured": "1000"}, **AT)
    Drawer(engine).add().receive("50", "A", price="4.50")
    jpeg = BytesIO()
    Image.new("RGB", (320, 200), "teal").save(jpeg, "JPEG")
    add_photo(engine, "D1", GivenPhoto("front.jpg", jpeg.getvalue(), "front", ""), **AT)
    engine.dispose()
    return file


def report(book: Path, *args: str, code: int = 0) -> Ran:
    """Run the report; hold it to its exit code."""
    ran = run_cli(["report", "insurance", *args], db=book)
    assert code == ran.code, ran.err
    return ran


def cells(file: Path, sheet: str) -> list[list[Any]]:
    """Return the values of a sheet row by row, as openpyxl reads what the file itself keeps."""
    from openpyxl import load_workbook

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of what LibreOffice adds to a workbook
        return [list(row) for row in load_workbook(file, data_only=True)[sheet].iter_rows(values_only=True)]


def numbers(rows: list[list[Any]]) -> list[list[Any]]:
    """Return the numbers of each row that has any, to the cent; a row begins with its first cell."""
    kept = ([row[0], *(round(cell, 4) for cell in row[1:] if isinstance(cell, int | float))] for row in rows)
    return [row for row in kept if len(row) > 1]


def test_three_programs_read_the_same_sums_and_no_text_is_run(book: Path, tmp_path: Path) -> None:
    """What the file keeps is what LibreOffice reckons anew; pandas reads the things; texts stay texts."""
    from openpyxl import load_workbook
    from pandas import read_excel

    ours = tmp_path / "insured.xlsx"
    report(book, "--workbook", str(ours))
    anew = opened_by_office([ours], "xlsx", tmp_path / "office")[0]

    kept = cells(ours, "Summary")
    assert numbers(kept) == numbers(cells(anew, "Summary"))
    assert [[None, 1504.5, 70, 1574.5, 1000, 0.6647], [None, 5000, 0, 5000]] == numbers(kept)[:2]
    assert ["D1 is lost", 1430, 950.48, 479.52] in numbers(kept)
    for row in ([OWNER, 2, 1500], ["drive", 2, 1500], ["Drive", 1, 5000]):
        assert row in numbers(kept)
    things = read_excel(ours, sheet_name="Items", dtype={"serial number": str})
    texts = ("serial number", "marks", "owner", "location", "model")
    assert [SERIAL, "@SUM(A1)", OWNER, PLACE, MODEL] == [things[column].iloc[0] for column in texts]
    assert ["2020-05-17 00:00:00", "2021"] == things["acquired on"].astype(str).tolist()[:2]
    whole = load_workbook(ours)
    assert {"n", "s", "d"} >= {cell.data_type for row in whole["Items"].iter_rows() for cell in row}
    with ZipFile(ours) as archive:
        assert 1 == sum(name.startswith("xl/media/") for name in archive.namelist())
    identity = dict(zip(*cells(ours, "Object ID")[:2], strict=True))
    assert 13 == len(identity)
    assert ("1984", "Varnhall", "1 in the book") == tuple(
        identity[each] for each in ("Date or period", "Maker", "Photographs")
    )


def test_the_page_prints_with_a_page_for_what_is_dear(book: Path, tmp_path: Path) -> None:
    """Sums, lent and borrowed things, flags and the categories of Object ID are read back from the paper."""
    file = tmp_path / "insured.pdf"
    report(book, "--to", str(file), "--paper", "Letter")

    pages = ["".join(text.split()) for text in texts_of(file)]  # a narrow column breaks long words
    assert [(216, 279)] * 4 == sizes_of(file)
    assert "Insured for 1,000.00 EUR, worth 1,504.50 EUR: 504.50 EUR too little".replace(" ", "") in pages[0]
    for text in (SERIAL, MODEL, OWNER, "on loan to Ilva, until 2026-05-01", "borrowed from Ilva", "untested"):
        assert text.replace(" ", "") in pages[1]
    assert "outofdate:valuedmorethan12monthsbefore" in pages[1]
    for text in (
        "eleven categories of Object ID",
        "Date or period 1984",
        "1,430.00 EUR",
        "market, 2025-12-01",
        "front",
    ):
        assert text.replace(" ", "") in pages[2]


def test_switches_leave_out_what_is_nobodys_business(book: Path, tmp_path: Path) -> None:
    """Prices paid, owners, borrowers and pictures are on the page, and none of each when it is left out."""
    page = tmp_path / "page.html"

    def without(*switches: str) -> str:
        report(book, "--to", str(page), "--replace", *switches)
        return page.read_text(encoding="utf-8")

    signs = {
        "--no-prices": "12.50 EUR",
        "--no-owners": "HYPERLINK",
        "--no-borrowers": "on loan to",
        "--no-photos": "data:image/jpeg",
    }
    whole = without()
    assert [] == [sign for sign in signs.values() if sign not in whole]
    for switch, sign in signs.items():
        assert sign not in without(switch)
    bare = without(*signs)
    assert "on loan" in bare
    assert "Ilva" not in bare
    assert "<script" not in bare
    assert re.search("Left out on purpose: prices, owners, borrowers, photos", bare)


def test_a_past_day_is_shown_as_the_book_stood_then_with_its_pictures(book: Path, tmp_path: Path) -> None:
    """A month later serial, value and policy are others; what was known then is printed."""
    mine, page = Path(shutil.copy(book, tmp_path / "mine.sqlite3")), tmp_path / "page.html"
    later = TODAY + timedelta(days=30)
    for words in (
        ["unit", "edit", "D1", "--serial", "77-1", "--reason", "read again"],
        ["policy", "edit", "P 1", "--insured", "9000"],
        ["value", "add", "D1", "1", "--basis", "market", "--on", "2026-03-01"],
    ):
        assert 0 == run_cli(words, db=mine, today=later).code

    def printed(*args: str) -> str:
        ran = run_cli(["report", "insurance", "--to", str(page), "--replace", *args], db=mine, today=later)
        assert 0 == ran.code, ran.err
        return page.read_text(encoding="utf-8")

    then = printed("--known-on", TODAY.isoformat())
    signs = ("serial no. =1+1", "1,430.00 EUR", "1,000.00 EUR", "what the book knew at the end of that day")
    assert [] == [sign for sign in signs if sign not in then]
    assert 2 <= then.count("data:image/jpeg")
    now = printed("--as-of", TODAY.isoformat())
    assert [] == [sign for sign in ("serial no. 77-1", "9,000.00 EUR", "what the book knows now") if sign not in now]


def test_a_page_from_a_sum_on_is_in_the_currency_that_is_told(book: Path, tmp_path: Path) -> None:
    """At the sum a thing gets a page, a cent above it none."""
    page = tmp_path / "page.html"

    counts = []
    for least in ("1430", "1430.01", "5000 JPY"):
        report(book, "--to", str(page), "--replace", "--page-from", least)
        counts.append(page.read_text(encoding="utf-8").count("What identifies it"))

    assert [1, 0, 1] == counts


def test_a_sum_in_a_currency_that_nothing_is_valued_in_is_not_called_enough(book: Path, tmp_path: Path) -> None:
    """Perhaps the currency was mistyped: then nothing is insured at all."""
    assert run_cli(["policy", "add", "P 2", "--from", "2026-01-01", "--insured", "100 SEK"], db=book).code == 0
    ran = report(book, "--to", str(tmp_path / "a.html"))
    assert "Insured for 100.00 SEK; nothing of the contents is valued in SEK" in ran.err
    assert "100.00 SEK, worth" not in ran.err


@pytest.mark.parametrize(
    ("args", "code", "says"),
    [
        (["--workbook", "{here}/a.ods"], 1, "does not end in .xlsx"),
        (["--workbook", "{here}/there.xlsx"], 1, "is there already"),
        (["--workbook", "{here}/no/a.xlsx"], 1, "There is no folder"),
        (["--workbook", "{here}/folder.xlsx", "--replace"], 1, "is a folder"),
        (["--as-of", "2026-03-02", "--to", "{here}/a.html"], 1, "has not come yet"),
        (["--known-on", "2026-02", "--to", "{here}/a.html"], 1, "names no single day"),
        (["--known-on", "2026-02-28", "--to", "{here}/a.html"], 1, "knew nothing before"),
        (["--page-from", "-1", "--to", "{here}/a.html"], 1, "below zero"),
        (["--known-on", "2026-02-28", "--as-of", "2026-03-01"], 1, "is before --as-of"),
        (["--valued-within", "0", "--to", "{here}/a.html"], 2, "is no whole number from 1 to 600"),
    ],
)
def test_what_cannot_be_made_is_refused_and_nothing_is_written(
    book: Path, tmp_path: Path, args: list[str], code: int, says: str
) -> None:
    """In words, before any file is begun."""
    (tmp_path / "there.xlsx").write_text("mine", encoding="utf-8")
    (tmp_path / "folder.xlsx").mkdir()
    engine = open_engine(str(book))
    before = digest(engine)

    ran = report(book, *(arg.replace("{here}", str(tmp_path)) for arg in args), code=code)

    assert says in ran.err
    assert {"folder.xlsx", "there.xlsx"} == {file.name for file in tmp_path.rglob("*")}
    assert "mine" == (tmp_path / "there.xlsx").read_text(encoding="utf-8")
    assert before == digest(engine)
    engine.dispose()
