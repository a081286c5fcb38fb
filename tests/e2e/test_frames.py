"""Every list as a frame: its columns are those that are written down, its values typed, and nothing is lost."""

from __future__ import annotations

import re
import shlex
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from pandas import DataFrame

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
    "condition checks": "condition list",
    "safety checks": "safety list",
    "damage": "damage list",
    "inventory": "inventory",
    "sightings": "sighting list",
    "places": "unit places",
    "arrivals": "unit arrivals",
    "loaned units": "loan list",
    "reservations": "loan reservations",
    "disposals": "unit disposals",
    "history": "history",
}


# Two of what a list can hold differently: told and not told, whole day and part of one, out and in, open and closed.
CLUB = (
    "person add 'Wen Salloway' --role member",
    (
        "condition add A1 --condition 'scratch on the lid' --by 'Wen Salloway' --on 2026-02-11"
        " --reading 'spindle speed=300.2' --instrument 'bench counter' --new-instrument"
    ),
    "safety add A1 fail --by 'Wen Salloway' --on 2025-12",
    "safety add A1 pass --by 'Wen Salloway' --on 2026-02-10 --good-through 2027-02-09 --rule 'house rule'",
    "damage add A1 'lid cracked' --condition 'one crack' --estimate '12.50 EUR' --on 2026-02-20",
    "damage close DL1 --outcome mended --settled '10 EUR' --on 2026-02-25",
    "sighting add A2 --by 'Wen Salloway' --on 2026-02-26",
    "sighting add A2 --not-found --on 2026-02-27",
    "arrival A2 --from 'Wen Salloway' --on 2026-02-01 --return-by 2026-02-20",
    "unit move A1 --to bench --new-location --by 'Wen Salloway' --on 2026-02-02",
    (
        "loan out A3 --to 'Wen Salloway' --due 2026-03-08 --on 2026-02-03 --along cable --deposit '20 EUR'"
        " --all-the-same 'a test of reading'"
    ),
    "unit add B9 --model 'B 40'",
    "loan in B9 --from 'Wen Salloway' --due 2026-02-27 --on 2026-02-04",
    "loan reserve A1 --to 'Wen Salloway' --from 2026-04-01 --until 2026-04-05",
    "unit dispose A2 --how sold --reason spare --to 'Wen Salloway' --price '35 EUR' --on 2026-02-28",
)


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
        *map(shlex.split, CLUB),
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
            keys = re.findall(r"^\| `(\w+)` \|", section, re.MULTILINE)
            assert (["tag", *keys] if name == "places" else keys) == columns, name
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


def test_what_keepers_note_is_there_with_its_people_days_and_sums(shelf_book: str) -> None:
    """Nothing is left out that a list shows only when asked: earlier checks, closed cases, what is back or gone."""
    told = {name: list_frame(shelf_book, name, today=TODAY) for name in AS_JSON}
    checked, safety, lent = told["condition checks"], told["safety checks"], told["loaned units"]
    damage, sold = told["damage"].iloc[0], told["disposals"].iloc[0]

    assert ["spindle speed=300.2 r/min @bench counter"] == checked["readings"][0]
    assert {"checked_on": {1: "2025-12"}} == safety.attrs["partial_days"]
    # A2 is gone and A3 out meanwhile; of A1 the check that holds comes first, and the failed one is still there.
    assert [("A1", "pass", "house rule"), ("A1", "fail", "")] == _rows(safety, "tag", "result", "rule")
    assert (date(2027, 2, 9), True) == (safety["good_through"][0].date(), bool(safety["good_through"].isna()[1]))
    assert ("DL1", 12.5, 10.0, "EUR", "mended") == tuple(
        damage[["damage", "estimate", "settled", "currency", "outcome"]]
    )
    assert [("A1", "reading", "bench"), ("A2", "sighting", "shelf")] == _rows(
        told["inventory"], "tag", "evidence", "location"
    )[:2]
    assert [("A2", "seen", False), ("A2", "not found", False)] == _rows(told["sightings"], "tag", "says", "shelf_check")
    assert ("A1", "bench", "Wen Salloway") == _rows(told["places"], "tag", "location", "by")[0]
    assert [("A2", "Wen Salloway")] == _rows(told["arrivals"], "tag", "from")
    assert [("B9", "in", 2), ("A3", "out", -7)] == _rows(lent, "tag", "direction", "days_over")
    assert [("A3", "cable", 20.0, "EUR")] == _rows(
        lent[lent["direction"] == "out"], "tag", "along", "deposit", "currency"
    )
    assert [("A1", "Wen Salloway", "ahead")] == _rows(told["reservations"], "tag", "person", "state")
    assert ("A2", "sold", 35.0, "Wen Salloway") == tuple(sold[["tag", "how", "price", "to"]])
    assert {"boolean"} == {str(told["sightings"]["shelf_check"].dtype)}
    assert {"Int64"} == {
        str(frame[name].dtype) for frame, name in ((lent, "days_over"), (told["arrivals"], "days_over"))
    }


def _rows(frame: DataFrame, *columns: str) -> list[tuple[Any, ...]]:
    """Return the values of some columns, row by row, nothing as an empty text."""
    return list(frame[list(columns)].astype(object).fillna("").itertuples(index=False, name=None))


def test_a_list_that_is_not_there_names_the_nearest(shelf_book: str, tmp_path: Path) -> None:
    """In one sentence and what there is."""
    with pytest.raises(Refused, match=r"There is no list 'reading'. There are: readings"):
        list_frame(shelf_book, "reading", today=TODAY)
