"""What due work takes out of the drawer."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction

import pytest

from collection.analysis.needs import Job, SheetAmount, jobs, models_of, names_of_model, needs
from collection.analysis.netting import Need
from collection.analysis.schedule import DueItem, DueUnit

TODAY = date(2026, 3, 1)
UNTIL = date(2027, 3, 1)
ALWAYS = Fraction(1)
HALF = Fraction(1, 2)


def due(tag: str, *items: tuple[str, int | None, date], unit_id: int = 1) -> DueUnit:
    """Return a row of the due list."""
    made = tuple(DueItem(name, number, on, ("why",), "months") for name, number, on in items)
    return DueUnit(unit_id, tag, made[0].due, 0, made, "", at_hand=True)


def days_of(every: int | None, on: date, loans: dict[int, str] | None = None, until: date = UNTIL) -> list[date]:
    """Return the days of the jobs of one unit with one procedure."""
    found = jobs([due("D1", ("dust out", 7, on))], {7: every}, loans or {}, {}, TODAY, until)
    return [job.on for job in found]


@pytest.mark.parametrize(
    ("on", "until", "expected"),
    [
        (date(2026, 3, 2), date(2026, 3, 1), []),
        (date(2026, 3, 2), date(2026, 3, 2), [date(2026, 3, 2)]),
        (date(2026, 3, 2), date(2026, 9, 1), [date(2026, 3, 2)]),
        (date(2026, 3, 2), date(2026, 9, 2), [date(2026, 3, 2), date(2026, 9, 2)]),
    ],
)
def test_a_procedure_is_done_again_when_its_months_are_over(on: date, until: date, expected: list[date]) -> None:
    """A job on the last day of the time ahead counts; one a day later does not."""
    assert expected == days_of(6, on, until=until)


def test_overdue_work_is_done_today_and_again_that_long_after_today() -> None:
    """What was due in 2025 is taken out today, and the next time counts from then."""
    assert [TODAY, date(2026, 9, 1), UNTIL] == days_of(6, date(2025, 1, 1))


def test_work_that_comes_once_is_done_once() -> None:
    """A procedure without months has no second time."""
    assert [date(2026, 4, 1)] == days_of(None, date(2026, 4, 1))


@pytest.mark.parametrize(
    ("back", "expected"),
    [
        ("2026-03-31", date(2026, 4, 1)),
        ("2026-04-01", date(2026, 4, 1)),
        ("2026-04-02", date(2026, 4, 2)),
        ("2026-05", date(2026, 5, 1)),
        ("2026-02-01", date(2026, 4, 1)),
    ],
)
def test_a_unit_on_loan_is_worked_on_when_it_is_back(back: str, expected: date) -> None:
    """The loan's end counts where it comes after the due day; a loan that is over long since holds nothing up."""
    assert [expected] == days_of(None, date(2026, 4, 1), {1: back})


def test_a_loan_beyond_the_time_ahead_leaves_no_job() -> None:
    """The work is not done within it."""
    assert [] == days_of(6, date(2026, 4, 1), {1: "2027-03-02"})


def test_a_plain_look_takes_nothing() -> None:
    """Work without a procedure has no sheet."""
    assert [] == jobs([due("D1", ("look at", None, TODAY))], {}, {}, {}, TODAY, UNTIL)


def test_jobs_stand_by_day_and_then_by_tag_as_people_count() -> None:
    """D2 before D10 on one day, an earlier day before both."""
    rows = [due("D10", ("a", 1, TODAY)), due("D2", ("a", 1, TODAY)), due("D9", ("a", 1, TODAY - timedelta(9)))]
    later = [due("D1", ("a", 1, TODAY + timedelta(1)))]

    assert ["D2", "D9", "D10", "D1"] == [job.tag for job in jobs([*later, *rows], {1: None}, {}, {}, TODAY, UNTIL)]


def job(day: int, procedure: int = 1) -> Job:
    """Return a job on a day of March."""
    return Job(date(2026, 3, day), f"D{day}", procedure, "dust out")


def test_a_job_takes_what_its_sheet_says() -> None:
    """Each supply of the sheet, with the unit and the procedure that need it."""
    found = needs([job(2), job(3, procedure=2)], [SheetAmount(1, 5, 3, ALWAYS), SheetAmount(1, 6, 1, ALWAYS)])

    assert {
        5: [Need(date(2026, 3, 2), 3, "D2: dust out")],
        6: [Need(date(2026, 3, 2), 1, "D2: dust out")],
    } == found


@pytest.mark.parametrize(
    ("chance", "expected"),
    [(HALF, [1, 0, 1, 0]), (Fraction(1, 3), [1, 0, 0, 1]), (Fraction(0), [0, 0, 0, 0]), (ALWAYS, [1, 1, 1, 1])],
)
def test_sometimes_is_summed_up_over_the_jobs(chance: Fraction, expected: list[int]) -> None:
    """One piece of a chance in two is two pieces in four jobs, and is there when the first needs it."""
    found = needs([job(day) for day in (2, 3, 4, 5)], [SheetAmount(1, 5, 1, chance)])
    taken = {need.on.day: need.steps for need in found.get(5, [])}

    assert expected == [taken.get(day, 0) for day in (2, 3, 4, 5)]


def test_what_is_always_taken_stays_whole_beside_what_is_taken_sometimes() -> None:
    """Ten pieces for sure and one of a chance in ten are eleven, and the sure job still takes its ten."""
    found = needs([job(2), job(3, procedure=2)], [SheetAmount(1, 5, 1, Fraction(1, 10)), SheetAmount(2, 5, 10, ALWAYS)])

    assert [1, 10] == [need.steps for need in found[5]]


@pytest.mark.parametrize(
    ("fits", "taken"),
    [("", True), ("VK 410", True), ("velkari  vk 410; DM 8", True), ("DM 8", False), ("VK 4", False)],
)
def test_a_supply_that_fits_certain_models_is_taken_for_those_only(fits: str, taken: bool) -> None:
    """A belt of one model is no need of a drive of another, with or without the maker's name in the list."""
    job = Job(TODAY, "D1", 7, "replace belt", names_of_model("Velkari", "VK 410"))

    found = needs([job], [SheetAmount(7, 1, 1, Fraction(1), models_of(fits))])

    assert taken == (1 in found)
