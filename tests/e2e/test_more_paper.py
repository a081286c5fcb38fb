"""Labels, the history of a unit and the year, printed by a browser and read back by a decoder of codes."""

from __future__ import annotations

import re
from base64 import b64decode
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from collection.analysis.label_sheet import label_sheet
from collection.store.engine import open_engine
from tests.support.cli import run_cli
from tests.support.paper import pdf_of_page, pictures_of, sizes_of, texts_of
from tests.support.shelf import shelf

# What a tag may look like: long, of other alphabets, of letters that HTML, SVG and the code themselves have a use for.
TAGS = (
    "D1",
    "SUPPLY UNIT/0012-b",
    "<b>&\"'",
    "Läufer ß 7",
    "Σ-3",
    "机 4",
    "1234567890",
    "=1+1",
    "http://x/y?z",
    "{{ 7*7 }}",
)
DOTS = 150
MM = DOTS / 25.4


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demo's book."""
    book = tmp_path_factory.mktemp("demo") / "book"
    assert run_cli(["demo"], db=book).code == 0
    return book


def written(line: list[str], book: Path, file: Path) -> str:
    """Return the page that a command writes."""
    ran = run_cli([*line, "--to", str(file)], db=book)
    assert ran.code == 0, ran.err
    return file.read_text(encoding="utf-8")


def test_each_label_is_decoded_at_its_place(sqlite_book: Path, tmp_path: Path) -> None:
    """A reader that knows nothing of us finds each tag, in the middle of its code, where the millimetres say."""
    engine = open_engine(str(sqlite_book))
    with shelf(engine) as made:
        for tag in TAGS:
            made.unit(tag, serial="<i>0012</i>")
    engine.dispose()
    line = ["label", *TAGS, "--sheet", "2x4", "--size", "80x50", "--margins", "20x12", "--gap", "5x10", "--first", "2"]
    page = written(line, sqlite_book, tmp_path / "labels.html")
    pdf = pdf_of_page(page, tmp_path / "labels.pdf")

    assert [(210, 297)] * 2 == sizes_of(pdf)
    sheet = label_sheet("A4", (2, 4), (80.0, 50.0), (20.0, 12.0), (5.0, 10.0))
    found = {}
    for number, picture in enumerate(pictures_of(pdf, tmp_path / "png", dots=DOTS)):
        for code in zxingcpp.read_barcodes(picture):
            corners = (code.position.top_left, code.position.bottom_right)
            x, y = (sum(getattr(corner, way) for corner in corners) / 2 / MM for way in "xy")
            found[code.text] = (number, x, y)
    assert set(TAGS) == set(found)
    for at, tag in enumerate(TAGS, 1):
        place = sheet.place(at)
        # Beside its text a code takes 45 % of the width of a label, in the middle of its height.
        middle = (place.x + 80 * 0.45 / 2, place.y + 25)
        assert place.page == found[tag][0]
        assert middle == pytest.approx(found[tag][1:], abs=0.6), tag
    read = " ".join(texts_of(pdf))
    assert "serial <i>0012</i>" in read
    assert "{{ 7*7 }}" in read


def test_history_and_year_are_whole_pages_that_load_nothing(demo: Path, tmp_path: Path) -> None:
    """They say what the book says, the year on two pages at most, and no address of elsewhere stands in them."""
    assert run_cli(["unit", "edit", "D2", "--note", "<script>alert(1)</script>"], db=demo).code == 0
    photo = tmp_path / "front.jpg"
    told = Image.Exif()
    told[0x010E] = "12 Secret Lane"  # ImageDescription: Exif 2.32, table 4
    Image.new("RGB", (640, 480), "grey").save(photo, exif=told)
    assert b"Secret" in photo.read_bytes()
    assert run_cli(["photo", "add", "D2", str(photo), "--title", "front & <top>"], db=demo).code == 0
    history = written(["report", "unit-history", "D2", "--paper", "letter"], demo, tmp_path / "history.html")
    year = written(["report", "year", "2025"], demo, tmp_path / "year.html")
    for page in (history, year):
        assert "<script" not in page.lower()
        assert "http" not in page.replace("http-equiv", "").replace("http://www.w3.org", "")
    assert 4 == history.count("image/svg+xml")  # the series that were read three times or more

    (shown,) = re.findall(r"data:image/jpeg;base64,([^\"]+)", history)
    assert b"Secret" not in b64decode(shown)

    pdf = pdf_of_page(history, tmp_path / "history.pdf")
    assert {(216, 279)} == set(sizes_of(pdf))
    read = " ".join(texts_of(pdf))
    for text in (
        "History of D2",
        "V4-10871",
        "<script>alert(1)</script>",
        "clamp screw loose, sealed",
        "295.5 to 304.5",
    ):
        assert text in read
    assert "shelf A" not in read

    pdf = pdf_of_page(year, tmp_path / "year.pdf")
    assert [(210, 297)] * 2 == sizes_of(pdf)
    read = " ".join(texts_of(pdf))
    for text in ("The year 2025", "34 services on 15 units", "foam swab, lint-free", "Loans"):
        assert text in read


def test_labels_say_when_a_unit_was_serviced_and_what_is_due(demo: Path, tmp_path: Path) -> None:
    """With --serviced the last service and the next work stand on it; tags and a choice are one of both."""
    page = written(["label", "d3", "D7", "--serviced"], demo, tmp_path / "tag.html")
    assert "serviced 2026-01-15" in page
    assert "due 2026-08-28" in page
    assert "nothing due" in page  # a donor
    assert "Quillmarsh" not in page.partition("<svg")[2]
    chosen = written(["label", "--location", "shelf A"], demo, tmp_path / "shelf.html")
    assert chosen.count('class="tag"') > 2
    for wrong in ([], ["D1", "--kind", "drive"]):
        assert run_cli(["label", *wrong, "--to", str(tmp_path / "no.html")], db=demo).code == 2
    refused = run_cli(["label", "D1", "--to", str(tmp_path / "tag.html")], db=demo)
    assert (1, "--replace" in refused.err) == (refused.code, True)
