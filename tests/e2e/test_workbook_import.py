"""Five workbooks as five persons keep them come in: every doubtful cell is named, and nothing is lost."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pexpect
import pytest

from tests.support.cli import environment, run_cli
from tests.support.times import TODAY
from tests.support.warm import warm_program
from tests.support.workbooks import Told, brought, lost, named, saved, told
from tests.workbooks import bench_diary, club_ledger, english_collector, loaner_list, messy_desk

UNITS = [("tag", "maker", "model", "serial no."), ("D1", "Velkari", "VK 1", "0012")]


def _made(maker: Any, path: Path) -> Path:
    maker.build().save(path)
    return path


def _of(rows: list[dict[str, Any]], *kinds: str) -> set[tuple[Any, ...]]:
    """Return (row, column, value) of the findings about cells."""
    return {found[2:] for found in named(rows, *kinds)}


def _json(book: Path, *words: str) -> Any:
    return json.loads(run_cli([*words, "--json"], db=book).out)


def test_a_tidy_list_comes_in_with_services_and_readings(sqlite_book: Path, tmp_path: Path) -> None:
    """Real dates and one heading row leave nothing unsure but new places and the instrument that nobody named."""
    file = _made(english_collector, tmp_path / "drives.xlsx")
    rows = told(brought(sqlite_book, file, "--json"))
    ran = brought(sqlite_book, file, "--yes")

    assert named(rows, "doubtful", "refused", "left out") == {
        Told("doubtful", "Drives", 2, "H Where", "shelf A"),
        Told("doubtful", "Drives", 4, "H Where", "shelf B"),
        Told("doubtful", "Drives", 2, "instrument", "own records"),
    }
    assert ran.out.endswith("Written: 14 new, 3 doubtful. To take it back: spindlebook undo\n")
    assert lost(file, sqlite_book, rows, ran.out, tmp_path / "out") == []
    card = _json(sqlite_book, "unit", "show", "T-01")
    assert (card["serial"], card["standing"], card["price"]) == ("004711", "ready", "35.00 EUR")


def test_the_second_time_there_is_nothing_to_do_and_one_undo_takes_all_of_it_back(
    sqlite_book: Path, tmp_path: Path
) -> None:
    """Services and readings are known again too; the import is one act."""
    file = _made(bench_diary, tmp_path / "bench.xlsx")
    brought(sqlite_book, file, "--yes")
    again = brought(sqlite_book, file, "--yes")
    undone = run_cli(["undo"], db=sqlite_book)

    assert again.out.endswith("The book has all 16 rows already: nothing to do.\n")
    assert undone.code == 0
    assert _json(sqlite_book, "unit", "list") == []


def test_a_club_ledger_in_german_comes_in_with_every_form_named(sqlite_book: Path, tmp_path: Path) -> None:
    """Points in days are sure; short years, gifts, words for standing and an unknown serial are said, sums left out."""
    file = _made(club_ledger, tmp_path / "verein.xlsx")
    rows = told(brought(sqlite_book, file, "--json"))
    ran = brought(sqlite_book, file, "--yes")

    assert _of(rows, "doubtful") == {
        (5, "H Zustand", "geht"),
        (5, "G Standort", "Schrank 1"),
        (6, "H Zustand", "defekt"),
        (6, "E gekauft am", "03.11.19"),
        (7, "H Zustand", "ungetestet"),
        (7, "F Kaufpreis", "geschenkt"),
        (7, "D Seriennr.", "unbekannt"),
        (7, "G Standort", "Keller"),
        (8, "F Kaufpreis", "ca. 40 €"),
        (8, "H Zustand", "rattert etwas"),
        (9, "H Zustand", "läuft"),
        (9, "G Standort", "Vitrine"),
    }
    assert _of(rows, "left out") == {
        (1, "A", "Laufwerksverein Oberhain e.V."),
        (2, "A", "Bestandsliste, Stand Dezember"),
        (10, "A", "Summe"),
        (10, "F", "1.353,50"),
    }
    read_as = {"12.05.2021": "2021-05-12", "01.02.2023": "2023-02-01", "März 2022": "2022-03"}
    read_as |= {"35,-": "35", "28,50": "28.5", "1.250,00": "1250"}
    assert lost(file, sqlite_book, rows, ran.out, tmp_path / "out", read_as) == []
    assert "Zustand: rattert etwas" in _json(sqlite_book, "unit", "show", "L10")["note"]


def test_a_diary_becomes_services_with_tasks_readings_and_uses(sqlite_book: Path, tmp_path: Path) -> None:
    """Work that names no procedure, supplies without an amount, and what is no figure stay in the findings."""
    file = _made(bench_diary, tmp_path / "bench.xlsx")
    rows = told(brought(sqlite_book, file, "--json"))
    ran = brought(sqlite_book, file, "--yes")

    assert _of(rows, "refused") == set()
    assert _of(rows, "doubtful") == {
        (3, "E got it", "spring 2020"),
        (4, "instrument", "own records"),
        (4, "E what I did", "cleaned head, greased rails"),
        (4, "F used", "5 ml alcohol, 3 swabs"),
        (5, "F used", "2 swabs and some alcohol"),
        (6, "E what I did", "swapped the eject spring"),
        (6, "F used", "one spring from the jar"),
        (6, "C rpm before", "too noisy to say"),
        (7, "G time", "an evening"),
    }
    read_as = {"301,4 rpm": "301.4", "40 min": "40", "1h10": "70", "2 Feb 2025": "2025-02-02"}
    read_as |= {"15.03.2025": "2025-03-15", "cleaned head": "clean head", "checked speed": "check spindle speed"}
    read_as |= {"299.9": "299.9", "300.0": "300"}
    assert lost(file, sqlite_book, rows, ran.out, tmp_path / "out", read_as) == []
    readings = _json(sqlite_book, "reading", "list", "D1")
    assert {(row["taken_on"], row["stage"], row["value"]) for row in readings} == {
        ("2025-01-11", "as found", "297.8"),
        ("2025-01-11", "as left", "300.2"),
        ("2025-03-15", "as found", "300.0"),
        ("2025-03-15", "as left", "300.0"),
    }


def test_tables_beside_and_below_one_another_are_told_apart(sqlite_book: Path, tmp_path: Path) -> None:
    """Units get tags and are known by serial in the table below, the drawer gets lots, a letter is left out."""
    file = _made(messy_desk, tmp_path / "stuff.xlsx")
    rows = told(brought(sqlite_book, file, "--json"))
    ran = brought(sqlite_book, file, "--yes")

    assert "all my stuff B3:G8: 4 units have no tag; proposed: D1 to D4\n" in ran.err
    assert _of(rows, "left out") == {
        (1, "A", "STUFF as of new year"),
        (12, "B", "Troubles"),
        (1, "A", "Dear Ilse, thank you for the manual."),
    }
    hidden = [row for row in rows if row["rule"] and "hidden" in row["rule"]]
    assert [(row["sheet"], row["row"]) for row in hidden] == [("all my stuff", 8)]
    read_as = {
        "1 bottle 250 ml": "250",
        "2 bags of 25": "50",
        "12/2027": "2027-12",
        "9,50": "9.5",
        "Jan 2025": "2025-01",
    }
    assert lost(file, sqlite_book, rows, ran.out, tmp_path / "out", read_as) == []
    faults = _json(sqlite_book, "fault", "list", "--all")
    assert {(row["tag"], row["symptom"]) for row in faults} == {
        ("D1", "squeals when cold"),
        ("D3", "motor never stops"),
    }
    assert brought(sqlite_book, file).out.endswith("rows already: nothing to do.\n")


def test_an_impossible_day_and_an_unknown_unit_are_refused_by_cell(sqlite_book: Path, tmp_path: Path) -> None:
    """Nothing is written; a serial that stands twice is doubtful on both of its rows."""
    file = _made(loaner_list, tmp_path / "lent.xlsx")
    ran = brought(sqlite_book, file, "--json", "--yes")
    rows = told(ran)

    assert ran.code == 1
    assert named(rows, "refused") == {
        Told("refused", "shelf", 3, "E purchased", "31.02.2021"),
        Told("refused", "lent", 4, "A drive", "X99"),
        Told("refused", "lent", 5, "D due back", "2025-13-01"),
    }
    assert {(2, "D serial number", "00123"), (6, "D serial number", "00123")} <= _of(rows, "doubtful")
    assert _json(sqlite_book, "unit", "list") == []


def test_a_cell_that_spoils_a_service_and_its_readings_is_refused_once(sqlite_book: Path, tmp_path: Path) -> None:
    """An unknown unit is one mistake of the person, whatever hangs on it, told of the sheet's own column."""
    file = tmp_path / "log.csv"
    file.write_text("date,drive,rpm before,rpm after,what I did\n2025-03-01,X9,300,300.1,cleaned head\n")
    ran = brought(sqlite_book, file, "--json")

    assert [(row["row"], row["column"], row["value"]) for row in told(ran) if row["kind"] == "refused"] == [
        (2, "B drive", "X9")
    ]
    assert json.loads(ran.out)["totals"]["refused"] == 1


def test_what_is_refused_can_be_left_out_by_the_mapping(sqlite_book: Path, tmp_path: Path) -> None:
    """Serials arrive as written; the rows that the mapping leaves out are named, each cell of them."""
    file, mapping = _made(loaner_list, tmp_path / "lent.xlsx"), tmp_path / "lent.json"
    brought(sqlite_book, file, "--map", str(mapping))
    written = json.loads(mapping.read_text(encoding="utf-8"))
    written["tables"][0]["leave out rows"] = [3]
    written["tables"][1]["leave out rows"] = [4, 5]
    mapping.write_text(json.dumps(written), encoding="utf-8")
    rows = told(brought(sqlite_book, file, "--json", "--map", str(mapping)))
    ran = brought(sqlite_book, file, "--yes", "--map", str(mapping))

    assert (ran.code, named(rows, "refused")) == (0, set())
    units = _json(sqlite_book, "unit", "list")
    assert {(row["tag"], row["serial"]) for row in units} == {
        ("X1", "00123"),
        ("X3", "+4711"),
        ("X4", "=x"),
        ("X5", "00123"),
    }
    assert {("X99"), ("31.02.2021"), ("2025-13-01")} <= {value for _, _, value in _of(rows, "left out")}
    read_as = {"1 Dec 2025": "2025-12-01", "1 Apr 2026": "2026-04-01"}
    assert lost(file, sqlite_book, rows, ran.out, tmp_path / "out", read_as) == []


def test_a_corrected_workbook_comes_in_whole(sqlite_book: Path, tmp_path: Path) -> None:
    """Once the three cells are put right every row is there."""
    book = loaner_list.build()
    book["shelf"]["E3"], book["lent"]["A4"], book["lent"]["D5"] = "28.02.2021", "X2", date(2025, 12, 31)
    book.save(tmp_path / "lent.xlsx")
    ran = brought(sqlite_book, tmp_path / "lent.xlsx", "--yes")

    assert ran.code == 0
    assert [row["serial"] for row in _json(sqlite_book, "unit", "list")] == ["00123", "1E5", "+4711", "=x", "00123"]


def test_cells_merged_across_the_table_are_refused_and_titles_above_are_not(sqlite_book: Path, tmp_path: Path) -> None:
    """The range is named."""
    file = tmp_path / "merged.xlsx"
    book = club_ledger.build()
    book["Bestand 2025"].merge_cells("G5:G6")
    book.save(file)
    rows = told(brought(sqlite_book, file, "--json"))

    assert named(rows, "refused") == {Told("refused", "Bestand 2025", 5, None, "G5:G6")}


def test_a_formula_without_its_value_is_named(sqlite_book: Path, tmp_path: Path) -> None:
    """The cell reads as empty and its place is said."""
    file = saved(tmp_path / "f.xlsx", drives=[*UNITS, ("D2", "Velkari", "VK 1", None)])
    from openpyxl import load_workbook

    book = load_workbook(file)
    book["drives"]["D3"] = "=1+1"
    book.save(file)
    rows = told(brought(sqlite_book, file, "--json"))

    assert [(row["row"], row["column"]) for row in rows if "formula" in str(row["rule"])] == [(3, "D")]


def test_a_mapping_that_was_written_asks_nothing_more_and_is_obeyed(sqlite_book: Path, tmp_path: Path) -> None:
    """A column may become another field or be left out; what the file says is no longer unsure."""
    file = saved(
        tmp_path / "d.xlsx", drives=[(*UNITS[0], "smell"), (*UNITS[1], "burnt"), ("D2", "", "VK 1", "", "oil")]
    )
    mapping = tmp_path / "d.json"
    brought(sqlite_book, file, "--map", str(mapping))
    text = mapping.read_text(encoding="utf-8")
    assert '"smell": "note"' in text
    mapping.write_text(text.replace('"smell": "note"', '"smell": "unit condition"'), encoding="utf-8")
    rows = told(brought(sqlite_book, file, "--json", "--yes", "--map", str(mapping)))

    assert _of(rows, "doubtful") == {(3, "maker", "Velkari")}
    assert _json(sqlite_book, "unit", "show", "D1")["condition"] == "burnt"


@pytest.mark.parametrize(
    ("was", "becomes", "words"),
    [
        ('"unit serial"', '"unit serail"', '"unit serail" is nothing that a column can become. Nearest: unit serial'),
        ('"holds": "units"', '"holds": "cups"', 'a table cannot hold "cups".\nIt holds one of: units'),
        ("{", "[", "is no mapping of a workbook."),
        ("{", "[" * 100_000, "is no mapping of a workbook."),
        ('rows": []', 'rows": ["x"]', '"leave out rows" must list row numbers.'),
    ],
)
def test_a_mistake_in_the_mapping_is_refused_in_words(
    sqlite_book: Path, tmp_path: Path, was: str, becomes: str, words: str
) -> None:
    """The file, what was seen, and what to type."""
    file, mapping = saved(tmp_path / "d.xlsx", drives=UNITS), tmp_path / "d.json"
    brought(sqlite_book, file, "--map", str(mapping))
    mapping.write_text(mapping.read_text(encoding="utf-8").replace(was, becomes, 1), encoding="utf-8")
    ran = brought(sqlite_book, file, "--yes", "--map", str(mapping))

    assert ran.code == 1
    assert words.replace("\n", " ") in ran.err.replace("\n", " ")
    assert _json(sqlite_book, "unit", "list") == []


@pytest.mark.parametrize(
    ("encoding", "mark", "options"),
    [("utf-8", ";", ()), ("utf-16", "\t", ()), ("cp1252", ",", ("--encoding", "cp1252"))],
)
def test_one_csv_file_of_a_persons_own_comes_in(
    sqlite_book: Path, tmp_path: Path, encoding: str, mark: str, options: tuple[str, ...]
) -> None:
    """Whatever its encoding and separator; without the encoding's name one is told to give it."""
    lines = [("Nr", "Hersteller", "Modell", "Seriennr."), ("L1", "Köhl", "K 1", "007"), ("L2", "Köhl", "K 1", "1E5")]
    file = tmp_path / "liste.csv"
    file.write_bytes("\r\n".join(mark.join(line) for line in lines).encode(encoding))
    ran = brought(sqlite_book, file, "--yes", *options)

    assert ran.code == 0
    units = _json(sqlite_book, "unit", "list")
    assert [(row["tag"], row["maker"], row["serial"]) for row in units] == [
        ("L1", "Köhl", "007"),
        ("L2", "Köhl", "1E5"),
    ]
    if options:
        assert "--encoding cp1252" in brought(sqlite_book, file).err


def test_the_template_comes_in_without_a_question_once_it_is_filled(sqlite_book: Path, tmp_path: Path) -> None:
    """Its example line is no unit, and none of its columns is unsure."""
    from openpyxl import load_workbook

    file = tmp_path / "empty.xlsx"
    made = run_cli(["import", "--template", str(file)], db=sqlite_book)
    before = brought(sqlite_book, file)
    book = load_workbook(file)
    sheet: Any = book["units"]
    sheet["A3"], sheet["B3"], sheet["C3"] = "D1", "Velkari", "VK 1"
    book.save(file)
    rows = told(brought(sqlite_book, file, "--json", "--yes"))

    assert made.code == 0
    assert before.out.endswith("The book has all 0 rows already: nothing to do.\n")
    assert named(rows, "doubtful", "refused", "left out") == set()
    assert [row["tag"] for row in _json(sqlite_book, "unit", "list")] == ["D1"]


def test_at_a_terminal_only_what_is_unsure_is_asked(sqlite_book: Path, tmp_path: Path) -> None:
    """Enter takes the offer, a number or a name another; the answers are written and the next time asks nothing."""
    rows = [(*UNITS[0], "smell", "hum"), (*UNITS[1], "burnt", "low")]
    file, mapping = saved(tmp_path / "d.xlsx", drives=rows), tmp_path / "d.json"
    words = warm_program(
        "--db", str(sqlite_book), "--today", TODAY.isoformat(), "import", str(file), "--map", str(mapping)
    )
    child = pexpect.spawn(words[0], words[1:], env=environment({"TERM": "dumb"}), encoding="utf-8", dimensions=(40, 80))
    child.expect("column E smell: burnt")
    child.expect(r"\[note\]: ")
    child.sendline("unit condition")
    child.expect("column F hum: low")
    child.expect(r"\[note\]: ")
    child.sendline("")
    child.expect(r"Write this into the book\? \[y/N\]: ")
    child.sendline("y")
    child.expect(pexpect.EOF)
    child.close()
    card = _json(sqlite_book, "unit", "show", "D1")

    assert child.exitstatus == 0
    assert (card["condition"], card["note"]) == ("burnt", "hum: low")
    assert brought(sqlite_book, file, "--map", str(mapping)).out.endswith("nothing to do.\n")


def test_a_file_without_a_table_is_refused_and_told_what_headings_are(sqlite_book: Path, tmp_path: Path) -> None:
    """A letter is no list."""
    ran = brought(sqlite_book, saved(tmp_path / "l.xlsx", letter=[("Dear Ilse,",), ("thank you.",)]))

    assert ran.code == 1
    assert '"l.xlsx" has no table that can be recognised.' in ran.err


def test_one_row_may_tell_of_a_unit_its_fault_loan_and_worth(sqlite_book: Path, tmp_path: Path) -> None:
    """What has its day becomes a record of its own; what lacks one stays in the unit's note and says what it lacks."""
    heading = ("Tag", "Model", "S/N", "worth", "valued on", "fault", "noticed", "lent to", "lent on", "due back", "rpm")
    whole = ("D1", "VK 1", "a1", "80 €", "2024", "no index", "2025-01", "Oda Brenn", "2025-02-01", "2025-09-01", None)
    bare = (None, "VK 1", "a2", "50", None, "squeal", None, "Mila Oest", None, None, "299")
    file = saved(tmp_path / "g.xlsx", gear=[heading, whole, bare])
    rows = told(brought(sqlite_book, file, "--json", "--yes"))

    assert [row["symptom"] for row in _json(sqlite_book, "fault", "list", "--all")] == ["no index"]
    assert [row["tag"] for row in _json(sqlite_book, "loan", "list")] == ["D1"]
    note = _json(sqlite_book, "unit", "show", "D2")["note"]
    assert note.splitlines() == ["worth: 50", "fault: squeal", "lent to: Mila Oest", "rpm: 299"]
    assert {row["rule"] for row in rows if row["row"] == 3 and row["kind"] == "doubtful"} == {
        "a valuation needs its sum and its day; kept in the note",
        "a fault needs its symptom and the day it was noticed; kept in the note",
        "a loan needs who has it, the day it went and the day it is due back; kept in the note",
        "the day of the reading is not told; kept in the note",
    }
    assert Told("doubtful", "gear", 1, "K", "rpm") in named(rows, "doubtful")
    assert brought(sqlite_book, file).out.endswith("nothing to do.\n")


def test_a_table_of_readings_needs_no_service_and_a_hidden_sheet_is_said(sqlite_book: Path, tmp_path: Path) -> None:
    """Measurements in columns of their own become readings between services; no figure is made of a word."""
    rails = [("unit", "date", "5V", "12V", "meter"), ("D1", date(2025, 3, 1), 5.02, "bad", "desk meter")]
    file = saved(tmp_path / "r.xlsx", drives=UNITS, rails=rails)
    from openpyxl import load_workbook

    book = load_workbook(file)
    book["rails"].sheet_state = "hidden"
    book.save(file)
    rows = told(brought(sqlite_book, file, "--json", "--yes"))
    readings = _json(sqlite_book, "reading", "list", "D1")

    assert [(row["measurement"], row["point"], row["stage"], row["value"]) for row in readings] == [
        ("rail voltage", "+5 V", "between", "5.02")
    ]
    assert {(row["sheet"], row["column"], row["value"]) for row in rows if row["kind"] == "doubtful"} == {
        ("rails", None, None),
        ("rails", "D 12V", "bad"),
        ("rails", "E meter", "desk meter"),
    }


def test_another_amount_of_a_lot_is_a_count(sqlite_book: Path, tmp_path: Path) -> None:
    """What came stays as it was; the change is doubtful, for a slip of the pen looks the same."""
    heading = ("item", "how much", "best before")
    saved(tmp_path / "d.xlsx", drawer=[heading, ("foam swab, lint-free", "2 bags of 25", "2027-12")])
    brought(sqlite_book, tmp_path / "d.xlsx", "--yes")
    file = saved(tmp_path / "d.xlsx", drawer=[heading, ("foam swab, lint-free", "44", "2027-12")])
    rows = told(brought(sqlite_book, file, "--json", "--yes"))
    card = _json(sqlite_book, "supply", "list")

    assert named(rows, "doubtful") == {Told("doubtful", "drawer", 2, "B how much", "44")}
    assert [str(row["quantity"]) for row in card if row["supply"] == "foam swab, lint-free"] == ["44"]
