"""The drawer as a list: which lot is next, what is past its date, low, below zero, and what it is worth."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy.engine import Engine

from collection.store.engine import reading
from collection.views.stock import Stock, StockRow, stock
from tests.support.drawer import GREASE, Drawer
from tests.support.shelf import shelf
from tests.support.times import TODAY

SWAB = "foam swab, lint-free"


def look(engine: Engine, name: str | None = None, within: int | None = None, today: date = TODAY) -> Stock:
    """Return the drawer of the test's day."""
    with reading(engine) as connection:
        return stock(connection, today, name, within)


def states(found: Stock) -> dict[str, tuple[str, ...]]:
    """Return the words of each lot."""
    return {row.held.lot.name if row.held and row.held.lot else "": row.state for row in found.rows}


@pytest.fixture
def drawer(engine: Engine) -> Drawer:
    """Return a drawer with white grease in it, nothing received yet."""
    return Drawer(engine).add()


def test_a_new_book_lists_no_supply_and_says_how_many_there_are(engine: Engine) -> None:
    """Reference supplies that were never held and that nothing needs are only counted."""
    found = look(engine)

    assert ((), 8) == (found.rows, found.not_listed)


def test_a_supply_that_was_asked_for_is_listed_in_any_case(drawer: Drawer) -> None:
    """Nothing in it is an answer too, and without due work it is not low."""
    (row,) = look(drawer.engine, "WHITE grease").rows

    assert (None, ("none left",)) == (row.held, row.state)


def test_lots_stand_in_the_order_of_use(drawer: Drawer) -> None:
    """By last usable day, those without one last; the first within its date is next."""
    drawer.receive("1", "none")
    drawer.receive("1", "far", expires_on="2028")
    drawer.receive("1", "near", expires_on="2026-04")
    drawer.receive("1", "past", expires_on="2026-02")
    drawer.open(lot="far")
    found = look(drawer.engine, GREASE)

    assert ["past", "near", "far", "none"] == list(states(found))
    assert {"past": ("past its date",), "near": ("next",), "far": ("opened",), "none": ()} == states(found)


@pytest.mark.parametrize(
    ("today", "word"), [("2026-04-29", "next"), ("2026-04-30", "next"), ("2026-05-01", "past its date")]
)
def test_a_lot_is_next_through_its_last_day(drawer: Drawer, today: str, word: str) -> None:
    """A printed month means its last day, itself included."""
    drawer.receive("1", "A", expires_on="2026-04")

    assert {"A": (word,)} == states(look(drawer.engine, GREASE, today=date.fromisoformat(today)))


@pytest.mark.parametrize(
    ("within", "listed"), [(0, ["past"]), (60, ["past"]), (61, ["past", "A"]), (62, ["past", "A"])]
)
def test_expiring_lists_what_passes_its_date_in_time(drawer: Drawer, within: int, listed: list[str]) -> None:
    """1 May, the first day on which a lot until 30 April is past its date, is 61 days ahead."""
    drawer.receive("1", "past", expires_on="2026-02")
    drawer.receive("1", "A", expires_on="2026-04")
    drawer.receive("1", "never")

    assert listed == list(states(look(drawer.engine, within=within)))
    assert 0 == look(drawer.engine, within=within).not_listed


def test_the_last_usable_day_says_what_it_rests_on(drawer: Drawer) -> None:
    """As printed, or that nothing is known."""
    drawer.receive("1", "A", expires_on="2026-04")
    drawer.receive("1", "B", on="2025")
    rests = [row.held.usable.because for row in look(drawer.engine, GREASE).rows if row.held]

    assert ["printed expiry 2026-04", "no shelf life known: inspect before use"] == rests


def test_a_stock_below_zero_says_so(drawer: Drawer) -> None:
    """Entries are missing; the row is of no known lot."""
    drawer.receive("1", "A")
    drawer.use("1.5")

    assert {"": ("below zero",)} == states(look(drawer.engine, GREASE))


def test_a_lot_tells_where_it_stands_and_what_it_is_worth(drawer: Drawer) -> None:
    """4 of 5 g are left of a lot of 9.99: 8.00 (the cents that cannot be shared stay with what is left)."""
    drawer.place("shelf 3")
    drawer.receive("5", "A", price="9.99", location="shelf 3")
    drawer.use("1")
    (row,) = look(drawer.engine, GREASE).rows

    assert row.held is not None
    assert (("shelf 3",), "8.00", "EUR") == (row.held.places, row.held.value.text, row.held.value.currency)  # type: ignore[union-attr]


def test_the_drawer_of_an_earlier_day_knows_nothing_of_later_ones(drawer: Drawer) -> None:
    """What was received or used after that day does not count."""
    drawer.receive("5", "A", on="2026-01-01")
    drawer.use("2", on="2026-02-01")
    on_days = [look(drawer.engine, GREASE, today=date(2026, month, 1)).rows[0] for month in (1, 2)]

    assert [50, 30] == [row.held.steps for row in on_days if row.held]
    assert None is look(drawer.engine, GREASE, today=date(2025, 12, 31)).rows[0].held


# --- low ---------------------------------------------------------------------------------------------------


def _drive_due(engine: Engine, days_ahead: int) -> None:
    """Add a drive whose heads are to be cleaned so many days from today: 1 ml and 2 swabs."""
    with shelf(engine) as made:
        unit = made.unit("D1")
        due_on = TODAY + timedelta(days_ahead)
        made.service(unit, due_on.replace(year=due_on.year - 1).isoformat(), "clean head")


def _row(found: Stock, name: str = SWAB) -> StockRow | None:
    return next((row for row in found.rows if row.supply.name == name), None)


@pytest.mark.parametrize(("held", "low"), [("1", True), ("2", False), ("3", False)])
def test_a_supply_is_low_when_it_does_not_cover_the_work_of_ninety_days(engine: Engine, held: str, low: bool) -> None:
    """Two swabs are needed: below, at and above that."""
    _drive_due(engine, 30)
    Drawer(engine, SWAB).receive(held, "A")
    row = _row(look(engine))

    assert row is not None
    assert low == ("low" in row.state)


@pytest.mark.parametrize(("days_ahead", "listed"), [(90, True), (91, False)])
def test_work_beyond_ninety_days_makes_nothing_low(engine: Engine, days_ahead: int, listed: bool) -> None:
    """A supply that was never held is listed, as low, only once the work of ninety days needs it."""
    _drive_due(engine, days_ahead)
    row = _row(look(engine))

    assert (("none left", "low") if listed else None) == (row.state if row else None)


def test_stock_past_its_date_does_not_cover_work(engine: Engine) -> None:
    """Ten swabs past their date leave the supply low."""
    _drive_due(engine, 30)
    Drawer(engine, SWAB).receive("10", "A", expires_on="2026-02")
    row = _row(look(engine))

    assert row is not None
    assert ("past its date", "low") == row.state


def test_a_supply_tracked_by_the_pack_is_low_when_its_last_pack_is_opened(engine: Engine) -> None:
    """With one unopened it is not; the amount does not matter."""
    tags = Drawer(engine, "tag, tie-on")
    tags.supplier()
    tags.offer("100", "3.00")
    tags.receive("2 packs", "T")
    tags.open()
    assert {"T-1": ("next", "opened"), "T-2": ()} == states(look(engine, tags.name))
    tags.open()

    assert {"T-1": ("next", "opened", "low"), "T-2": ("opened", "low")} == states(look(engine, tags.name))


def test_a_pack_past_its_date_is_no_pack(engine: Engine) -> None:
    """Unopened as it is, nobody may open it unasked: the supply is low."""
    tags = Drawer(engine, "tag, tie-on")
    tags.receive("100", "T", expires_on="2026-02", on="2026-02-01")

    assert {"T": ("past its date", "low")} == states(look(engine, tags.name))
    assert {"T": ("next",)} == states(look(engine, tags.name, today=date(2026, 2, 28)))


def test_a_supply_that_is_not_tracked_is_never_low_nor_below_zero(engine: Engine) -> None:
    """Its use is not written down; what is booked all the same is shown as not counted."""
    masks = Drawer(engine, "dust mask")
    masks.use("3")

    assert {"": ("not counted",)} == states(look(engine, masks.name))
    masks.count("0")
    assert {"": ("not counted",)} == states(look(engine, masks.name))
