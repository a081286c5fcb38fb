"""What to buy and by when, from the book: the states, the reasons, and what is said where something is missing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy.engine import Engine

from collection.acts.orders import confirm_order
from collection.analysis.stock_plan.found import FINE, ORDER_BY, ORDER_NOW, TOO_LATE, UNKNOWN, PlanFound
from collection.analysis.stock_plan.given import SupplyGiven
from collection.analysis.stock_plan.plan import plan_supply
from collection.errors import Refused
from collection.store.engine import reading
from collection.views.stock_groups import NOTHING, groups_of
from collection.views.stock_plan import stock_plan
from collection.views.stock_rows import StockList, StockRow
from tests.support.drawer import Drawer
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

SWAB = "foam swab, lint-free"
PATHS = 400


def planned(given: SupplyGiven) -> PlanFound:
    """Project with few paths: what is tested here is what goes in and what is said of it."""
    return plan_supply(replace(given, paths=PATHS))


def listed(engine: Engine, name: str | None = None) -> StockList:
    """Return what to buy on the test's day."""
    with reading(engine) as connection:
        return stock_plan(connection, TODAY, name, plan=planned)


def row_of(engine: Engine, name: str = SWAB) -> StockRow:
    """Return the row of one supply."""
    return listed(engine, name).rows[0]


def _says(row: StockRow, words: str) -> bool:
    return any(words in sentence for sentence in row.rests_on)


@pytest.fixture
def swabs(engine: Engine) -> Drawer:
    """Return the drawer of a book where D1 needs 2 swabs about day 100 and D2 about day 200 from today."""
    with shelf(engine) as made:
        for tag, days in (("D1", 100), ("D2", 200)):
            day = TODAY + timedelta(days)
            made.service(made.unit(tag), day.replace(year=day.year - 1).isoformat(), "clean head")
    return Drawer(engine, SWAB)


def test_an_empty_book_has_nothing_to_buy(engine: Engine) -> None:
    """No unit, no work, no row; every supply of the reference data is one that nothing needs."""
    found = listed(engine)
    assert ((), 0, ()) == (found.rows, found.no_history, found.loose)
    assert found.not_listed > 3


def test_without_a_supplier_it_is_a_shopping_list(swabs: Drawer) -> None:
    """How much keeps the promise, who waits for it, and what would help most; no day is made up."""
    row = row_of(swabs.engine)

    assert (UNKNOWN, None, None, None, None) == (row.state, row.order_by, row.packs, row.supplier, row.cost)
    assert row.planned is not None
    assert row.planned.mean < row.steps < 3 * row.planned.mean
    assert ["D1: clean head", "D2: clean head"] == [f"{job.tag}: {job.work}" for job in row.held_up]
    assert row.ask.startswith("an offer")


def test_what_overdue_work_needs_is_to_be_bought_now(engine: Engine) -> None:
    """Even without a supplier: the need is here."""
    with shelf(engine) as made:
        made.service(made.unit("D1"), "2024-01-01", "clean head")
    assert ORDER_NOW == row_of(engine).state


@pytest.mark.parametrize(
    ("lead", "state", "least", "most"), [(2, ORDER_BY, 55, 98), (30, ORDER_BY, 5, 70), (250, TOO_LATE, -800, -1)]
)
def test_the_day_to_order_by_leaves_time_for_the_order(
    swabs: Drawer, lead: int, state: str, least: int, most: int
) -> None:
    """Before the work about day 100, by the lead time and what is not known of both."""
    swabs.supplier(lead_days=lead)
    swabs.offer("10", "3.00")
    row = row_of(swabs.engine)

    assert state == row.state
    assert row.order_by is not None
    assert least <= (row.order_by - TODAY).days <= most
    assert 0 < (row.chance_short or 0) < 1
    assert row.supplier == "Nordlager"
    assert row.cost is not None


def test_enough_on_the_shelf_is_fine_whoever_offers_it(swabs: Drawer) -> None:
    """Nothing to buy, and still no chance of 0."""
    swabs.receive("90", "A")
    swabs.supplier(lead_days=14)
    swabs.offer("10", "3.00")
    row = row_of(swabs.engine)
    assert (FINE, 0, 0, None, None, ()) == (row.state, row.packs, row.steps, row.order_by, row.cost, row.held_up)
    assert 0 < (row.chance_short or 0) < 1 / PATHS


def test_no_history_at_all_is_not_fine(engine: Engine) -> None:
    """A supply that was received and never used: nobody knows, and a guess is asked for; told never, it is fine."""
    spare = Drawer(engine, "head lifter").add(kind="spare", measured_in="piece", step="1")
    spare.receive("2", "A")
    spare.supplier(lead_days=14)
    spare.offer("1", "9.00")
    row = row_of(engine, spare.name)
    assert (UNKNOWN, None) == (row.state, row.order_by)
    assert _says(row, "--guess-a-year")

    with shelf(engine) as made:
        made.work.update("supply", made.id_of("supply", spare.name, lambda: 0), guess_a_year=0.0)
    told = row_of(engine, spare.name)
    assert FINE == told.state
    assert _says(told, "as you said")


@pytest.mark.parametrize(("units", "told"), [(7, False), (8, True)])
def test_the_days_on_which_a_club_works_stand_for_those_to_come(engine: Engine, units: int, told: bool) -> None:
    """Eight units on one day of a year that is written down from its first month on; seven say nothing."""
    with shelf(engine) as made:
        made.service(made.unit("D0"), "2025-03-02", "clean head")
        for number in range(1, units):
            made.service(made.unit(f"D{number}"), "2025-06-14", "clean head")
    row = row_of(engine)
    assert _says(row, "the days of work of the past year stand for those to come") == told
    assert row.plan is not None
    assert [day.units for year in row.plan.given.work_days for day in year] == ([1, 7] if told else [])


def test_uses_that_come_together_are_told_and_more_are_expected_after_one(swabs: Drawer) -> None:
    """Three within days, half a year ago and again now: six pairs, two of them by chance, and four uses beside them."""
    swabs.receive("90", "A", on="2025-01-01")
    for days in (200, 199, 195, 5, 3, 2):
        swabs.use("1", on=(TODAY - timedelta(days)).isoformat())
    row = row_of(swabs.engine)
    assert _says(row, "they come together: about 4 more follow 10 such uses within a month")
    assert row.plan is not None
    assert row.plan.given.unplanned is not None
    assert 2 == row.plan.given.unplanned.last


def test_a_sheet_without_an_amount_is_asked_about_until_a_use_tells(engine: Engine) -> None:
    """However much there is, it is not fine: planned work takes what nobody knows. One weighed use tells."""
    paste = Drawer(engine, "head paste").add()
    paste.receive("500 g", "A")
    with shelf(engine) as made:
        day = TODAY + timedelta(100)
        service = made.service(made.unit("D1"), day.replace(year=day.year - 1).isoformat(), "clean head")
        made.work.insert(
            "amount", procedure_id=made.procedure("clean head"), steps=0, entered="0 g",
            supply_id=made.id_of("supply", paste.name, lambda: 0),
        )  # fmt: skip
    row = row_of(engine, paste.name)
    assert (UNKNOWN, None, 0, 'how much "clean head" takes') == (row.state, row.order_by, row.steps, row.ask)
    assert _says(row, 'no amount on the sheet of "clean head" and no use of it written down: what it takes is not in')
    assert row.planned is not None
    assert row.planned.mean == 0

    with shelf(engine) as made:
        made.work.append(
            "movement", kind="use", steps=-30, entered="3", entered_in="g", basis="measured", planned=1,
            used_past_date=0, occurred_on=day.replace(year=2025).isoformat(), service_id=service,
            supply_id=made.id_of("supply", paste.name, lambda: 0), procedure_id=made.procedure("clean head"),
        )  # fmt: skip
    told = row_of(engine, paste.name)
    assert FINE == told.state
    assert _says(told, "clean head: 1 use written down, none on its sheet")


def test_without_a_lead_time_no_day_is_made_up(swabs: Drawer) -> None:
    """It would help most to know how many days an order takes."""
    swabs.supplier()
    swabs.offer("10", "3.00")
    row = row_of(swabs.engine)
    assert (UNKNOWN, None, None, "the lead time in days") == (row.state, row.order_by, row.supplier, row.ask)
    assert _says(row, 'no lead time of "Nordlager"')


def test_a_book_below_zero_asks_for_a_count_and_plans_from_nothing(swabs: Drawer) -> None:
    """Missing entries do not make the need greater."""
    swabs.use("5")
    row = row_of(swabs.engine)
    assert 0 == row.on_hand
    assert "a count: entries are missing" == row.ask
    assert _says(row, "the book is below zero")
    assert _says(row, "1 use is of more than the book had: the amount teaches nothing until a count")
    swabs.count("20")
    assert not _says(row_of(swabs.engine), "more than the book had: the amount")


def test_an_order_overdue_for_months_is_not_counted(swabs: Drawer) -> None:
    """One under way is, with its expected day; one that no lead time explains is asked about."""
    swabs.supplier(lead_days=14)
    swabs.offer("10", "3.00")
    swabs.order(9, "P1", on=(TODAY - timedelta(5)).isoformat())
    assert FINE == row_of(swabs.engine).state
    assert _says(row_of(swabs.engine), f"expected {TODAY + timedelta(9)}")

    swabs.order(9, "P0", on=(TODAY - timedelta(240)).isoformat())
    row = row_of(swabs.engine)
    assert row.plan is not None
    assert [True, False] == [order.overdue for order in row.plan.orders]
    assert _says(row, "long overdue: not counted, ask the supplier")


def test_what_is_needed_before_an_order_under_way_comes_is_not_ordered_again(swabs: Drawer) -> None:
    """Work long overdue is held up; what is under way is enough for the rest, so there is nothing to buy."""
    swabs.supplier(lead_days=30)
    swabs.offer("50", "3.00")
    swabs.order(3, "P1", on=(TODAY - timedelta(2)).isoformat())
    with shelf(swabs.engine) as made:
        made.service(made.unit("D3"), "2024-06-01", "clean head")
    row = row_of(swabs.engine)
    assert (TOO_LATE, 0, 0, None, None) == (row.state, row.packs, row.steps, row.order_by, row.cost)
    assert "D3" in [job.tag for job in row.held_up]
    assert [NOTHING] == [group.what for group in groups_of(listed(swabs.engine, SWAB))]


def test_a_day_that_the_supplier_named_counts(swabs: Drawer) -> None:
    """An order without any lead time comes when it was promised, and is not counted before."""
    swabs.supplier()
    swabs.offer("100", "3.00")
    swabs.order(1, "P1", on=TODAY.isoformat())
    assert _says(row_of(swabs.engine), "no lead time, so nobody knows when it comes")
    confirm_order(swabs.engine, "P1", (TODAY + timedelta(20)).isoformat(), today=TODAY, now=NOW)
    row = row_of(swabs.engine)
    assert row.plan is not None
    assert [(TODAY + timedelta(20), True)] == [(order.expected, order.counted) for order in row.plan.orders]
    assert FINE == row.state


def test_two_counts_of_one_day_that_differ_are_said(swabs: Drawer) -> None:
    """The later entry holds."""
    swabs.receive("20", "A")
    for number in ("18", "12"):
        swabs.count(number)
    assert _says(row_of(swabs.engine), "counted as 18 pieces and as 12 pieces on")


@pytest.mark.parametrize(("days", "counted"), [(-1, 0), (0, 9), (1, 9)])
def test_stock_past_its_date_is_said_and_not_counted(swabs: Drawer, days: int, counted: int) -> None:
    """Its last usable day is a day on which it is there."""
    swabs.receive("9", "A", expires_on=(TODAY + timedelta(days)).isoformat())
    row = row_of(swabs.engine)
    assert counted == row.on_hand
    assert _says(row, "past its date: not counted") == (days < 0)


def test_the_books_own_currency_goes_before_any_other(swabs: Drawer) -> None:
    """No rate is known between two; an offer in another currency is better than none, and says so."""
    swabs.supplier(lead_days=14)
    swabs.offer("50", "1.00", currency="AUD")
    abroad = row_of(swabs.engine)
    swabs.offer("40", "9.00")
    at_home = row_of(swabs.engine)
    assert ("AUD", "EUR") == tuple(row.cost.currency for row in (abroad, at_home) if row.cost is not None)
    assert _says(abroad, "offered in AUD only")


@pytest.mark.parametrize(("standing", "works"), [("ready", 2), ("away", 2), ("missing", 1), ("gone", 1), ("donor", 1)])
def test_units_that_are_missing_gone_or_a_donor_need_nothing(swabs: Drawer, standing: str, works: int) -> None:
    """A unit that is away is worked on at its day."""
    with shelf(swabs.engine) as made:
        made.standing(1, standing, "2026-01-01")
    row = row_of(swabs.engine)
    assert row.plan is not None
    assert works == len({job.tag for job in row.plan.jobs})


def test_a_unit_on_loan_needs_nothing_before_it_is_back(swabs: Drawer) -> None:
    """Its work waits for the day that it is due back."""
    back = TODAY + timedelta(300)
    with shelf(swabs.engine) as made:
        made.lend(1, "2026-01-01", back.isoformat())
    row = row_of(swabs.engine)
    assert row.plan is not None
    assert back <= min(job.on for job in row.plan.jobs if job.tag == "D1")


def test_a_supply_tracked_by_the_pack_is_bought_when_the_last_one_is_opened(engine: Engine) -> None:
    """Two packs, one opened: fine; both opened: order one now; one on order: fine again."""
    tags = Drawer(engine, "tag, tie-on")
    tags.supplier(lead_days=14)
    tags.offer("100", "3.00")
    tags.receive("2 packs", "T")
    states = []
    for step in (tags.open, tags.open, lambda: tags.order(1)):
        step()
        states.append((row_of(engine, tags.name).state, row_of(engine, tags.name).packs))
    assert [(FINE, 0), (ORDER_NOW, 1), (FINE, 0)] == states


def test_a_supply_that_is_not_tracked_is_never_on_the_list(engine: Engine) -> None:
    """Asked for, the row says why."""
    with shelf(engine) as made:
        made.service(made.unit("D1"), "2025-06-01", "dust out")
    assert "dust mask" not in [row.supply.name for row in listed(engine).rows]
    assert ("not tracked: it is never on the list",) == row_of(engine, "dust mask").rests_on
    with pytest.raises(Refused, match='There is no supply "swob"'):
        listed(engine, "swob")


def test_the_sum_can_be_followed_by_hand(swabs: Drawer) -> None:
    """What is there, less what is expected, day by day, and what an order must bring."""
    swabs.receive("3", "A")
    row = row_of(swabs.engine)
    assert row.plan is not None
    left = 3
    for line in row.plan.netting.rows:
        left = max(0, left + line.arrivals + line.net - line.gross - line.expired)
        assert line.on_hand == left
    assert row.needed_by == next(line.on for line in row.plan.netting.rows if line.net)


def test_the_same_book_on_the_same_day_is_given_the_same(swabs: Drawer) -> None:
    """To the last bit; another day has other days and the same random numbers."""
    swabs.receive("30", "A")

    def given(day: date = TODAY) -> SupplyGiven:
        with reading(swabs.engine) as connection:
            row = stock_plan(connection, day, SWAB, plan=planned).rows[0]
        assert row.plan is not None
        return row.plan.given

    once = given()
    assert once == given()
    assert once != given(TODAY + timedelta(1))
    swabs.use("1")
    assert once.seed == given().seed == given(TODAY + timedelta(1)).seed
    assert 0 == given().quiet
    assert 1 == given(TODAY + timedelta(1)).quiet
