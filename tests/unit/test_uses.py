"""What the ledger teaches about use: amounts, events that nobody planned, drying."""

from __future__ import annotations

from dataclasses import astuple, replace
from datetime import date
from math import sqrt
from typing import Any

import pytest
from scipy import stats

from collection.analysis.stock_plan.given import AmountGiven, UnplannedGiven
from collection.analysis.use_amounts import Seen, Spread, pooled, spread_of
from collection.analysis.use_occasions import LedgerRow, SheetLine
from collection.analysis.use_rates import (
    BOOK,
    CLASS,
    NEVER,
    NO_PRIOR,
    SAID,
    Rate,
    Watched,
    class_prior,
    unplanned_given,
)
from collection.analysis.uses import ServiceDone, SupplyLearnt, SupplyLedger, learn

TODAY = date(2026, 3, 1)
CLEAN, SWAP, OIL = 1, 2, 3  # a schedule brings CLEAN and OIL; SWAP comes by a symptom alone
FORESEEN = frozenset({CLEAN, OIL})
LOT = 7


class Ledger:
    """Rows of one supply, numbered as they are booked."""

    def __init__(self) -> None:
        self.rows: list[LedgerRow] = []
        self.services: dict[int, ServiceDone] = {}

    def add(self, kind: str, steps: int, on: str, **more: Any) -> Ledger:
        """Book one row on the lot."""
        number = len(self.rows) + 1
        usual = dict.fromkeys(("place", "basis", "planned", "service", "procedure", "unit", "group"))
        values = {"lot": LOT, **usual, **more}
        self.rows.append(LedgerRow(id=number, supply=1, kind=kind, steps=steps, on=on, **values))
        return self

    def serve(self, on: str, *procedures: int, unit: int = 1) -> int:
        """Note a service; returns its id."""
        number = len(self.services) + 1
        self.services[number] = ServiceDone(on, unit, frozenset(procedures))
        return number

    def used(self, steps: int, on: str, procedure: int = CLEAN, basis: str = "measured", planned: int = 1) -> Ledger:
        """Book a use in a service of one procedure."""
        service = self.serve(on, procedure)
        told = {"basis": basis, "planned": planned, "service": service, "procedure": procedure, "unit": 1}
        return self.add("use", -steps, on, **told)

    def mark_beyond(self) -> None:
        """Mark the last row as more than the book had."""
        self.rows[-1] = self.rows[-1]._replace(beyond=1)

    def given(self, sheets: dict[int, SheetLine] | None = None) -> SupplyLedger:
        """Return it as it is read; one unit has been here since 2020."""
        return SupplyLedger(
            rows=sorted(self.rows, key=lambda row: (row.on, row.id)),
            sheets={CLEAN: SheetLine(30, 1.0)} if sheets is None else sheets,
            fits=None,
            piece=0,
            class_name="fluids",
            guess=None,
            written_since=None,
            stays=((date(2020, 1, 1), None),),
        )

    def learnt(self, sheets: dict[int, SheetLine] | None = None, **more: Any) -> SupplyLearnt:
        """Return what it teaches."""
        return learn({1: replace(self.given(sheets), **more)}, self.services, FORESEEN, TODAY)[1]


def weighed(learnt: SupplyLearnt, key: int | None = CLEAN) -> tuple[float, float]:
    """Return uses and total of an amount."""
    amount = learnt.amounts[key]
    return amount.uses, amount.total


def events(learnt: SupplyLearnt) -> int:
    """Return how many events nobody planned."""
    assert learnt.unplanned is not None
    return learnt.unplanned.events


def test_what_was_weighed_teaches_and_what_was_booked_by_the_sheet_does_not() -> None:
    """Two uses weighed 25 and 45 steps; five by the sheet add no use and no amount, but are told as facts."""
    ledger = Ledger().add("receive", 900, "2025-01-01").used(25, "2025-02-01").used(45, "2025-03-01")
    for month in range(4, 9):
        ledger.used(30, f"2025-0{month}-01", basis="sheet")
    learnt = ledger.learnt()
    assert weighed(learnt) == (2.0, 70.0)
    assert (learnt.rests_on.measured, learnt.rests_on.by_sheet, learnt.rests_on.from_counts) == (2, 5, 0)


def test_a_use_out_of_two_lots_is_one_use() -> None:
    """Both rows of the procedure in the service make one amount of 40 steps."""
    ledger = Ledger().add("receive", 10, "2025-01-01").used(10, "2025-02-01")
    told = {"basis": "measured", "planned": 1, "service": 1, "procedure": CLEAN, "unit": 1}
    ledger.add("use", -30, "2025-02-01", lot=8, **told)
    assert weighed(ledger.learnt()) == (1.0, 40.0)


def test_a_count_spreads_what_went_over_the_uses_since_the_count_before() -> None:
    """Counted 400 then 300: two uses of 30 by the sheet and one weighed of 20 stand between, so the two took 80."""
    ledger = Ledger().add("count", 400, "2025-01-01")
    ledger.used(30, "2025-02-01", basis="sheet").used(20, "2025-03-01").used(30, "2025-04-01", basis="sheet")
    learnt = ledger.add("count", 300, "2025-05-01").learnt()
    assert weighed(learnt) == (3.0, 100.0)
    assert learnt.rests_on.from_counts == 2
    assert learnt.counted_on == "2025-05-01"


def test_a_first_count_of_what_nobody_knew_teaches_nothing() -> None:
    """An opening balance is no difference: the uses before it stay by the sheet."""
    ledger = Ledger().used(30, "2025-02-01", basis="sheet").add("count", 300, "2025-05-01")
    assert weighed(ledger.learnt()) == (0, 0)


def test_two_procedures_share_what_a_count_found_as_their_sheets_have_it() -> None:
    """30 and 60 by their sheets really took 120: 40 and 80."""
    ledger = Ledger().add("receive", 500, "2025-01-01").used(30, "2025-02-01", basis="sheet")
    ledger.used(60, "2025-02-02", OIL, basis="sheet").add("count", 380, "2025-03-01")
    learnt = ledger.learnt({CLEAN: SheetLine(30, 1.0), OIL: SheetLine(60, 1.0)})
    assert weighed(learnt, CLEAN) == pytest.approx((1.0, 40))
    assert weighed(learnt, OIL) == pytest.approx((1.0, 80))


def test_a_use_in_planned_work_never_feeds_the_rate_of_events() -> None:
    """Planned work, weighed or by the sheet, is no event; the same use outside any work is one."""
    ledger = Ledger().add("receive", 500, "2025-01-01").used(30, "2025-02-01").used(30, "2025-03-01", basis="sheet")
    assert events(ledger.learnt()) == 0
    learnt = ledger.add("use", -12, "2025-04-01", basis="measured", planned=0).learnt()
    assert events(learnt) == 1
    assert weighed(learnt, None) == (1.0, 12.0)
    assert weighed(learnt) == (1.0, 30.0)


def test_work_that_no_schedule_brings_is_an_event_though_its_sheet_has_the_supply() -> None:
    """A procedure that comes by a symptom alone is expected by nobody: without the rate its use would be forgotten."""
    ledger = Ledger().add("receive", 500, "2025-01-01").used(20, "2025-02-01", SWAP)
    learnt = ledger.learnt({SWAP: SheetLine(30, 1.0)})
    assert events(learnt) == 1
    assert weighed(learnt, SWAP) == weighed(learnt, None) == (1.0, 20.0)


def test_stock_that_was_missing_is_demand() -> None:
    """Of 50 weighed only 20 were there: the use took 50. With nothing there at all, the amount asked for counts."""
    ledger = Ledger().add("receive", 20, "2025-01-01").used(20, "2025-02-01")
    ledger.add("short", 30, "2025-02-01", lot=None, service=1, procedure=CLEAN, unit=1)
    assert weighed(ledger.learnt()) == (1.0, 50.0)
    ledger.serve("2025-03-01", CLEAN)
    learnt = ledger.add("short", 41, "2025-03-01", lot=None, service=2, procedure=CLEAN, unit=1).learnt()
    assert weighed(learnt) == (2.0, 91.0)
    assert events(learnt) == 0


def test_a_use_of_more_than_the_book_had_teaches_no_amount_until_a_count() -> None:
    """500 typed for 50 would make every service look huge; it stays a use. A count before it is none after it."""
    ledger = Ledger().add("receive", 40, "2025-01-01").add("count", 40, "2025-02-01").used(30, "2025-02-01")
    ledger.used(500, "2025-03-01").mark_beyond()
    ledger.add("use", -90, "2025-03-02", basis="measured", planned=0).mark_beyond()
    learnt = ledger.learnt()
    assert (weighed(learnt), events(learnt), weighed(learnt, None)) == ((1.0, 30.0), 1, (0, 0))
    assert (learnt.rests_on.measured, learnt.rests_on.doubtful, learnt.rests_on.by_sheet) == (1, 2, 0)
    assert learnt.amounts[None].sheet == 30
    assert ledger.learnt({}).amounts[None].sheet == 90  # nothing else tells

    counted = ledger.add("count", 0, "2025-03-02").learnt()
    assert (weighed(counted), weighed(counted, None)) == ((2.0, 530.0), (1.0, 90.0))
    assert counted.rests_on.doubtful == 0


def test_a_short_row_of_just_the_sheets_amount_teaches_no_amount() -> None:
    """Nobody weighed it: it is what the sheet asked for."""
    ledger = Ledger()
    ledger.serve("2025-03-01", CLEAN)
    learnt = ledger.add("short", 30, "2025-03-01", lot=None, service=1, procedure=CLEAN, unit=1).learnt()
    assert weighed(learnt) == (0, 0)
    assert learnt.rests_on.by_sheet == 1


def test_uses_known_only_to_their_year_are_events_and_say_nothing_of_what_came_together() -> None:
    """Three of one year were not on its first day; three of one day were on that day."""
    found = []
    for on in ("2024", "2024-05-03"):
        ledger = Ledger().add("receive", 500, "2021-01-01")
        for _ in range(3):
            ledger.add("use", -12, on, basis="measured", planned=0)
        found.append(ledger.learnt().unplanned)
    assert [each.events for each in found if each] == [3, 3]
    assert [each.follows > 0 for each in found if each] == [False, True]


@pytest.mark.parametrize(("written_since", "expected"), [("2025-02-02", 0), ("2025-02-01", 1), ("2025-01-31", 1)])
def test_months_before_records_began_are_no_exposure_and_their_events_no_events(
    written_since: str, expected: int
) -> None:
    """The event of 1 February counts if uses are written down since that day, and so do the days since then."""
    ledger = Ledger().add("receive", 500, "2024-01-01").add("use", -12, "2025-02-01", basis="measured", planned=0)
    since = date.fromisoformat(written_since)
    learnt = ledger.learnt(written_since=since)
    assert events(learnt) == expected
    assert learnt.unplanned is not None
    assert learnt.unplanned.exposure == pytest.approx((TODAY - since).days / 30.4375)


def test_exposure_counts_each_unit_from_the_day_it_came_to_the_day_it_left() -> None:
    """Records since 1 Jan 2025: one unit all along, one that came on 1 Feb 2026, one gone on 31 Jan 2025."""
    stays = (
        (date(2020, 1, 1), None),
        (date(2026, 2, 1), None),
        (date(2024, 1, 1), date(2025, 1, 31)),
    )
    learnt = Ledger().add("receive", 500, "2025-01-01").learnt(stays=stays)
    assert learnt.unplanned is not None
    assert learnt.unplanned.exposure == pytest.approx((424 + 28 + 30) / 30.4375)
    assert learnt.unplanned.a_month == 2


def test_a_history_without_any_use_is_a_small_rate_and_not_zero() -> None:
    """No event in 14 months: half an event in those unit-months (Jeffreys), and no prior that is made up."""
    learnt = Ledger().add("receive", 500, "2025-01-01").learnt()
    assert learnt.unplanned == UnplannedGiven(0, 424 / 30.4375, 0.5, 0.0, 1.0, 0)
    assert learnt.rests_on.prior == NO_PRIOR


@pytest.mark.parametrize(("days", "tells"), [(29, False), (30, True), (31, True)])
def test_a_supply_watched_for_less_than_thirty_days_tells_nothing_by_itself(days: int, tells: bool) -> None:
    """Half an event a day would be read out of one day's watch."""
    rate = Rate(0, Watched(days / 30.4375, days, 1), "parts", None)
    given, _ = unplanned_given(rate, [rate])
    assert given is not None
    assert given.has_basis is tells


def test_a_person_who_says_never_is_believed_until_an_event_is_booked() -> None:
    """Zero events and "0 a year": no unplanned use at all. One event: the answer no longer counts."""
    quiet = Rate(0, Watched(14, 424, 1), "parts", 0.0)
    assert unplanned_given(quiet, [quiet]) == (None, NEVER)
    given, word = unplanned_given(quiet._replace(events=1), [quiet])
    assert given is not None
    assert word == NO_PRIOR


def test_a_guess_is_a_prior_of_half_an_event_with_the_rate_that_was_guessed() -> None:
    """A guess of 6 a year with 3 units: half an event in 3 unit-months, before anything was watched."""
    rate = Rate(0, Watched(0, 0, 3), "parts", 6.0)
    given, word = unplanned_given(rate, [rate])
    assert word == SAID
    assert given == UnplannedGiven(0, 0.0, 0.5, 3.0, 3.0, 0)
    assert given is not None
    assert given.has_basis


@pytest.mark.parametrize(
    ("supplies", "total", "word"), [(7, 5, NO_PRIOR), (8, 4, NO_PRIOR), (8, 5, CLASS), (9, 6, CLASS)]
)
def test_a_class_teaches_from_eight_supplies_and_five_events_on(supplies: int, total: int, word: str) -> None:
    """Below either limit there is too little to learn from."""
    rates = [Rate(total if number == 0 else 0, Watched(14, 424, 1), "belts", None) for number in range(supplies)]
    assert unplanned_given(rates[1], rates)[1] == word


def test_a_class_that_is_too_small_learns_weakly_from_the_whole_drawer() -> None:
    """Eight supplies of two classes: half an event at the rate of all of them together."""
    rates = [Rate(1, Watched(10, 300, 1), "belts" if number < 4 else "parts", None) for number in range(8)]
    given, word = unplanned_given(rates[0], rates)
    assert word == BOOK
    assert given == UnplannedGiven(1, 10, 0.5, 5.0, 1.0, 0)


@pytest.mark.parametrize(("used", "moves"), [("2026-02-28", True), ("2026-03-01", False), ("2026-03-20", False)])
def test_a_use_of_this_month_moves_no_other_supply(used: str, moves: bool) -> None:
    """Supplies teach one another what they had seen by the first of the month; the use counts at once for its own."""
    today = date(2026, 3, 20)
    quiet = [Ledger().add("receive", 500, "2025-01-01") for _ in range(8)]
    quiet[0].add("use", -5, "2025-06-01", basis="measured", planned=0)
    for day in range(1, 6):
        quiet[7].add("use", -5, f"2025-07-0{day}", basis="measured", planned=0)
    before = _all_learnt(quiet, today)
    after = _all_learnt([quiet[0].add("use", -5, used, basis="measured", planned=0), *quiet[1:]], today)
    assert {CLASS} == {each.rests_on.prior for each in before}
    assert events(after[0]) == events(before[0]) + 1
    assert [one != other for one, other in zip(before[1:], after[1:], strict=True)] == [moves] * 7


def _all_learnt(ledgers: list[Ledger], today: date) -> list[SupplyLearnt]:
    """Return what each of several supplies of one class teaches."""
    given = {place: ledger.given() for place, ledger in enumerate(ledgers)}
    return list(learn(given, {}, FORESEEN, today).values())


def test_the_prior_of_a_class_has_the_mean_of_its_rates_and_their_variance_beyond_chance() -> None:
    """Rates 0, 0.1, 0.5 and 1.0 over 10 months each: mean 0.4, variance 0.2067 less 0.04 of chance."""
    shape, rate = class_prior([(0, 10), (1, 10), (5, 10), (10, 10)])
    assert shape / rate == pytest.approx(0.4)
    assert shape / rate**2 == pytest.approx(stats.tvar([0, 0.1, 0.5, 1.0]) - 0.04)


@pytest.mark.parametrize(("seen", "shape"), [([(2, 10.0)] * 8, 20.0), ([(0, 10.0)] * 7 + [(90, 10.0)], 0.3)])
def test_the_shape_of_a_prior_stays_within_its_bounds(seen: list[tuple[int, float]], shape: float) -> None:
    """Equal rates differ by less than chance: 20. One supply that takes all: no less than 0.3."""
    assert class_prior(seen)[0] == shape


def test_the_spread_of_a_use_is_that_of_the_sample_and_totals_weigh_as_many_uses() -> None:
    """The variation of scipy with ddof 1 for single uses; two pairs of uses know their spread by the pairs' totals."""
    amounts = [20.0, 30.0, 25.0, 45.0]
    found = spread_of([Seen(1, each, alone=True, counted=False) for each in amounts])
    assert astuple(found) == pytest.approx((stats.variation(amounts, ddof=1), 3))
    pairs = spread_of([Seen(2, each, alone=True, counted=True) for each in (50.0, 70.0)])
    assert astuple(pairs) == pytest.approx((sqrt(2 * 5**2 * 2) / 30, 1))


@pytest.mark.parametrize(("free", "expected"), [(7, 0.35), (8, 0.2), (9, 0.2)])
def test_a_spread_is_taken_from_uses_from_eight_on(free: float, expected: float) -> None:
    """Below eight uses beyond the means they took, the usual spread is assumed."""
    assert Spread(0.2, free).to_plan == expected


@pytest.mark.parametrize(("seen", "expected"), [(0.09, 0.10), (0.10, 0.10), (0.11, 0.11)])
def test_a_spread_is_never_taken_for_smaller_than_a_tenth(seen: float, expected: float) -> None:
    """Eight equal amounts are no promise of a ninth."""
    assert Spread(seen, 8).to_plan == expected


def test_spreads_are_pooled_by_the_uses_beyond_their_means() -> None:
    """Two procedures with 6 and 2: the root of (6 x 0.2^2 + 2 x 0.4^2) / 8."""
    found = pooled([Spread(0.2, 6), Spread(None, 0), Spread(0.4, 2)])
    assert astuple(found) == pytest.approx((sqrt(0.56 / 8), 8))


def test_an_open_lot_that_lost_what_nobody_used_has_dried() -> None:
    """30 steps in 60 days from the day it was opened; before that it lost nothing. It is no event."""
    ledger = Ledger().add("receive", 500, "2025-01-01").add("open", 0, "2025-03-01").add("count", 470, "2025-04-30")
    learnt = ledger.learnt()
    assert learnt.drying == pytest.approx((0.5, 0.175))
    assert events(learnt) == 0
    assert ledger.learnt(piece=1).drying == (0.0, 0.0)


def test_what_dried_is_not_laid_on_the_uses() -> None:
    """Half a step a day is known; of 90 missing in the next 60 days with a use by the sheet of 30, 30 had dried."""
    ledger = Ledger().add("receive", 500, "2025-01-01").add("open", 0, "2025-03-01").add("count", 470, "2025-04-30")
    ledger.used(30, "2025-05-15", basis="sheet").add("count", 380, "2025-06-29")
    assert weighed(ledger.learnt()) == pytest.approx((1.0, 60))


def test_what_is_missing_from_a_closed_lot_was_taken_by_somebody() -> None:
    """Three steps that no use explains are one event nobody planned; a count that finds more teaches nothing."""
    ledger = Ledger().add("receive", 20, "2025-01-01").add("count", 17, "2025-03-01").add("count", 18, "2025-04-01")
    learnt = ledger.learnt({}, piece=1)
    assert events(learnt) == 1
    assert weighed(learnt, None) == (1.0, 3.0)


def test_parts_changed_on_inspection_are_counted_over_the_services_on_units_they_fit() -> None:
    """One of three services took it; one before the records and one on a unit that it does not fit do not count."""
    ledger = Ledger()
    for on, unit in (("2024-12-31", 1), ("2025-01-01", 1), ("2025-02-01", 1), ("2025-02-01", 9)):
        ledger.serve(on, CLEAN, unit=unit)
    ledger.add("receive", 20, "2025-01-01").used(1, "2025-05-01")
    learnt = ledger.learnt({CLEAN: SheetLine(1, 0.25)}, piece=1, fits={1})
    assert learnt.amounts[CLEAN] == AmountGiven(1, 1.0, 1.0, 0.35, 0.25, times=3, taken=1, piece=1)


def test_a_supply_that_no_sheet_and_no_use_tells_an_amount_of_has_none() -> None:
    """A fluid without a sheet is unknown; a part is taken by the piece."""
    assert None not in Ledger().learnt({}).amounts
    assert Ledger().learnt({}, piece=1).amounts[None] == AmountGiven(1.0, piece=1)


def test_uses_by_the_sheet_since_the_count_leave_less_than_the_book_says() -> None:
    """Weighed uses took 50 where the sheet says 30: two by the sheet since then lack 2 x (46 - 30), until a count."""
    ledger = Ledger().add("receive", 900, "2024-01-01")
    for month in range(1, 9):
        ledger.used(50, f"2024-0{month}-02")
    ledger.add("count", 500, "2025-01-01").used(30, "2025-02-01", basis="sheet").used(30, "2025-03-01", basis="sheet")
    less = ledger.learnt().unbooked
    assert less.steps == pytest.approx(2 * (46 - 30))
    assert (2, True) == (less.uses, less.spread > 0)
    assert (0.0, 0.0, 0) == ledger.add("count", 410, "2025-04-01").learnt().unbooked


def test_uses_that_take_less_than_their_sheet_are_not_counted_on() -> None:
    """More on the shelf than in the book is nothing that one may promise."""
    ledger = Ledger().add("receive", 900, "2024-01-01")
    for month in range(1, 9):
        ledger.used(10, f"2024-0{month}-02")
    assert (0.0, 0.0, 0) == ledger.used(30, "2025-02-01", basis="sheet").learnt().unbooked


def test_what_an_open_lot_dries_is_less_too() -> None:
    """It lost 20 steps in the 100 days before it was counted: in the days since then a fifth of a step a day more."""
    ledger = Ledger().add("receive", 900, "2025-09-24").add("open", 0, "2025-09-24").add("count", 880, "2026-01-02")
    less = ledger.learnt(sheets={}).unbooked
    assert less.steps == pytest.approx(0.2 * (TODAY - date(2026, 1, 2)).days)
    assert 0 == less.uses
