"""The demo as a folder of CSV files: repeatable, and in the folder's exact form."""

import re
from datetime import date, timedelta

import pytest

from collection.analysis.fleet import Tables
from collection.exchange.demo_folder import DEMO_NAME, demo_tables
from collection.quantity import parse_day, parse_money, parse_number, to_steps
from tests.support.demo import DEMO_DAY, all_days, all_supplies, demo, listed, texts_in

# The columns of the CSV folder, as fixed for other programs that write it.
COLUMNS = {
    "amounts.csv": "procedure supply quantity measured_in chance",
    "counts.csv": "supply lot counted_on quantity",
    "entries.csv": "tag what value from_date note",
    "faults.csv": "tag noticed_on symptom cause cure closed_on service by",
    "hours.csv": "tag read_on hours reset",
    "instruments.csv": "instrument measurement reference from_date resolution uncertainty kind tag host version note",
    "limits.csv": "tag model class maker measurement point nominal lower upper source from_date",
    "loans.csv": "loan direction tag person out_on due_on back_on purpose condition_out condition_back deposit"
    " currency",
    "locations.csv": "location inside note",
    "lots.csv": "supply lot received_on quantity price currency supplier made expires_on opened_on",
    "models.csv": "model maker kind drive_type nominal_speed speed_adjustable media supply_inside"
    " replacement_value currency note",
    "offers.csv": "supplier supply pack_quantity price currency from_packs minimum_packs lead_days",
    "orders.csv": "order supplier ordered_on supply packs arrived_on arrived_packs cancelled_on",
    "pairings.csv": "drive supply_unit from_date to_date",
    "parts.csv": "tag part fitted_on removed_on supply lot donor service",
    "people.csv": "person role email phone address note",
    "policies.csv": "policy from_date to_date insurer sum_insured currency note",
    "readings.csv": "tag measurement point taken_on instrument value stage service measured_in disk supply_unit"
    " warm_up_minutes load set_aside note",
    "services.csv": "service tag opened_on closed_on procedures reason outcome minutes by findings",
    "suppliers.csv": "supplier lead_days shipping currency note",
    "supplies.csv": "supply kind measured_in smallest_step tracked density polymer thickener strength size fits"
    " shelf_life_months open_life_months wanted_chance note",
    "units.csv": "tag model maker serial serial_state owner location standing acquired_on acquired_from price"
    " currency condition marks jumpers rom modifications accessories note",
    "uses.csv": "supply lot quantity used_on service tag procedure basis planned what reason",
    "valuations.csv": "tag valued_on amount currency basis by evidence",
}
# The words that a column may hold; empty is allowed besides where the column may be empty.
WORDS = {
    ("models.csv", "drive_type"): "belt; direct adjustable; direct crystal; AC motor; unknown",
    ("people.csv", "role"): "keeper; issuer; member; owner; outside",
    ("units.csv", "serial_state"): "known; lost; illegible",
    ("units.csv", "standing"): "arrived; on the bench; ready; in use; on loan; awaiting parts; away; donor;"
    " missing; gone",
    ("entries.csv", "what"): "owner; location; standing",
    ("readings.csv", "stage"): "as found; as left; between",
    ("supplies.csv", "tracked"): "count; pack; no",
    ("uses.csv", "basis"): "sheet; measured; count",
    ("uses.csv", "what"): "use; discard; return; short",
    ("uses.csv", "planned"): "yes; no",
    ("loans.csv", "direction"): "out; in",
    ("hours.csv", "reset"): "yes; no",
    ("instruments.csv", "reference"): "yes; no",
}
MAY_LIE_AHEAD = {("loans.csv", "due_on"), ("lots.csv", "expires_on"), ("policies.csv", "to_date")}


@pytest.fixture(scope="module")
def tables() -> Tables:
    """The demo's rows on a fixed day."""
    return demo()[0]


def test_the_same_day_gives_the_same_rows(tables: Tables) -> None:
    """The generator is seeded: made anew for one day, the demo is equal cell by cell."""
    assert demo_tables(DEMO_DAY)[0] == tables


@pytest.mark.parametrize("shift", [1, 59, 366, 3650])
def test_another_day_moves_the_days_and_nothing_else(tables: Tables, shift: int) -> None:
    """With every full day counted from its own today, two demos are equal; partial days stay in their cells."""

    def counted(found: Tables, today: date) -> list[list[str]]:
        return [
            [_from_today(name, text, today) for name, text in row.items()]
            for _, rows in sorted(found.items())
            for row in rows
        ]

    later = DEMO_DAY + timedelta(days=shift)

    assert counted(demo_tables(later)[0], later) == counted(tables, DEMO_DAY)


def _from_today(name: str, text: str, today: date) -> str:
    if re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        return f"{(date.fromisoformat(text) - today).days:+d}"
    partial = name in ("acquired_on", "made") and text
    return "partial" if partial else text


def test_every_file_has_exactly_the_columns_of_the_folder(tables: Tables) -> None:
    """All files are there, none besides, and every row has the columns in their order."""
    assert sorted(tables) == sorted(COLUMNS)
    for file, rows in tables.items():
        assert {tuple(row) for row in rows} == {tuple(COLUMNS[file].split())}, file


@pytest.mark.parametrize("place", WORDS, ids=".".join)
def test_columns_hold_only_the_words_of_the_folder(tables: Tables, place: tuple[str, str]) -> None:
    """A word outside the list would be refused at import."""
    found = texts_in(tables, *place) - {""}

    assert found
    assert found <= set(listed(WORDS[place]))


def test_every_day_is_iso_and_none_lies_ahead_that_should_not(tables: Tables) -> None:
    """Only due days, expiry days and the end of a policy may lie after today."""
    seen = 0
    for file, column, text in all_days(tables):
        seen += 1
        if column == "made":
            assert re.fullmatch(r"[1-4]/\d\d", text)
            continue
        day = parse_day(text)
        assert (file, column) in MAY_LIE_AHEAD or day.first <= DEMO_DAY, (file, column, text)
    assert seen > 1000


@pytest.mark.parametrize(
    ("made", "quarter"),
    [("2022-12-31", "4/22"), ("2023-01-01", "1/23"), ("2023-03-31", "1/23"), ("2023-04-01", "2/23")],
)
def test_the_quarter_of_manufacture_is_that_of_its_day(made: str, quarter: str) -> None:
    """The belts of the demo were made 1200 days before today; their label names the quarter, as 1/23."""
    today = date.fromisoformat(made) + timedelta(days=1200)

    assert texts_in(demo_tables(today)[0], "lots.csv", "made") - {""} == {quarter}


def test_days_of_which_less_is_known_are_shown_as_month_and_year(tables: Tables) -> None:
    """A unit acquired "about" a time carries only the month or the year."""
    forms = {len(row["acquired_on"]) for row in tables["units.csv"]}

    assert forms == {4, 7, 10}


def test_nothing_ends_before_it_begins(tables: Tables) -> None:
    """Services, faults, loans, parts, pairings and orders have their days in order."""
    pairs = {
        "services.csv": ("opened_on", "closed_on"),
        "faults.csv": ("noticed_on", "closed_on"),
        "loans.csv": ("out_on", "due_on"),
        "parts.csv": ("fitted_on", "removed_on"),
        "pairings.csv": ("from_date", "to_date"),
        "orders.csv": ("ordered_on", "arrived_on"),
        "lots.csv": ("received_on", "opened_on"),
    }
    for file, (begin, end) in pairs.items():
        assert [row for row in tables[file] if row[end] and row[end] < row[begin]] == [], file


def test_money_and_numbers_are_plain(tables: Tables) -> None:
    """Every price fits its currency, every quantity is whole steps of its supply."""
    for file, column in (
        ("models.csv", "replacement_value"),
        ("units.csv", "price"),
        ("offers.csv", "price"),
        ("lots.csv", "price"),
        ("valuations.csv", "amount"),
        ("policies.csv", "sum_insured"),
        ("loans.csv", "deposit"),
        ("suppliers.csv", "shipping"),
    ):
        assert any(parse_money(row[column], row["currency"]).minor for row in tables[file] if row[column])
    supplies = all_supplies(tables)
    for file in ("uses.csv", "counts.csv", "lots.csv"):
        for row in tables[file]:
            supply = supplies[row["supply"]]
            unit, step = supply["measured_in"], parse_number(supply["smallest_step"])
            assert to_steps(parse_number(row["quantity"]), unit, unit, step) >= 0


def test_the_demo_says_that_it_is_invented(tables: Tables) -> None:
    """Nobody may take the club, its people or its makers for real ones."""
    assert "invented" in DEMO_NAME
    assert all("nvented" in row["note"] for row in tables["models.csv"])
    assert all("nvented" in row["note"] for row in tables["people.csv"])
    assert all(re.search(r"\.example$", row["email"]) for row in tables["people.csv"])
