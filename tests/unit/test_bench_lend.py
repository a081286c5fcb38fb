"""How long work takes, what openings take from the drawer, and which units can be ready to be lent."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction

import pytest

from collection.analysis.bench_calendar import Calendar
from collection.analysis.bench_drawer import Asks, Coming, Drawer, Shelf, Take, Usual, usual_amount
from collection.analysis.bench_lend import Candidate, Lending, Lent, LoanDays, Rank, loan_days
from collection.analysis.bench_minutes import Minutes, minutes_told
from collection.analysis.bench_plan import FULL, NO_DAY, UnitWork, Work
from collection.analysis.bench_words import amounts_words, minutes_words
from collection.analysis.needs import SheetAmount
from collection.analysis.stock_plan.given import AmountGiven
from collection.analysis.take_order import Lot

TODAY = date(2026, 3, 1)  # a Sunday
SATURDAY = date(2026, 3, 7)
SWAB, ALL = 8, frozenset[str]()
TWO_SWABS = Usual(1, SWAB, Fraction(2))


def asks(on: date = SATURDAY, procedure: int = 1) -> Asks:
    """Return an opening for one procedure."""
    return Asks(on, (procedure,), frozenset({"vx-5"}))


# --- minutes -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("services", "expected"), [(4, (10, 0)), (5, (20, 5))])
def test_past_services_tell_the_minutes_from_five_on(services: int, expected: tuple[int, int]) -> None:
    """With fewer the sheet does."""
    found = minutes_told({1: 10}, [(20, (1,))] * services)[1]
    assert expected == (found.minutes, found.services)


def test_a_service_of_several_procedures_gives_each_its_share() -> None:
    """By the sheets, 30 to 10; without a sheet for one of them it tells nothing, and 30 minutes are assumed."""
    found = minutes_told({1: 30, 2: 10, 3: None}, [(80, (1, 2))] * 5 + [(80, (1, 3))] * 5)
    assert {1: (60, 5, False), 2: (20, 5, False), 3: (30, 0, True)} == {key: tuple(each) for key, each in found.items()}
    assert Minutes(30, 0, assumed=True) == found[3]


@pytest.mark.parametrize(
    ("procedures", "says"),
    [
        ([1], "by the sheets"),
        ([2], "by the median of 5 past services of each procedure"),
        ([2, 3, 1], "by the median of 5 to 77 past services of each procedure, by the sheet where fewer than 5 tell"),
        ([2, None, 4], "by the median of 5 past services of each procedure; 30 assumed for a plain look, oil"),
    ],
)
def test_the_calendar_says_what_its_minutes_rest_on(procedures: list[int | None], says: str) -> None:
    """Of the procedures in it alone: their sheets, their past services, and what is assumed."""
    names = {1: "clean head", 2: "align head", 3: "dust out", 4: "oil", None: "a plain look"}
    told = {1: Minutes(10, 0, False), 2: Minutes(9, 5, False), 3: Minutes(8, 77, False), 4: Minutes(30, 0, True)}
    assert f"Minutes {says}." == minutes_words([(number, names[number]) for number in procedures], told)


# --- the drawer --------------------------------------------------------------------------------------------


def test_the_drawer_runs_down_from_opening_to_opening_and_says_what_is_short() -> None:
    """Three swabs serve one opening; the second is one short, and the third has none."""
    drawer = Drawer([TWO_SWABS], {SWAB: Shelf((Lot(1, 3),))})
    taken = [drawer.take(asks())[0] for _ in range(3)]

    assert [(0, 1), (1, 0), (2, 0)] == [(each.short, each.left) for each in taken]


@pytest.mark.parametrize(
    ("sheet", "chance", "learnt", "expected"),
    [
        (2, 1, None, (2, 0, True)),
        (2, 1, AmountGiven(2.0), (2, 0, True)),
        (2, 1, AmountGiven(2.0, uses=8, total=16.35), (2, 8, True)),  # 2.035 pieces are no third one
        (2, 1, AmountGiven(2.0, uses=8, total=26.0), (Fraction(3), 8, True)),
        (0, 1, AmountGiven(None, uses=4, total=10.0), (Fraction(5, 2), 4, True)),
        (0, 1, AmountGiven(None), (0, 0, False)),
        (1, Fraction(1, 4), None, (Fraction(1, 4), 0, True)),
        (1, Fraction(1, 4), AmountGiven(1.0, chance=0.25, times=6, taken=4), (Fraction(9, 16), 0, True)),
    ],
)
def test_an_opening_takes_what_uses_took_so_far_and_the_sheet_counts_as_two(
    sheet: int, chance: int | Fraction, learnt: AmountGiven | None, expected: tuple[int | Fraction, float, bool]
) -> None:
    """In tenths of a step; what is taken sometimes by how often it was; what nobody knows is said to be unknown."""
    found = usual_amount(SheetAmount(1, SWAB, sheet, Fraction(chance)), learnt)
    assert expected == (found.steps, found.uses, found.known)


def test_the_calendar_says_what_its_amounts_rest_on() -> None:
    """Of the procedures in it alone: uses with the sheets, the sheets, and what nobody knows."""
    done, names = [(1, "clean head"), (2, "oil"), (None, "look at it")], {SWAB: "foam swab", 9: "paste"}
    told = Usual(1, SWAB, Fraction(2), 8.0)
    by_sheet, unknown, other = (
        told._replace(uses=0.0),
        Usual(2, 9, Fraction(0), known=False),
        told._replace(procedure_id=3),
    )

    assert ["Amounts by the mean of 8 uses written down, each sheet counted as 2 more."] == amounts_words(
        done, [told, other], names
    )
    assert [
        "Amounts by the sheets: no use of them is written down yet.",
        "Not in it, since no sheet and no use tells how much: paste by oil.",
    ] == amounts_words(done, [by_sheet, unknown, other], names)
    assert [] == amounts_words(done, [other], names)


@pytest.mark.parametrize(("through", "short"), [(SATURDAY - timedelta(1), 2), (SATURDAY, 0)])
def test_a_lot_past_its_date_serves_nothing(through: date, short: int) -> None:
    """Its last day still counts."""
    assert short == Drawer([TWO_SWABS], {SWAB: Shelf((Lot(1, 9, through),))}).look(asks())[0].short


@pytest.mark.parametrize(("on", "coming"), [(SATURDAY, 2), (SATURDAY + timedelta(1), 0)])
def test_an_order_helps_from_the_day_on_which_it_is_expected(on: date, coming: int) -> None:
    """What it brings goes to the first that lacks it, and not to another once more."""
    drawer = Drawer([TWO_SWABS], {SWAB: Shelf((), (Coming(on, 2),))})

    assert [(2, coming), (2, 0)] == [(take.short, take.coming) for take in (drawer.take(asks())[0] for _ in range(2))]


def test_a_chance_is_summed_up_over_openings_and_models_are_kept_apart() -> None:
    """Two halves take one; what fits other models alone takes none; looking takes nothing."""
    half = Usual(1, SWAB, Fraction(1, 2))
    other = Usual(1, 9, Fraction(1), fits=frozenset({"dm 8"}))
    drawer = Drawer([half, other], {SWAB: Shelf((Lot(1, 5),)), 9: Shelf((Lot(2, 5),))})

    assert drawer.look(asks()) == drawer.take(asks()) == (Take(SWAB, 1, 0, 0, 4),)
    assert () == drawer.take(asks())


def test_a_supply_by_the_pack_is_short_only_where_nothing_is_left() -> None:
    """Nobody counts what is in a pack."""
    packs, none = (Drawer([TWO_SWABS], {SWAB: Shelf(lots, counted=False)}) for lots in ((Lot(1, 1),), ()))

    assert [0, 0] == [packs.take(asks())[0].short for _ in range(2)]
    assert 2 == none.take(asks())[0].short


# --- lending -----------------------------------------------------------------------------------------------


def candidate(tag: str, minutes: int = 0, due: date = SATURDAY, rank: Rank | None = None) -> Candidate:
    """Return a unit with one piece of work, or with none that is due before 2027."""
    work = Work(1, "clean head", due if minutes else date(2027, 1, 1), "months", ("why",), minutes)
    usual = Rank.NEEDS_WORK if minutes else Rank.READY
    return Candidate(UnitWork(int(tag[1:]), tag, (work,), TODAY), usual if rank is None else rank, ALL)


def lent(candidates: list[Candidate], wanted: int, by: date = date(2026, 3, 14), swabs: int = 99) -> Lent:
    """Return which units are chosen, with one bench day of 240 minutes before 14 March."""
    drawer = Drawer([TWO_SWABS], {SWAB: Shelf((Lot(1, swabs),))})
    return Lending(Calendar(TODAY, (5,), 240), drawer, TODAY, by, date(2026, 4, 11)).choose(candidates, wanted)


def tags(found: Lent) -> list[str]:
    """Return the units chosen, in their order."""
    return [each.candidate.unit.tag for each in found.chosen]


def test_units_that_are_ready_go_first_then_those_with_the_least_work() -> None:
    """A unit with a fault comes last, however little its work is said to be."""
    units = [candidate("D1", 60), candidate("D2", 5, rank=Rank.UNCERTAIN), candidate("D3", 30), candidate("D4")]

    assert ["D4", "D3", "D1", "D2"] == tags(lent(units, 4))
    assert ["D4", "D3"] == tags(lent(units, 2))


def test_a_unit_for_which_the_drawer_lacks_something_goes_after_the_others_and_says_so() -> None:
    """Two swabs serve one unit: another that needs none is not short of them."""
    found = lent([candidate("D1", 10), candidate("D2", 20), candidate("D3")], 3, swabs=2)

    assert [("D3", False), ("D1", False), ("D2", True)] == [
        (each.candidate.unit.tag, each.short) for each in found.chosen
    ]


def test_bench_days_before_the_day_of_lending_bound_what_can_be_ready() -> None:
    """The day itself is too late; what does not fit is named with its reason."""
    units = [candidate("D1", 200), candidate("D2", 200)]

    assert (["D1"], [FULL]) == (tags(lent(units, 2)), [why for _, why in lent(units, 2).missed])
    assert [NO_DAY, NO_DAY] == [why for _, why in lent(units, 2, by=SATURDAY).missed]


@pytest.mark.parametrize(("due", "opened"), [(date(2026, 4, 11), True), (date(2026, 4, 12), False)])
def test_what_comes_due_until_the_loan_is_over_is_done_before(due: date, opened: bool) -> None:
    """A day later it waits until the unit is back."""
    assert opened == (lent([candidate("D1", 10, due)], 1).chosen[0].opening is not None)


@pytest.mark.parametrize(("past", "expected"), [([7] * 4, LoanDays(28, 0)), ([7] * 4 + [90, 0], LoanDays(7, 5))])
def test_the_length_of_a_loan_is_the_median_of_past_ones_from_five_on(past: list[int], expected: LoanDays) -> None:
    """A loan of no day tells nothing."""
    assert expected == loan_days(past)
