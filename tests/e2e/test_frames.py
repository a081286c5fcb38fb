"""Every list as a frame: its columns are those that are written down, its values typed, and nothing is lost."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from collection.errors import Refused
from collection.exchange.frames import list_frame, list_names
from collection.views.folder.form import FORMS
from tests.support.cli import ROOT, run_cli
from tests.support.times import TODAY

PAGE = (ROOT / "docs" / "json-keys.md").read_text(encoding="utf-8")
# The lists that are worked out, by the section of docs/json-keys.md that tells their keys.
AS_JSON = {
    "due": "due",
    "stock": "stock",
    "reorder": "reorder",
    "consumption": "consumption",
    "unit consumption": "consumption --units",
    "intervals": "intervals",
    "wanted": "wanted list",
    "media": "medium list",
    "attachments": "photo add",
    "history": "history",
}


@pytest.fixture(scope="module")
def shelf_book(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Return the book of docs/shelf with a photo, a disk, a wanted part and a few odd cells; nobody writes to it."""
    folder = tmp_path_factory.mktemp("frames")
    book, photo = folder / "book.sqlite3", folder / "front.gif"
    photo.write_bytes(b"GIF89a and so on")
    for line in (
        ["start"],
        ["import", str(ROOT / "docs" / "shelf"), "--yes"],
        ["photo", "add", "A1", str(photo), "--on", "2025-11", "--title", "=front"],
        ["medium", "add", "cleaning disk 1", "--role", "cleaning"],
        ["wanted", "add", "A1", "lamp"],
        ["reading", "add", "A1", "head condition", "pass", "--instrument", "loupe"],
    ):
        ran = run_cli(line, db=book)
        assert 0 == ran.code, ran.err
    return str(book)


def test_every_list_has_the_columns_that_are_written_down(shelf_book: str) -> None:
    """Those of the CSV form with the unit beside and the key behind, and the keys of --json."""
    for name in list_names():
        columns = list(list_frame(shelf_book, name, today=TODAY).columns)
        if name in AS_JSON:
            section = re.split(r"^## .+$", PAGE.partition(f"\n## {AS_JSON[name]}\n")[2], flags=re.MULTILINE)[0]
            assert re.findall(r"^\| `(\w+)` \|", section, re.MULTILINE) == columns, name
        else:
            form = FORMS[f"{name}.csv"]
            assert set(form.columns) == set(columns) - {"in", "on_loan", "grade", "key"}, name
            assert "key" == columns[-1]
    assert set(AS_JSON) | {file.removesuffix(".csv") for file in FORMS} == set(list_names())


def test_days_numbers_and_words_are_what_they_are(shelf_book: str) -> None:
    """Half a day is its first, and told; a grade is no number; a text that looks like a formula is a text."""
    photos = list_frame(shelf_book, "attachments", today=TODAY)
    readings = list_frame(shelf_book, "readings", today=TODAY)
    graded = readings[readings["measurement"] == "head condition"].iloc[-1]

    assert ("=front", date(2025, 11, 1)) == (photos["title"][0], photos["taken_on"][0].date())
    assert {"taken_on": {0: "2025-11"}} == photos.attrs["partial_days"]
    assert ("pass", True) == (graded["grade"], bool(graded[["value"]].isna().all()))
    assert {"float64", "datetime64[s]"} == {str(readings[name].dtype) for name in ("value", "taken_on")}
    assert "Int64" == str(list_frame(shelf_book, "services", today=TODAY)["minutes"].dtype)


def test_a_list_that_is_not_there_names_the_nearest(shelf_book: str, tmp_path: Path) -> None:
    """In one sentence and what there is."""
    with pytest.raises(Refused, match=r"There is no list 'reading'. There are: readings"):
        list_frame(shelf_book, "reading", today=TODAY)
