"""Whether the stock plan keeps its word in clubs whose truth is known, and whether its judge can say no."""

from __future__ import annotations

from dataclasses import replace

from tests.support.workshop_book import Book
from tests.support.workshop_rules import AverageUse
from tests.support.workshop_run import Buy, Cycle, Lived, live
from tests.support.workshop_score import AVERAGE, PLAN, Asked, Kept, as_good, goal_of, kept, lived_by
from tests.support.workshop_truth import BELTS, GREASE, SCENARIOS, SPARES, make_world

UNRECORDED = SCENARIOS[-1]
SHORT = ((replace(GREASE, years=1), 2), (replace(BELTS, years=2), 2), (replace(SPARES, years=2), 2), (UNRECORDED, 3))


def test_the_same_scenario_and_number_make_the_same_club() -> None:
    """A figure of honesty can be had again: clubs come from their names and numbers alone."""
    one, other = (make_world.__wrapped__(GREASE, number) for number in (3, 4))
    assert one.uses == make_world.__wrapped__(GREASE, 3).uses
    assert one.uses != other.uses


def test_a_rule_that_orders_too_late_is_seen_to_miss() -> None:
    """The judge can say no: ordering by the mean use over the mean lead time alone does not keep 95 % of cycles."""
    lived = [lived_by(Asked(GREASE, club, AVERAGE, 1.0)) for club in range(6)]
    late = kept(lived, goal_of(GREASE, 0.95))
    assert not late.share.met
    assert late.share.value < 0.7


def test_a_shortage_that_no_order_follows_counts_as_a_cycle() -> None:
    """Never ordering does not keep a promise: what then cannot be met is held against the rule."""
    world = make_world(GREASE, 0)

    def never(book: Book, day: int) -> Buy | None:
        return None

    lived = live(world, never, Book(world))
    assert [cycle.short for cycle in lived.cycles] == [True]


def test_the_book_is_not_told_what_the_shelf_holds() -> None:
    """What is planned rests on the records: amounts by the sheet stand in the book until a count puts it right."""
    world = make_world(replace(GREASE, name="by the sheet", by_sheet=1.0), 1)
    book = Book(world)
    lived = live(world, AverageUse(4.0), book)
    assert lived.cycles
    assert not any(seen.counted is False for seen in book.weighed[0])
    assert any(seen.counted for seen in book.weighed[0])


def test_a_rule_is_set_to_keep_as_much_before_its_cost_is_compared() -> None:
    """Cost is read between the two settings of a rule that keep less and more; none where it never keeps as much."""
    good = [
        kept([Lived(clubs, stock=stock)], (0.0, 1.0))
        for stock, clubs in ((100.0, _cycles(5, 5)), (200.0, _cycles(8, 2)), (400.0, _cycles(9, 1)))
    ]
    assert as_good(good, 0.5) == 100.0
    assert as_good(good, 0.65) == 150.0
    assert as_good(good, 0.95) is None


def test_what_is_promised_is_kept_in_clubs_of_every_kind() -> None:
    """Of the order cycles of grease, belts, spares and supplies without any use, as many go well as were promised."""
    found = [
        kept([lived_by(Asked(scenario, club, PLAN, 0.95)) for club in range(clubs)], goal_of(scenario, 0.95))
        for scenario, clubs in SHORT
    ]
    assert {scenario.name: one.cycles > 0 for (scenario, _), one in zip(SHORT, found, strict=True)} == {
        scenario.name: True for scenario, _ in SHORT
    }
    assert [scenario.name for (scenario, _), one in zip(SHORT, found, strict=True) if _below(one)] == []
    cycles = sum(one.cycles for one in found)
    assert sum(one.cycles * one.share.value for one in found) >= 0.90 * cycles


def _cycles(good: int, short: int) -> list[Cycle]:
    return [Cycle(0, 0, 0, 1, short=each >= good, waiting=False, recorded=0) for each in range(good + short)]


def _below(one: Kept) -> bool:
    return one.share.value + 2 * one.share.error < one.share.low
