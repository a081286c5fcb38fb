"""import and export as commands: what they show, ask, write and leave with."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pexpect
import pytest

from tests.support.cli import Ran, environment, run_cli
from tests.support.folders import SMALL, write_files
from tests.support.times import TODAY
from tests.support.warm import warm_program

NOTHING = "The book has all 6 rows already: nothing to do.\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder of six rows."""
    return write_files(tmp_path / "in", SMALL)


def _import(book: str | Path, folder: Path, *options: str) -> Ran:
    return run_cli(["import", str(folder), *options], db=book)


def _units(book: str | Path) -> int:
    return len(json.loads(run_cli(["unit", "list", "--json"], db=book).out))


def test_without_yes_and_without_a_terminal_nothing_is_written(book_url: str, folder: Path) -> None:
    """A dry run shows what would be, says that nothing was written, and leaves with 0."""
    ran = _import(book_url, folder)

    assert ran.out == (
        "new 6   changed 0   same 0   doubtful 0   refused 0\n"
        "\n"
        "new\n"
        "record                            file             row\n"
        "model Velkari VK 1                models.csv         2\n"
        "unit D1                           units.csv          2\n"
        "unit D2                           units.csv          3\n"
        "instrument counter spindle speed  instruments.csv    2\n"
        "instrument meter rail voltage     instruments.csv    3\n"
        "instrument loupe head condition   instruments.csv    4\n"
        "Nothing was written.\n"
    )
    assert ran.err == "Write this into the book? no (there is no terminal to ask at; --yes answers beforehand)\n"
    assert ran.code == 0
    assert _units(book_url) == 0


def test_yes_writes_and_the_second_time_there_is_nothing_to_do(book_url: str, folder: Path) -> None:
    """The act can be taken back; the same folder again says so and leaves with 0."""
    first = _import(book_url, folder, "--yes")
    again = _import(book_url, folder)

    assert first.out.endswith("\nWritten: 6 new. To take it back: spindlebook undo\n")
    assert (first.err, first.code, _units(book_url)) == ("", 0, 2)
    assert again.out == "new 0   changed 0   same 6   doubtful 0   refused 0\n" + NOTHING
    assert (again.err, again.code) == ("", 0)


def test_a_refused_row_stops_all_and_leaves_with_one(book_url: str, folder: Path) -> None:
    """Every refusal names record, file, row, column, value and rule; --yes changes nothing about it."""
    (folder / "hours.csv").write_text("tag,read_on,hours\nD3,2026-01-01,5\nD1,2026-01-01,5\n")
    ran = _import(book_url, folder, "--yes")

    assert ran.code == 1
    assert ran.err == "1 thing is refused; nothing was written.\nCorrect the files, then repeat the command.\n"
    assert "hour reading D3 2026-01-01  hours.csv    2  tag     D3" in ran.out
    assert "no unit has this tag; nearest: D2, D1; correct it or add it to units.csv" in ran.out
    assert _units(book_url) == 0


def test_json_is_one_object_with_totals_and_every_row(sqlite_book: Path, folder: Path, tmp_path: Path) -> None:
    """The same object goes to a report file; 25 units are 25 rows, not the first twenty."""
    units = "tag,model\n" + "".join(f"D{number},VK 1\n" for number in range(25))
    write_files(folder, {"units": units})
    ran = _import(sqlite_book, folder, "--json", "--report", str(tmp_path / "report.json"))

    told: dict[str, Any] = json.loads(ran.out)
    assert told == json.loads((tmp_path / "report.json").read_text(encoding="utf-8"))
    assert told["totals"] == {"new": 29, "changed": 0, "same": 0, "doubtful": 0, "refused": 0}
    assert len(told["rows"]) == 29
    assert told["rows"][1] == {
        "kind": "new",
        "record": "unit D0",
        "file": "units.csv",
        "row": 2,
        "column": None,
        "value": None,
        "rule": None,
        "sheet": None,
        "old": None,
    }
    assert (ran.err, ran.code) == ("Nothing was written; --yes writes.\n", 0)
    assert _units(sqlite_book) == 0


def test_json_with_yes_writes_too(sqlite_book: Path, folder: Path) -> None:
    """A program that answers beforehand gets the object of what was written."""
    ran = _import(sqlite_book, folder, "--json", "--yes")

    assert json.loads(ran.out)["totals"]["new"] == 6
    assert (ran.err, ran.code, _units(sqlite_book)) == ("", 0, 2)


def test_json_of_a_folder_with_refusals_leaves_with_one(sqlite_book: Path, folder: Path) -> None:
    """The object is whole all the same."""
    (folder / "unit.csv").write_text("tag\n")
    ran = _import(sqlite_book, folder, "--json", "--yes")

    told = json.loads(ran.out)
    assert (ran.code, told["totals"]["refused"]) == (1, 1)
    assert told["rows"][0]["rule"] == "no file of the folder is called so; rename it to units.csv"
    assert _units(sqlite_book) == 0


def test_only_the_first_twenty_of_a_kind_are_shown(sqlite_book: Path, folder: Path) -> None:
    """And it says how many there are, and where all of them can be had."""
    write_files(folder, {"units": "tag,model\n" + "".join(f"D{number},VK 1\n" for number in range(25))})
    ran = _import(sqlite_book, folder)

    assert "new (the first 20 of 29; --json and --report have all)\n" in ran.out
    assert ran.out.count("unit D") == 19  # after the model


def test_a_doubtful_row_is_shown_and_written(sqlite_book: Path, folder: Path) -> None:
    """An odd serial is warned of, and the unit is in the book."""
    write_files(folder, {"units": "tag,model,serial\nD1,VK 1,?\n"})
    ran = _import(sqlite_book, folder, "--yes")

    assert "\ndoubtful: written with a mark\n" in ran.out
    assert "Written: 4 new, 1 doubtful." in ran.out
    assert (ran.code, _units(sqlite_book)) == (0, 1)


@pytest.mark.parametrize(
    ("options", "code", "words"),
    [
        (["--last-done", "2027"], 1, "--last-done 2027 is later than today (2026-03-01)."),
        (["--last-done", "soon"], 1, '"soon" is not a day.'),
        (["--last-done", "2023", "--spread", "12"], 2, "Give --last-done or --spread, not both"),
        (["--spread", "0"], 2, "'--spread'"),
        (["--encoding", "utf-88"], 1, 'Encoding "utf-88" is not known.'),
    ],
)
def test_options_that_cannot_be_meant_are_refused(
    sqlite_book: Path, folder: Path, options: list[str], code: int, words: str
) -> None:
    """With the value seen; nothing is written."""
    ran = _import(sqlite_book, folder, "--yes", *options)

    assert ran.code == code
    assert words in ran.err
    assert _units(sqlite_book) == 0


def test_last_done_is_told_of_each_unit_without_history(sqlite_book: Path, folder: Path) -> None:
    """The dry run lists what is told of the time before the book, and due knows it afterwards."""
    ran = _import(sqlite_book, folder, "--last-done", "2023-05", "--yes")

    assert "last_done  2023-05" in ran.out
    due = json.loads(run_cli(["due", "--json"], db=sqlite_book).out)
    assert {row["tag"] for row in due} == {"D1", "D2"}


def test_a_decimal_comma_and_another_encoding_are_options(sqlite_book: Path, folder: Path) -> None:
    """Without them the refusal names the option, with them the folder comes in."""
    (folder / "units.csv").write_bytes("tag;model;price;note\nD1;VK 1;12,50;für Ölung\n".encode("cp1252"))
    encoded = _import(sqlite_book, folder)
    comma = _import(sqlite_book, folder, "--encoding", "cp1252")
    both = _import(sqlite_book, folder, "--encoding", "cp1252", "--decimal-comma", "--yes")

    assert (encoded.code, comma.code, both.code) == (1, 1, 0)
    assert "add --encoding cp1252" in encoded.out
    assert "add --decimal-comma" in comma.out
    assert _units(sqlite_book) == 1


def test_a_damaged_workbook_is_refused_in_words(sqlite_book: Path, tmp_path: Path) -> None:
    """It says what to do instead."""
    (tmp_path / "club.xlsx").write_bytes(b"PK")
    ran = _import(sqlite_book, tmp_path / "club.xlsx")

    assert ran.err == (
        "club.xlsx is damaged: its directory cannot be read, perhaps its end is missing.\n"
        "Open it in the spreadsheet program, let it repair what it can, and save it once more as .xlsx.\n"
    )
    assert ran.code == 1


def test_other_files_of_the_folder_are_named(sqlite_book: Path, folder: Path) -> None:
    """Nothing is left out in silence."""
    (folder / "readme.txt").write_text("x")

    assert "Not read, since they are no CSV files: readme.txt\n" in _import(sqlite_book, folder).err


def test_an_export_is_written_and_brings_nothing_in(book_url: str, folder: Path, tmp_path: Path) -> None:
    """Rows per file, the sum, and a word on personal data; importing it is nothing to do."""
    write_files(folder, {"people": "person\nAda Quill\n"})
    _import(book_url, folder, "--yes")
    out = tmp_path / "out"
    ran = run_cli(["export", "folder", str(out)], db=book_url)

    assert ran.code == 0
    assert "\nunits.csv            2\n" in ran.out
    assert ran.out.splitlines()[-1].startswith(f"Written to {out}: ")
    assert ran.err == "people.csv holds names and addresses: mind who gets the folder.\n"
    assert _import(book_url, out).out.endswith("rows already: nothing to do.\n")
    again = run_cli(["export", "folder", str(out)], db=book_url)
    assert (again.code, again.err.splitlines()[0]) == (1, f'"{out}" is not empty; nothing is overwritten.')


@pytest.mark.parametrize(("answer", "end", "units"), [("y", "Written: 6 new.", 2), ("", "Nothing was written.", 0)])
def test_a_person_at_a_terminal_is_asked(sqlite_book: Path, folder: Path, answer: str, end: str, units: int) -> None:
    """Only a yes writes; at eighty columns the table fits."""
    child = pexpect.spawn(
        warm_program()[0],
        [*warm_program()[1:], "--db", str(sqlite_book), "--today", TODAY.isoformat(), "import", str(folder)],
        env=environment({"TERM": "dumb"}),
        dimensions=(50, 80),
        encoding="utf-8",
        timeout=60,
    )
    child.expect_exact("Write this into the book? [y/N]: ")
    shown = str(child.before)
    child.sendline(answer)
    child.expect_exact(end)
    child.expect(pexpect.EOF)
    child.close()

    assert max(map(len, shown.splitlines())) <= 80
    assert child.exitstatus == 0
    assert _units(sqlite_book) == units
