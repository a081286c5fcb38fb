"""What to buy and by when, from due work, drawer, orders and lead times, on both databases."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy.engine import Engine

from collection.analysis.netting import FINE, ORDER_BY, ORDER_NOW, TOO_LATE, UNKNOWN
from collection.errors import Refused
from collection.store.engine import reading
from collection.views.reorder import Reorder, ReorderRow, reorder
from tests.support.drawer import Drawer
from tests.support.shelf import shelf
from tests.support.times import TODAY

SWAB = "foam swab, lint-free"


def plan(engine: Engine, name: str | None = None, within: int = 365) -> Reorder:
    """Return what to buy on the test's day."""
    with reading(engine) as connection:
        return reorder(connection, TODAY, within, name)


def row_of(engine: Engine, name: str = SWAB, within: int = 365) -> ReorderRow:
    """Return the row of one supply."""
    return plan(engine, name, within).rows[0]


@pytest.fixture
def swabs(engine: Engine) -> Drawer:
    """Return the drawer of a book where D1 needs 2 swabs on day 100 and D2 on day 200 from today."""
    with shelf(engine) as made:
        for tag, days in (("D1", 100), ("D2", 200)):
            made.service(made.unit(tag), _a_year_before(TODAY + timedelta(days)), "clean head")
    return Drawer(engine, SWAB)


def _a_year_before(day: date) -> str:
    return day.replace(year=day.year - 1).isoformat()


def test_an_empty_book_has_nothing_to_buy(engine: Engine) -> None:
    """No unit, no work, no row."""
    assert ((), 0) == (plan(engine).rows, plan(engine).no_history)


def test_without_a_supplier_it_is_a_shopping_list(swabs: Drawer) -> None:
    """How much, by when it is needed, and who waits for it; no day to order by is made up."""
    row = row_of(swabs.engine)

    assert (UNKNOWN, None, TODAY + timedelta(100), None, 4) == (
        row.state,
        row.order_by,
        row.needed_by,
        row.packs,
        row.steps,
    )
    assert ["D1: clean head", "D2: clean head"] == [need.why for need in row.held_up]
    assert (None, None) == (row.supplier, row.cost)
    assert "nobody offers it: with an offer there would be packs, a price and a day to order by" in row.rests_on


def test_what_overdue_work_needs_is_to_be_bought_now(engine: Engine) -> None:
    """Even without a supplier: the need is today."""
    with shelf(engine) as made:
        made.service(made.unit("D1"), "2024-01-01", "clean head")

    assert ORDER_NOW == row_of(engine).state


@pytest.mark.parametrize(
    ("lead", "state", "order_by"),
    [
        (0, ORDER_BY, 100),
        (99, ORDER_BY, 1),
        (100, ORDER_NOW, 0),
        (101, TOO_LATE, -1),
    ],
)
def test_the_day_to_order_by_is_the_first_short_day_less_the_lead_time(
    swabs: Drawer, lead: int, state: str, order_by: int
) -> None:
    """An order that arrives on the day itself is in time; a day later it is not."""
    swabs.supplier(lead_days=lead)
    swabs.offer("50", "6.00")
    row = row_of(swabs.engine)

    assert (state, TODAY + timedelta(order_by)) == (row.state, row.order_by)
    assert (["D1: clean head"] if state == TOO_LATE else []) == [need.why for need in row.too_late]


def test_a_lead_time_of_the_offer_goes_before_the_suppliers(swabs: Drawer) -> None:
    """An offer may take longer than the supplier usually does."""
    swabs.supplier(lead_days=14)
    swabs.offer("50", "6.00", lead_days=30)

    assert TODAY + timedelta(70) == row_of(swabs.engine).order_by


@pytest.mark.parametrize(("pack", "packs"), [("3", 2), ("4", 1), ("5", 1), ("1", 4)])
def test_whole_packs_are_bought(swabs: Drawer, pack: str, packs: int) -> None:
    """Four pieces are needed: packs above, at and below that, with their price and one shipping."""
    swabs.supplier(lead_days=14, shipping="4.50")
    swabs.offer(pack, "6.00")
    row = row_of(swabs.engine)

    assert (packs, packs * int(pack), 600 * packs + 450) == (row.packs, row.steps, row.cost.minor if row.cost else 0)


def test_the_cheapest_way_to_cover_the_need_is_offered(swabs: Drawer) -> None:
    """A break at which more costs less is taken, a minimum is kept, another currency is left out."""
    swabs.supplier("Nordlager", lead_days=14)
    swabs.supplier("Sudhaus", lead_days=7)
    swabs.offer("1", "3.00", "Nordlager")
    swabs.offer("1", "1.00", "Nordlager", from_packs=10)
    swabs.offer("1", "2.00", "Sudhaus", minimum_packs=6)
    swabs.offer("1", "0.01", "Sudhaus", currency="USD")
    row = row_of(swabs.engine)

    assert ("Nordlager", 10, "10.00") == (row.supplier, row.packs, row.cost.text if row.cost else "")


def test_an_offer_in_another_currency_is_better_than_none(swabs: Drawer) -> None:
    """It is named with its own currency."""
    swabs.supplier(lead_days=14)
    swabs.offer("50", "6.00", currency="USD")
    row = row_of(swabs.engine)

    assert "USD" == (row.cost.currency if row.cost else "")
    assert "offered in USD only" in row.rests_on


@pytest.mark.parametrize(("held", "needed_by", "steps"), [("1", 100, 3), ("2", 200, 2), ("3", 200, 1), ("4", None, 0)])
def test_what_is_on_hand_comes_off(swabs: Drawer, held: str, needed_by: int | None, steps: int) -> None:
    """Below, at and above each need: the first short day moves, and with all of it there is nothing to buy."""
    swabs.receive(held, "A")
    row = row_of(swabs.engine)

    assert (None if needed_by is None else TODAY + timedelta(needed_by), steps) == (row.needed_by, row.steps)
    assert (FINE == row.state) == (needed_by is None)


@pytest.mark.parametrize(("days", "short"), [(99, True), (100, False)])
def test_stock_that_passes_its_date_before_the_work_does_not_count(swabs: Drawer, days: int, short: bool) -> None:
    """Usable on the day of the work itself: it serves it; a day less: it does not."""
    swabs.receive("2", "A", expires_on=(TODAY + timedelta(days)).isoformat())
    row = row_of(swabs.engine)

    assert short == (row.needed_by == TODAY + timedelta(100))
    assert short == ("2 pieces will pass its date before it is needed" in row.rests_on)


def test_stock_past_its_date_is_said_and_not_counted(swabs: Drawer) -> None:
    """Expired stock is not stock."""
    swabs.receive("9", "A", expires_on="2026-02")
    row = row_of(swabs.engine)

    assert (0, 4) == (row.on_hand, row.steps)
    assert "9 pieces past its date: not counted" in row.rests_on


def test_a_book_below_zero_asks_for_a_count_and_plans_from_nothing(swabs: Drawer) -> None:
    """Missing entries do not make the need greater."""
    swabs.use("5")
    row = row_of(swabs.engine)

    assert (0, 4) == (row.on_hand, row.steps)
    assert "the book is below zero: entries are missing, please count" in row.rests_on


def test_the_books_own_currency_goes_before_any_other(swabs: Drawer) -> None:
    """A code that comes before it in the alphabet, or a lower number, does not: no rate is known."""
    swabs.supplier(lead_days=14)
    swabs.offer("50", "6.00", currency="AUD")
    swabs.offer("50", "9.00")
    row = row_of(swabs.engine)

    assert "9.00 EUR" == (f"{row.cost.text} {row.cost.currency}" if row.cost else "")


@pytest.mark.parametrize(("currency", "cost"), [("EUR", "10.50"), ("USD", "6.00")])
def test_shipping_is_added_only_in_its_own_currency(swabs: Drawer, currency: str, cost: str) -> None:
    """4.50 EUR and 6.00 USD make no sum."""
    swabs.supplier(lead_days=14, shipping="4.50", currency="EUR")
    swabs.offer("50", "6.00", currency=currency)
    row = row_of(swabs.engine)

    assert cost == (row.cost.text if row.cost else "")


# --- orders under way --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("days_ago", "needed_by", "words"),
    [
        (14, None, "1 pack, expected 2026-03-01"),
        (15, 100, "1 pack, expected 2026-02-28 and overdue: not counted, ask the supplier"),
    ],
)
def test_an_order_counts_until_it_is_overdue(swabs: Drawer, days_ago: int, needed_by: int | None, words: str) -> None:
    """Expected today it is on its way; expected yesterday nobody knows, and it is never on hand."""
    swabs.supplier(lead_days=14)
    swabs.offer("50", "6.00")
    swabs.order(1, on=(TODAY - timedelta(days_ago)).isoformat())
    row = row_of(swabs.engine)

    assert (None if needed_by is None else TODAY + timedelta(needed_by)) == row.needed_by
    assert (0, 50) == (row.on_hand, row.on_order)
    assert any(sentence.endswith(words) for sentence in row.rests_on)


def test_an_order_is_expected_after_the_longest_of_its_lead_times(swabs: Drawer) -> None:
    """Of several offers nobody noted which one was ordered."""
    swabs.supplier(lead_days=3)
    swabs.offer("50", "6.00", lead_days=10)
    swabs.offer("50", "5.00", from_packs=4, lead_days=20)
    swabs.order(1, on="2026-02-20")

    assert any(sentence.endswith("expected 2026-03-12") for sentence in row_of(swabs.engine).rests_on)


def test_an_order_without_a_lead_time_is_said_and_not_counted(swabs: Drawer) -> None:
    """Nobody knows when it comes, so no day is made up."""
    swabs.supplier()
    swabs.offer("50", "6.00")
    swabs.order(1)
    row = row_of(swabs.engine)

    assert UNKNOWN == row.state
    assert any("not counted: no lead time" in sentence for sentence in row.rests_on)
    assert any("it would help most to know how many days an order takes" in sentence for sentence in row.rests_on)


def test_what_arrived_is_no_longer_on_order(swabs: Drawer) -> None:
    """One of two packs is booked in: 50 on hand, 50 still to come."""
    swabs.supplier(lead_days=14)
    swabs.offer("50", "6.00")
    swabs.order(2)
    swabs.receive("1 pack", order="P1")
    row = row_of(swabs.engine)

    assert (50, 50) == (row.on_hand, row.on_order)


# --- which work counts -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("within", "needed"), [(99, 0), (100, 2), (199, 2), (200, 4), (465, 6)])
def test_work_counts_within_the_time_ahead_and_comes_again(swabs: Drawer, within: int, needed: int) -> None:
    """On the last day it counts; the heads of D1 are cleaned again a year after."""
    assert needed == row_of(swabs.engine, within=within).needed


@pytest.mark.parametrize(("standing", "needed"), [("ready", 4), ("away", 4), ("missing", 2), ("gone", 2), ("donor", 2)])
def test_units_that_are_missing_gone_or_a_donor_need_nothing(swabs: Drawer, standing: str, needed: int) -> None:
    """A unit that is away is worked on at its day."""
    with shelf(swabs.engine) as made:
        made.standing(1, standing, "2026-01-01")

    assert needed == row_of(swabs.engine).needed


@pytest.mark.parametrize(("due_on", "first"), [(99, 100), (100, 100), (101, 101)])
def test_a_unit_on_loan_needs_nothing_before_it_is_back(swabs: Drawer, due_on: int, first: int) -> None:
    """The loan's end before, on and after the day of the work."""
    with shelf(swabs.engine) as made:
        made.lend(1, "2026-01-01", (TODAY + timedelta(due_on)).isoformat())

    assert TODAY + timedelta(first) == row_of(swabs.engine).needed_by


def test_an_amount_taken_sometimes_counts_as_expected(engine: Engine) -> None:
    """Aligning takes a swab one time in two: three alignments take two."""
    with shelf(engine) as made:
        for tag in ("D1", "D2", "D3"):
            unit = made.unit(tag)
            made.work.append(
                "baseline", unit_id=unit, procedure_id=made.procedure("align head"), first_due="2026-05-01"
            )

    assert 2 == row_of(engine).needed


def test_units_without_history_are_counted(engine: Engine) -> None:
    """Nobody knows what they will take."""
    with shelf(engine) as made:
        made.unit("D1", standing="in use")

    assert 1 == plan(engine).no_history


# --- packs, and supplies that are not tracked --------------------------------------------------------------


def test_a_supply_tracked_by_the_pack_is_bought_when_the_last_one_is_opened(engine: Engine) -> None:
    """Two packs, one opened: fine; both opened: order one now; one on order: fine again."""
    tags = Drawer(engine, "tag, tie-on")
    tags.supplier(lead_days=14)
    tags.offer("100", "3.00")
    tags.receive("2 packs", "T")
    tags.open()
    first = row_of(engine, tags.name)
    tags.open()
    second = row_of(engine, tags.name)
    tags.order(1)
    third = row_of(engine, tags.name)

    assert [(FINE, 0), (ORDER_NOW, 1), (FINE, 0)] == [(row.state, row.packs) for row in (first, second, third)]
    assert (100, "3.00") == (second.steps, second.cost.text if second.cost else "")
    assert "tracked by the pack: 0 unopened, 2 opened; bought when the last one is opened" == second.rests_on[0]


def test_a_supply_that_is_not_tracked_is_never_on_the_list(engine: Engine) -> None:
    """Dust masks are needed by work that is due and are not listed; asked for, the row says why."""
    with shelf(engine) as made:
        made.service(made.unit("D1"), "2025-06-01", "dust out")

    assert "dust mask" not in [row.supply.name for row in plan(engine).rows]
    assert (FINE, ("not tracked: it is never on the list",)) == (
        row_of(engine, "dust mask").state,
        row_of(engine, "dust mask").rests_on,
    )


def test_the_most_urgent_stands_first(swabs: Drawer) -> None:
    """Too late, now, by a day, do not know, fine; then by day, then by name."""
    swabs.supplier(lead_days=14)
    swabs.offer("50", "6.00")
    alcohol = Drawer(swabs.engine, "isopropyl alcohol 99 %")
    alcohol.offer("100", "5.00", lead_days=200)
    with shelf(swabs.engine) as made:
        made.service(made.unit("D3"), _a_year_before(TODAY + timedelta(120)), "clean and re-lube rails")
    Drawer(swabs.engine, "lint-free cloth").receive("5", "A")

    assert [
        ("isopropyl alcohol 99 %", TOO_LATE),
        (SWAB, ORDER_BY),
        ("rail grease, lithium NLGI 2", UNKNOWN),
        ("lint-free cloth", FINE),
    ] == [(row.supply.name, row.state) for row in plan(swabs.engine).rows]


def test_an_unknown_supply_and_an_endless_time_are_refused(engine: Engine) -> None:
    """In words, as everywhere."""
    with pytest.raises(Refused, match='There is no supply "swob"'):
        plan(engine, "swob")
    with pytest.raises(Refused, match="days ahead is outside 0 to"):
        plan(engine, within=40_000)


def test_the_sum_can_be_followed_by_hand(swabs: Drawer) -> None:
    """3 there; 2 needed on day 100 leave 1; 2 on day 200 are 1 short, which an order must bring."""
    swabs.receive("3", "A")
    netting = row_of(swabs.engine).netting

    assert netting is not None
    assert [(0, 0, 0, 3), (100, 2, 0, 1), (200, 2, 1, 0)] == [
        ((line.on - TODAY).days, line.gross, line.net, line.on_hand) for line in netting.rows
    ]
