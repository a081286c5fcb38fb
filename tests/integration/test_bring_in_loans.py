"""Loans of a folder beside one another and beside those of the book: no two of a unit share a day."""

from __future__ import annotations

import pytest
from sqlalchemy.engine import Engine

from tests.support.folders import SMALL, bring, plan, refusals, rows

LOAN_HEAD = "loan,tag,person,out_on,due_on,back_on\n"
OVER = "L,D1,Ada,2026-01-05,2026-06-01,2026-01-10\n"


@pytest.mark.parametrize(
    ("days", "taken"),
    [
        ("2026-01-01,2026-06-01,2026-01-05", True),
        ("2026-01-01,2026-06-01,2026-01-06", False),
        ("2026-01-06,2026-06-01,2026-01-07", False),
        ("2026-01-09,2026-06-01,2026-01-20", False),
        ("2026-01-10,2026-06-01,2026-01-20", True),
        ("2026-01-09,2026-06-01,", False),
        ("2026-01-10,2026-06-01,", True),
        ("2026-01,2026-06-01,2026-01", True),
        ("2025,2026-06-01,2026-02", False),
    ],
)
@pytest.mark.parametrize("known", [True, False])
def test_of_two_loans_of_a_unit_that_share_a_day_the_later_row_is_refused(
    engine: Engine, days: str, *, taken: bool, known: bool
) -> None:
    """In one folder, and beside one of the book; the row is told with its line, and the loan it meets."""
    if known:
        bring(engine, {**SMALL, "loans": LOAN_HEAD + OVER})
    row = f"M,D1,Bo,{days}\n"
    made = plan(engine, {**SMALL, "loans": LOAN_HEAD + row if known else LOAN_HEAD + OVER + row})

    told = "was on loan L from 2026-01-05 to 2026-01-10, and a unit is on one loan at a time; correct the days"
    assert ([] if taken else [("loans.csv", 2 if known else 3, "tag", told)]) == refusals(made)
    other = plan(engine, {**SMALL, "loans": LOAN_HEAD + row.replace("D1", "D2")})
    assert other.writable


@pytest.mark.parametrize(
    ("changed", "refused"),
    [
        ("{0},L,D1,Ada,2026-01-05,2026-06-01,2026-01-20\n", False),
        ("{0},L,D1,Ada,2026-01-05,2026-06-01,2026-01-21\n", True),
        ("{0},L,D1,Ada,2026-01-06,2026-06-01,2026-01-11\n", False),
    ],
)
def test_days_of_a_loan_that_are_corrected_meet_no_other_loan_of_the_unit(
    engine: Engine, changed: str, *, refused: bool
) -> None:
    """The row that moves them is refused."""
    bring(engine, {**SMALL, "loans": LOAN_HEAD + OVER + "M,D1,Bo,2026-01-20,2026-06-01,2026-01-30\n"})
    key = rows(engine, "SELECT key FROM loan_item ORDER BY id")[0][0]

    made = plan(engine, {"loans": "key," + LOAN_HEAD + changed.format(key)})

    told = "was on loan M from 2026-01-20 to 2026-01-30, and a unit is on one loan at a time; correct the days"
    assert ([("loans.csv", 2, "tag", told)] if refused else []) == refusals(made)


def test_a_loan_whose_days_are_moved_moves_all_of_its_units(engine: Engine) -> None:
    """A unit of it that the folder does not name meets its other loan; the row that moves the loan is refused."""
    both = OVER + OVER.replace("D1", "D2") + "M,D2,Bo,2025-12-20,2026-06-01,2026-01-05\n"
    bring(engine, {**SMALL, "loans": LOAN_HEAD + both})
    key = rows(engine, "SELECT key FROM loan_item ORDER BY id")[0][0]

    made = plan(engine, {"loans": f"key,{LOAN_HEAD}{key},L,D1,Ada,2026-01-04,2026-06-01,2026-01-10\n"})

    assert [("loans.csv", 2, "tag")] == [told[:3] for told in refusals(made)]
