"""What an inspection makes of a lot's date, and what becomes of a lot once it is past it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from collection.analysis.inspecting import signs_of_decay
from collection.analysis.shelf_life import FAIL, PASS, Inspection, Life, LotFacts, SupplyFacts, usable_through

# ISO 2230:2002, storage and extension periods of its groups, as a moulder of rubber parts tabulates them.
GROUPS = {
    "NR": (date(1999, 9, 30), date(2001, 9, 30)),  # group A: 5 + 2 years
    "CR": (date(2001, 9, 30), date(2004, 9, 30)),  # group B: 7 + 3 years
    "EPDM": (date(2004, 9, 30), date(2009, 9, 30)),  # group C: 10 + 5 years
}
LIVES = {
    ("polymer", "nr"): Life(60, 24, "A"),
    ("polymer", "cr"): Life(84, 36, "B"),
    ("polymer", "epdm"): Life(120, 60, "C"),
    ("thickener", "lithium"): Life(60, None, "a table"),
}
PASSED = Inspection("2025-03-01", PASS, "2026-02-28")
FAILED = Inspection("2025-03-01", FAIL, None, "tacky")


def _through(supply: SupplyFacts, *seen: Inspection, **lot: str) -> date | None:
    return usable_through(LotFacts(inspections=seen, **lot), supply, LIVES).through


@pytest.mark.parametrize("polymer", GROUPS)
@pytest.mark.parametrize(("days", "usable"), [(-1, True), (0, True), (1, False)])
def test_rubber_is_usable_through_the_last_day_of_its_group_and_not_after(
    polymer: str, days: int, usable: bool
) -> None:
    """Made 3/94, the day before, on and after the end of the storage period of groups A, B and C."""
    end, _ = GROUPS[polymer]
    found = usable_through(LotFacts(made="3/94"), SupplyFacts("belt", polymer=polymer), LIVES)

    assert found.through is not None
    assert usable == (end + timedelta(days) <= found.through)


@pytest.mark.parametrize("polymer", GROUPS)
@pytest.mark.parametrize(("days", "then"), [(-1, "inspect"), (0, "inspect"), (1, "discard")])
def test_rubber_past_its_date_is_inspected_until_its_extension_ends(polymer: str, days: int, then: str) -> None:
    """The day before, on and after the end of the one extension; from then on there is nothing to grant."""
    _, end = GROUPS[polymer]
    found = usable_through(LotFacts(made="3/94"), SupplyFacts("belt", polymer=polymer), LIVES)

    assert then == found.what_then(end + timedelta(days))


def test_a_pass_goes_before_the_printed_date_and_the_last_inspection_before_earlier_ones() -> None:
    """The word of who looked at it is the most particular; of one day the later entry counts."""
    later = Inspection("2025-03-01", PASS, "2027-01-31", "soft")
    found = usable_through(
        LotFacts(expires_on="2024-06", inspections=(FAILED, PASSED, later)), SupplyFacts("solvent"), LIVES
    )

    assert (date(2027, 1, 31), False) == (found.through, found.failed)
    assert "inspected 2025-03-01: good through 2027-01-31 (soft)" == found.because
    assert date(2026, 2, 28) == _through(SupplyFacts("solvent"), PASSED, Inspection("2024-01-01", FAIL))


def test_a_lot_that_failed_was_usable_through_the_day_before() -> None:
    """Its uses until then stay as they were; it is discarded, whatever extension its rubber has."""
    belt = SupplyFacts("belt", polymer="EPDM")
    found = usable_through(LotFacts(made="2020", inspections=(FAILED,)), belt, LIVES)

    assert (date(2025, 2, 28), True, "discard") == (found.through, found.failed, found.what_then(date(2025, 3, 1)))
    assert "inspected 2025-03-01: failed (tacky)" == found.because
    assert date(2035, 12, 31) == found.after_inspection


def test_a_pass_without_an_end_leaves_the_date_as_it_is() -> None:
    """A belt of unknown age was fit on the day it was looked at, and is looked at before it is used again."""
    belt, seen = SupplyFacts("belt", polymer="CR"), Inspection("2026-02-01", PASS)
    unknown = usable_through(LotFacts(received_on="2025", inspections=(seen,)), belt, LIVES)

    assert (None, True, "inspect before use") == (
        unknown.through, unknown.of_unknown_age, unknown.what_then(date(2026, 3, 1))
    )  # fmt: skip
    assert unknown.because.endswith("; inspected 2026-02-01: passed")
    assert date(2032, 12, 31) == _through(belt, seen, made="2025")


@pytest.mark.parametrize(
    ("opened_on", "through"),
    [
        ("2025-02-28", date(2026, 2, 28)),
        ("2025-03-01", date(2026, 2, 28)),
        ("2025-03-02", date(2025, 9, 2)),
    ],
)
def test_open_life_counts_for_what_was_opened_after_its_inspection(opened_on: str, through: date) -> None:
    """Opened before or on the day, it was looked at open, and what was found of it counts."""
    assert through == _through(SupplyFacts("solvent", open_life_months=6), PASSED, opened_on=opened_on)


@pytest.mark.parametrize(
    ("supply", "lot", "then"),
    [
        (SupplyFacts("lubricant", thickener="lithium"), LotFacts(made="2019-01"), "inspect or discard"),
        (SupplyFacts("solvent"), LotFacts(expires_on="2024-01"), "inspect or discard"),
        (SupplyFacts("belt", polymer="CR"), LotFacts(received_on="2019"), "inspect before use"),
        (SupplyFacts("bag"), LotFacts(received_on="2019"), ""),
    ],
)
def test_what_becomes_of_a_lot_is_said_as_far_as_it_is_known(supply: SupplyFacts, lot: LotFacts, then: str) -> None:
    """After its date grease is looked at, not thrown away unseen; a bag has no date at all."""
    assert then == usable_through(lot, supply, LIVES).what_then(date(2026, 3, 1))


@pytest.mark.parametrize(
    ("supply", "sign"),
    [
        (SupplyFacts("spare", polymer="NR"), "tackiness"),  # ISO 2230:2002, inspection before an extension
        (SupplyFacts("roller"), "tackiness"),
        (SupplyFacts("lubricant", size="NLGI 2"), "more than 5 % of its oil parted"),  # a lubricant maker's table
        (SupplyFacts("solvent"), "leaking pack"),
    ],
)
def test_the_signs_of_decay_are_those_of_the_material(supply: SupplyFacts, sign: str) -> None:
    """Rubber, grease and all else have signs of their own, each with its source."""
    assert sign in signs_of_decay(supply).signs
    assert signs_of_decay(supply).source
