"""What the bench calendar promises."""

from __future__ import annotations

from datetime import date, timedelta
from time import perf_counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collection.analysis.bench_horizon import bench_of
from collection.analysis.bench_plan import FULL, NO_DAY, ON_LOAN, OVERDUE, Bench, BenchPlan, UnitWork, Work, plan_bench
from collection.errors import Refused

TODAY = date(2026, 3, 1)  # a Sunday
SATURDAY = date(2026, 3, 7)
WEEKS = Bench(TODAY, TODAY + timedelta(weeks=8), (5,), 240)


def work(due: date, minutes: int = 60, kind: str = "months", every: int | None = None, number: int = 1) -> Work:
    """Return a procedure that is due."""
    return Work(number, f"procedure {number}", due, kind, ("why",), minutes, every)


def unit(number: int, *works: Work, free_from: date = TODAY) -> UnitWork:
    """Return a unit with due work."""
    return UnitWork(number, f"D{number}", works, free_from)


def days_of(plan: BenchPlan) -> list[tuple[str, date, str]]:
    """Return which unit is opened when, and why late."""
    return [(opening.tag, opening.on, opening.late) for opening in plan.openings]


WORKS = st.builds(
    work,
    st.integers(-200, 120).map(lambda days: TODAY + timedelta(days)),
    st.sampled_from([0, 10, 30, 90, 300]),
    st.sampled_from(["months", "recheck", "symptom", "arrival"]),
    st.sampled_from([None, 1, 3, 12]),
)
UNITS = st.lists(st.tuples(st.lists(WORKS, max_size=4), st.integers(-5, 70)), max_size=25).map(
    lambda rows: [
        unit(
            number,
            *(each._replace(procedure_id=place) for place, each in enumerate(works)),
            free_from=TODAY + timedelta(free),
        )
        for number, (works, free) in enumerate(rows)
    ]
)


@settings(max_examples=60, deadline=None)
@given(UNITS, st.sets(st.integers(0, 6), min_size=1), st.sampled_from([60, 240]))
def test_every_calendar_keeps_its_promises(units: list[UnitWork], weekdays: set[int], minutes: int) -> None:
    """Set weekdays, minutes, loans, one opening for all that is due, and nothing late without a reason."""
    bench = Bench(TODAY, TODAY + timedelta(weeks=8), tuple(sorted(weekdays)), minutes)
    plan = plan_bench(units, bench)
    by_id = {each.unit_id: each for each in units}

    for day in plan.days:
        assert day.on.weekday() in weekdays
        assert day.minutes <= minutes or (day.too_long and max(each.minutes for each in day.openings) > minutes)
    for opening in plan.openings:
        assert opening.on >= by_id[opening.unit_id].free_from
        assert bool(opening.late) == (opening.latest is not None and opening.on > opening.latest)
    for each in units:
        mine = [opening for opening in plan.openings if opening.unit_id == each.unit_id]
        done = [done for opening in mine for done in opening.works]
        assert [] == [left for left in each.works if left.due <= bench.covered and left not in done]
        for opening in mine:
            later = [other for other in mine if other.on > opening.on]
            assert [] == [again for other in later for again in other.works if again.due <= opening.on]
            assert not any(other.on == opening.on and other is not opening for other in mine)
    assert plan == plan_bench(units, bench)


@pytest.mark.parametrize(
    ("due", "on", "late"),
    [
        (SATURDAY - timedelta(1), SATURDAY, NO_DAY),
        (SATURDAY, SATURDAY, ""),
        (SATURDAY + timedelta(6), SATURDAY, ""),
        (TODAY - timedelta(1), SATURDAY, OVERDUE),
        (TODAY, SATURDAY, NO_DAY),
    ],
)
def test_work_is_done_on_the_last_bench_day_before_its_latest_date(due: date, on: date, late: str) -> None:
    """That date itself is in time; a day later is said to be late, and why."""
    assert [("D1", on, late)] == days_of(plan_bench([unit(1, work(due))], WEEKS))


@pytest.mark.parametrize(("minutes", "second"), [(179, 0), (180, 0), (181, 7)])
def test_a_day_is_filled_to_its_last_minute_and_not_beyond(minutes: int, second: int) -> None:
    """60 and 180 of 240 minutes go on one day; 181 go on the next, and are late for it."""
    plan = plan_bench([unit(1, work(SATURDAY)), unit(2, work(SATURDAY, minutes))], WEEKS)

    assert SATURDAY + timedelta(second) == plan.openings[-1].on
    assert ("D2", FULL if second else "") == (plan.openings[-1].tag, plan.openings[-1].late)


@pytest.mark.parametrize(("minutes", "too_long"), [(240, False), (241, True)])
def test_an_opening_longer_than_the_day_stands_alone_and_is_said(minutes: int, too_long: bool) -> None:
    """It cannot be cut in two, so it takes a day of its own."""
    plan = plan_bench([unit(1, work(SATURDAY, minutes)), unit(2, work(SATURDAY + timedelta(7), 10))], WEEKS)

    assert [(SATURDAY, too_long), (SATURDAY + timedelta(7), False)] == [(day.on, day.too_long) for day in plan.days]


def test_the_most_urgent_goes_first_where_not_all_fits() -> None:
    """A fault before all dates, then the longest overdue; what finds no room by the last day comes after it."""
    units = [
        unit(1, work(date(2026, 2, 1), 200)),
        unit(2, work(date(2025, 2, 1), 200)),
        unit(3, work(date(2026, 2, 20), 200, "symptom")),
    ]
    plan = plan_bench(units, Bench(TODAY, SATURDAY + timedelta(7), (5,), 240))

    assert ["D3", "D2", "D1"] == [tag for tag, _, _ in days_of(plan)]
    assert [("D1", SATURDAY + timedelta(14))] == [(each.tag, each.on) for each in plan.after]


@pytest.mark.parametrize(("free", "on", "late"), [(6, SATURDAY, ""), (7, SATURDAY + timedelta(7), ON_LOAN)])
def test_a_unit_on_loan_is_opened_after_its_return(free: int, on: date, late: str) -> None:
    """At hand on the bench day itself is soon enough."""
    due = work(SATURDAY if free == 6 else TODAY + timedelta(6))
    assert [("D1", on, late)] == days_of(plan_bench([unit(1, due, free_from=TODAY + timedelta(free))], WEEKS))


@pytest.mark.parametrize(("after", "openings"), [(30, 1), (31, 2)])
def test_what_comes_due_within_a_month_goes_along(after: int, openings: int) -> None:
    """A unit is not opened twice within a month; work farther ahead waits for its own day."""
    due = SATURDAY + timedelta(3)
    plan = plan_bench([unit(1, work(due), work(due + timedelta(after), number=2))], WEEKS)

    assert openings == len(plan.openings)


def test_bench_days_are_shared_rather_than_opened_for_one_unit_each() -> None:
    """Work of the next weeks joins a day on which there is work already."""
    plan = plan_bench([unit(1, work(SATURDAY)), unit(2, work(SATURDAY + timedelta(20)))], WEEKS)

    assert [SATURDAY, SATURDAY] == [opening.on for opening in plan.openings]


def test_nothing_due_makes_an_empty_calendar() -> None:
    """No unit, or one with nothing due in that time."""
    assert BenchPlan((), ()) == plan_bench([], WEEKS) == plan_bench([unit(1, work(date(2027, 1, 1)))], WEEKS)


def test_what_is_wanted_first_is_opened_as_early_as_may_be_for_all_due_until_its_day() -> None:
    """It goes before work that is overdue, and takes along what comes due months ahead."""
    units = [unit(1, work(date(2025, 1, 1), 220)), unit(2, work(date(2026, 6, 1), 30), work(date(2026, 8, 1), 30))]
    plan = plan_bench(units, WEEKS, {2: date(2026, 7, 1)})

    assert [("D2", SATURDAY, ""), ("D1", SATURDAY + timedelta(7), OVERDUE)] == days_of(plan)
    assert 30 == plan.openings[0].minutes


def test_ten_thousand_units_are_planned_in_seconds() -> None:
    """In the time of a few passes over the units, however far the days must go."""
    units = [unit(number, work(TODAY - timedelta(number % 400), 45)) for number in range(10_000)]
    began = perf_counter()
    plan = plan_bench(units, WEEKS)

    assert 10_000 == len(plan.openings)
    assert perf_counter() - began < 10


@pytest.mark.parametrize(
    ("first", "last"),
    [(TODAY - timedelta(1), None), (TODAY, TODAY - timedelta(1)), (None, TODAY + timedelta(1828))],
)
def test_days_that_no_calendar_can_have_are_refused(first: date | None, last: date | None) -> None:
    """A first day that is over, a last before the first, and more than five years ahead."""
    with pytest.raises(Refused):
        bench_of(TODAY, first, last, None, None)


def test_days_and_minutes_are_assumed_where_nobody_told() -> None:
    """Saturday and 240 minutes, for eight weeks; the edges of what may be asked are taken."""
    assert bench_of(TODAY, None, None, None, None) == WEEKS
    assert (6,) == bench_of(TODAY, TODAY, TODAY + timedelta(1827), "sun", 60).weekdays
