"""An exported workbook comes back: what was changed in it is told, and written as one act or not at all."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy.engine import Engine

from collection.acts.book_back_write import bring_back
from collection.acts.undo import undo
from collection.acts.units import edit_unit
from collection.errors import Moved, Refused
from collection.store.engine import open_engine, reading
from collection.views.folder.form import FORMS
from collection.views.verify import verify
from tests.support.came_back import SHELF, CameBack, rules, told
from tests.support.folders import bring, rows
from tests.support.times import NOW, TODAY


@pytest.fixture
def book(engine: Engine) -> CameBack:
    """Return the sheets of a small shelf with rows of every kind."""
    bring(engine, SHELF)
    return CameBack(engine)


@pytest.fixture(scope="module")
def shelf(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    """Yield an engine on such a shelf, made once, for tests that look and write nothing."""
    engine = open_engine(str(shutil.copy(sqlite_template, tmp_path_factory.mktemp("shelf") / "book.sqlite3")))
    bring(engine, SHELF)
    yield engine
    engine.dispose()


@pytest.fixture
def looked_at(shelf: Engine) -> CameBack:
    """Return its sheets."""
    return CameBack(shelf)


def test_a_workbook_that_nobody_edited_has_nothing_to_do(book: CameBack) -> None:
    """Every sheet has rows, all of them are the same, and there is nothing to write."""
    plan = book.plan()

    assert [name for name, sheet in book.sheets.items() if not sheet.rows] == []
    assert {kind: number for kind, number in plan.totals.items() if number} == {"same": sum(1 for _ in plan.rows())}
    assert plan.changes_nothing


def test_edited_cells_are_told_and_written_as_one_act_that_undo_takes_back(book: CameBack) -> None:
    """Changed, emptied, respelt and new: each is told with old and new; afterwards nothing is left to do."""
    before = _contents(book.engine)
    book.write("units", 2, note="second", price="")
    book.write("units", 3, tag="d2", location="cellar")
    new = book.add("units", tag="D3", model="VK 1", serial="70-3")

    plan = book.bring()

    assert told(plan, "changed") == [
        ("units", 2, "price", "25.00", ""),
        ("units", 2, "currency", "EUR", ""),
        ("units", 2, "note", "first", "second"),
        ("units", 3, "tag", "D2", "d2"),
        ("units", 3, "location", "shelf A", "cellar"),
    ]
    assert told(plan, "new") == [("units", new, None, None, None)]
    assert rows(book.engine, "SELECT tag, price_minor, currency, note FROM unit WHERE void = 0 ORDER BY id") == [
        ("D1", None, None, "second"),
        ("d2", 3000, "EUR", None),
        ("P1", None, None, None),
        ("D3", None, None, None),
    ]
    assert book.plan().changes_nothing
    with reading(book.engine) as conn:
        assert verify(conn).broken == []
    undo(book.engine, None, today=TODAY, now=NOW)
    assert _contents(book.engine) == before


def _contents(engine: Engine) -> dict[str, list[tuple[str, ...]]]:
    return {name: [row.cells for row in sheet.rows] for name, sheet in CameBack(engine).sheets.items()}


NAMES = {
    "models": ("model", "maker"),
    "units": ("tag",),
    **{f"{name}s": (name,) for name in ("location", "measurement", "supplier", "procedure", "lot")},
    "people": ("person",),
    "supplies": ("supply",),
}


@pytest.mark.parametrize("emptied", [False, True])
def test_no_changed_cell_is_passed_over(looked_at: CameBack, emptied: bool) -> None:
    """Whichever cell of whichever sheet is typed over or emptied: it is told as changed, or refused."""
    exported = {name: list(sheet.rows) for name, sheet in looked_at.sheets.items()}
    for at in range(max(len(form.columns) for form in FORMS.values())):
        edited = set()
        for name, sheet in looked_at.sheets.items():
            sheet.rows[:] = exported[name]
            columns = FORMS[sheet.file].columns[at : at + 1]
            row = next((row for row in sheet.rows if columns and row.cells[at]), None)
            if row is not None and columns[0] not in NAMES.get(name, ()):  # which other sheets could follow
                looked_at.write(name, row.number, **{columns[0]: "" if emptied else _other(row.cells[at])})
                edited.add((name, row.number))
        told_of = {(each.sheet, each.row) for each in looked_at.plan().findings if each.kind in ("changed", "refused")}
        assert edited - told_of == set(), at


def _other(text: str) -> str:
    """Return another text of the same sort, as far as it goes."""
    if text.replace(".", "", 1).isdigit():
        return str(float(text) + 1)
    return {"yes": "no", "no": "yes"}.get(text, f"{text}x")


def test_what_only_the_book_changed_stays_and_what_both_changed_is_a_conflict(book: CameBack) -> None:
    """The three-way comparison, and either way out of a conflict."""
    edit_unit(book.engine, "D1", {"note": "in the book", "marks": "stamped"}, today=TODAY, now=NOW)
    book.write("units", 2, note="in the sheet", jumpers="all")

    plan = book.plan()
    assert (told(plan, "conflict"), plan.moved) == ([("units", 2, "note", "in the book", "in the sheet")], 1)
    assert told(plan, "changed") == [("units", 2, "jumpers", "", "all")]
    with pytest.raises(Refused):
        bring_back(book.engine, plan, book.origin, today=TODAY, now=NOW)

    book.bring(prefer="book")
    mine = "SELECT note, marks, jumpers FROM unit WHERE tag = 'D1'"
    assert rows(book.engine, mine) == [("in the book", "stamped", "all")]
    book.bring(prefer="sheet")
    assert rows(book.engine, mine) == [("in the sheet", "stamped", "all")]


def test_rows_that_are_not_there_are_not_deleted(book: CameBack) -> None:
    """A sheet with one row of three changes that row alone."""
    del book.sheets["units"].rows[1:], book.sheets["readings"].rows[:]
    book.write("units", 2, note="second")

    book.bring()

    assert rows(book.engine, "SELECT count(*) FROM unit WHERE void = 0") == [(3,)]


def test_a_corrected_reading_is_set_aside_and_entered_anew_for_a_reason(book: CameBack) -> None:
    """The first reading stays, counts no more, and the same workbook brings nothing in again."""
    number = book.find("readings", tag="D1", value="300.1")
    book.write("readings", number, value="300.4")
    with pytest.raises(Refused, match="needs a reason"):
        book.bring()

    plan = book.bring("misread")

    assert told(plan, "changed") == [("readings", number, "value", "300.1", "300.4")]
    assert rows(
        book.engine,
        "SELECT r.entered, r.stage, v.name, a.reason FROM reading r JOIN service v ON v.id = r.service_id"
        " LEFT JOIN reading_aside a ON a.reading_id = r.id WHERE r.stage = 'as left' AND r.grade IS NULL ORDER BY r.id",
    ) == [("300.1", "as left", "S1", "misread"), ("300.4", "as left", "S1", None)]
    assert book.plan().changes_nothing
    book.write("readings", number, value="300.5")
    assert rules(book.plan(), "refused") == ["the reading is set aside already (misread): write it as a new row"]


def test_a_corrected_valuation_or_entry_is_followed_by_another_of_the_same_day(book: CameBack) -> None:
    """The later row counts; a later one of the same day in the book is not overtaken."""
    entry = book.find("entries", tag="D1", what="location")
    book.write("valuations", 2, amount="80")
    book.write("entries", entry, value="cellar")

    book.bring("typed wrong")

    assert [amount for (amount,) in rows(book.engine, "SELECT amount_minor FROM valuation ORDER BY id")] == [9000, 8000]
    assert CameBack(book.engine).cells("units", 2)["location"] == "cellar"
    assert book.plan().changes_nothing
    book.write("valuations", 2, amount="70")
    assert [rule.partition(";")[0] for rule in rules(book.plan(), "refused")] == [
        "a later row of the same day counts in its place"
    ]


STAYS = [
    ("uses", 2, "quantity", "0.6", 'supply reverse "rail oil" 2 --reason REASON, then write it as a new row'),
    ("counts", 2, "quantity", "1", 'supply reverse "belt 64" 2 --reason REASON, then write it as a new row'),
    ("hours", 2, "hours", "130", "take the act back that wrote it: spindlebook undo 2"),
    ("valuations", 2, "valued_on", "2025-01-02", "take the act back that wrote it: spindlebook undo 2"),
    ("entries", 2, "from_date", "2021", "take the act back that wrote it: spindlebook undo 2"),
    ("units", 2, "standing", "on loan", "spindlebook loan out D1 --to PERSON --due DATE"),
    ("units", 3, "owner", "", "only followed by another: write which"),
    ("units", 4, "price", "12,5", 'write "12.5"'),
    ("services", 2, "procedures", "", "cannot be emptied by an import; see: spindlebook service --help"),
    ("services", 2, "service", "S2", "the name of a service ties rows to it and stays"),
    ("readings", 2, "service", "", "set it aside and write it as a new row"),
    ("lots", 2, "quantity", "21", "reverse it and receive it anew"),
    ("orders", 2, "packs", "3", "cancel it and enter another"),
    ("people", 2, "person", "", "must be filled"),
]


def test_what_an_import_cannot_change_is_refused_with_what_can(looked_at: CameBack) -> None:
    """Never passed over: each refusal names the cell and ends in what to type or write."""
    for sheet, row, column, value, _advice in STAYS:
        looked_at.write(sheet, row, **{column: value})

    plan = looked_at.plan()

    assert {each[:3] for each in told(plan, "refused")} == {each[:3] for each in STAYS}
    for sheet, row, column, value, advice in STAYS:
        (found,) = (each for each in plan.findings if (each.sheet, each.row, each.column) == (sheet, row, column))
        assert (found.value, str(found.rule)[-len(advice) :]) == (value, advice)


def test_what_the_past_rests_on_asks_for_a_reason(book: CameBack) -> None:
    """A limit, a closed service and a unit called gone are not changed without one; a note is."""
    book.write("limits", book.find("limits", model="VK 1"), upper="304")
    book.write("services", 2, findings="dust")
    book.write("units", 4, standing="gone")
    plan = book.plan()

    assert plan.resting == [
        "unit P1 is called gone",
        "limit Velkari VK 1 spindle speed has another upper",
        "service S1 D1 was closed on 2025-02-01",
    ]
    book.bring("sold; new leaflet")
    assert rows(book.engine, "SELECT reason FROM act ORDER BY id DESC LIMIT 1") == [("sold; new leaflet",)]


def test_a_sheet_gives_a_unit_a_tag_that_it_had_before(book: CameBack) -> None:
    """The tag it leaves takes its place among the names that find the unit."""
    edit_unit(book.engine, "D2", {"tag": "L6"}, today=TODAY, now=NOW)
    sheet = CameBack(book.engine)
    sheet.write("units", 3, tag="D2")

    assert told(sheet.bring(), "changed") == [("units", 3, "tag", "L6", "D2")]
    assert rows(book.engine, "SELECT u.tag, a.alias FROM unit u JOIN unit_alias a ON a.unit_id = u.id") == [
        ("D2", "L6")
    ]
    with reading(book.engine) as conn:
        assert verify(conn).broken == []


def test_a_copied_row_is_a_new_one_and_its_original_keeps_the_key(looked_at: CameBack) -> None:
    """Whichever of the two was edited; two that still say the same cannot be told apart."""
    copied = looked_at.copy("units", 2, tag="D7", serial="70-7", note="copied")
    looked_at.write("units", 2, note="edited")
    same = looked_at.copy("people", 2)

    plan = looked_at.plan()

    assert told(plan, "new") == [("units", copied, None, None, None)]
    assert told(plan, "changed") == [("units", 2, "note", "first", "edited")]
    assert [(sheet, row) for sheet, row, *_ in told(plan, "refused")] == [("people", same)]


def test_an_equal_event_happened_twice_and_a_name_that_is_there_is_not_added(book: CameBack) -> None:
    """A reading typed again is a second one, once; a unit typed again stands twice."""
    book.add("readings", **book.cells("readings", 2))
    book.bring()
    assert rows(book.engine, "SELECT count(*) FROM reading") == [(5,)]
    assert book.plan().changes_nothing

    book.add("units", tag="d1", model="VK 1", note="again")
    assert rules(book.plan(), "refused") == ["stands twice: see row 2"]


def test_what_was_added_on_both_sides_is_the_same_or_a_conflict(book: CameBack) -> None:
    """A row added by hand whose name the book has got meanwhile is not written over."""
    book.add("locations", location="attic", note="warm")
    bring(book.engine, {"locations": "location,note\nattic,warm\n"})
    assert book.plan().changes_nothing
    book.write("locations", 102 + 0, note="cold")

    assert told(book.plan(), "conflict") == [("locations", 102, "note", "warm", "cold")]
    assert book.plan("book").changes_nothing
    assert told(book.plan("sheet"), "changed") == [("locations", 102, "note", "warm", "cold")]


def test_a_name_replaced_everywhere_is_one_change(book: CameBack) -> None:
    """Find and replace over the whole workbook renames the record; what refers to it follows."""
    for name, sheet in book.sheets.items():
        for row in list(sheet.rows):
            cells = {c: text.replace("Ordent", "Ordenta") for c, text in book.cells(name, row.number).items()}
            if name != "policies":
                book.write(name, row.number, **cells)

    assert told(book.bring(), "changed") == [("suppliers", 2, "supplier", "Ordent", "Ordenta")]
    assert CameBack(book.engine).cells("lots", 2)["supplier"] == "Ordenta"


def test_rows_of_one_loan_and_one_instrument_are_changed_together(book: CameBack) -> None:
    """One due date is that of the loan; two that differ are refused."""
    book.write("loans", 2, due_on="2025-07-01")
    book.write("instruments", book.find("instruments", measurement="ripple"), note="desk")
    book.bring("agreed by telephone")
    assert rows(book.engine, "SELECT due_on FROM loan") == [("2025-07-01",)]
    assert rows(book.engine, "SELECT note FROM instrument WHERE name = 'meter'") == [("desk",)]

    book = CameBack(book.engine)
    book.write("loans", 2, due_on="2025-08-01")
    book.write("loans", 3, due_on="2025-09-01")
    assert rules(book.plan(), "refused") == ["row 2 says 2025-08-01 of the same loan"]


def test_a_further_amount_leaves_the_reference_amounts(book: CameBack) -> None:
    """What stands in the sheet unchanged is not taken for left away."""
    procedure = book.cells("amounts", 2)["procedure"]
    count = "SELECT count(*) FROM amount WHERE void = 0"
    before = rows(book.engine, count)[0][0]
    book.add("amounts", procedure=procedure, supply="belt 64", quantity="1")
    book.bring()
    assert rows(book.engine, count) == [(before + 1,)]


def test_a_number_told_in_another_unit_is_refused(looked_at: CameBack) -> None:
    """The cell that only shows the unit is not read, so it must not say another one."""
    looked_at.show("lots", 2, "l")
    assert rules(looked_at.plan(), "refused") == [
        "is only shown: the number is in ml, and is read so; put this cell back"
    ]


def test_rows_of_another_book_and_rows_taken_back_are_told_apart(book: CameBack) -> None:
    """A foreign key stops the import; what the book took back is left out, or a conflict when it was edited."""
    book.key("units", 4, "0190a000-0000-7000-8000-000000000001")
    undone = book.plan()
    assert told(undone, "from another book") == [("units", 4, None, None, None)]
    assert not undone.writable

    bring(book.engine, {"locations": "location\nattic\n"})
    book = CameBack(book.engine)
    undo(book.engine, None, today=TODAY, now=NOW)
    number = book.find("locations", location="attic")
    assert told(book.plan(), "left out") == [("locations", number, None, None, None)]
    assert book.plan().changes_nothing
    book.write("locations", number, note="warm")
    assert [each[:2] for each in told(book.plan(), "conflict")] == [("locations", number)]


def test_a_workbook_of_another_book_or_of_another_past_is_refused(looked_at: CameBack) -> None:
    """The book's key and the seal of its last act must be known here."""
    for origin in (
        looked_at.origin._replace(book="other"),
        looked_at.origin._replace(seal="0" * 64),
        looked_at.origin._replace(act="99"),
    ):
        looked_at.origin = origin
        with pytest.raises(Refused, match="from another book"):
            looked_at.plan()


def test_a_book_that_moved_while_somebody_looked_is_compared_again(book: CameBack) -> None:
    """An act elsewhere is no trouble; one on the same cell is."""
    book.write("units", 2, note="second")
    plan = book.plan()
    edit_unit(book.engine, "D2", {"note": "other"}, today=TODAY, now=NOW)
    bring_back(book.engine, plan, book.origin, today=TODAY, now=NOW)
    assert rows(book.engine, "SELECT note FROM unit WHERE tag = 'D1'") == [("second",)]

    book = CameBack(book.engine)
    book.write("units", 2, note="third")
    plan = book.plan()
    edit_unit(book.engine, "D1", {"note": "other"}, today=TODAY, now=NOW)
    with pytest.raises(Moved):
        bring_back(book.engine, plan, book.origin, today=TODAY, now=NOW)
