"""Through which day a lot is usable: printed dates, rubber by ISO 2230, greases by thickener, open life."""

import csv
from datetime import date

import pytest

from collection.analysis.shelf_life import (
    Life,
    LotFacts,
    SupplyFacts,
    UsableThrough,
    parse_made,
    usable_through,
)
from collection.errors import Refused, fold
from collection.store.shipped import shipped


def _shipped_lives() -> dict[tuple[str, str], Life]:
    """Return the storage periods that a new book starts with."""
    with shipped("seed_data", "reference", "shelf_lives.csv").open(encoding="utf-8", newline="") as file:
        return {
            (row["what"], fold(row["name"])): Life(
                int(row["months"]),
                int(row["extension_months"]) if row["extension_months"] else None,
                row["source"],
            )
            for row in csv.DictReader(file)
        }


LIVES = _shipped_lives()
BELT = SupplyFacts(kind="belt")


def _through(lot: LotFacts, supply: SupplyFacts) -> date | None:
    return usable_through(lot, supply, LIVES).through


# --- manufacture -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "last"),
    [
        ("3/94", date(1994, 9, 30)),  # ISO 2230:2002, 5.3: July to September 1994 = 3/94
        ("1/94", date(1994, 3, 31)),
        ("2/94", date(1994, 6, 30)),
        ("4/94", date(1994, 12, 31)),
        ("3/1994", date(1994, 9, 30)),
        (" 3/94 ", date(1994, 9, 30)),
        ("1/70", date(1970, 3, 31)),
        ("1/69", date(2069, 3, 31)),
        ("1/00", date(2000, 3, 31)),
        ("4/99", date(1999, 12, 31)),
        ("1994-09-12", date(1994, 9, 12)),
        ("1994-02", date(1994, 2, 28)),
        ("1996-02", date(1996, 2, 29)),
        ("1994", date(1994, 12, 31)),
    ],
)
def test_a_quarter_or_a_partial_day_means_its_last_day(text: str, last: date) -> None:
    """Two digits of a year are 1970 to 2069."""
    assert parse_made(text) == last


@pytest.mark.parametrize("text", ["0/94", "5/94", "3/9", "3/994", "3/0000", "Q3/94", "94/3", "1994-13", "", "new"])
def test_anything_else_is_refused_with_an_example(text: str) -> None:
    """A quarter is 1 to 4, a month 1 to 12."""
    with pytest.raises(Refused) as refusal:
        parse_made(text)

    assert str(refusal.value) == (
        f'"{text}" is neither a quarter of a year nor a day. Type "3/94" for July to September 1994, or 1994-09.'
    )


# --- rubber ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("polymer", "initial", "extended"),
    [
        ("NR", date(1999, 9, 30), date(2001, 9, 30)),  # group A: 5 + 2 years
        ("CR", date(2001, 9, 30), date(2004, 9, 30)),  # group B: 7 + 3 years
        ("EPDM", date(2004, 9, 30), date(2009, 9, 30)),  # group C: 10 + 5 years
        ("natural rubber", date(1999, 9, 30), date(2001, 9, 30)),
        ("Chloroprene", date(2001, 9, 30), date(2004, 9, 30)),
        ("silicone", date(2004, 9, 30), date(2009, 9, 30)),
    ],
)
def test_against_iso_2230_for_a_belt_made_in_the_third_quarter_of_1994(
    polymer: str, initial: date, extended: date
) -> None:
    """ISO 2230:2002: label of 5.3, periods of groups A, B and C, counted from the quarter's last day."""
    found = usable_through(LotFacts(made="3/94"), SupplyFacts("belt", polymer=polymer), LIVES)

    assert (found.through, found.after_inspection) == (initial, extended)
    assert found.because.startswith("made 3/94 + ")
    assert "then inspect before use; ISO 2230:2002" in found.because


@pytest.mark.parametrize(
    ("polymer", "said"),
    [
        (None, "the polymer is not known: ISO 2230:2002"),
        ("mystery", 'polymer "mystery" is not in the table: ISO'),
    ],
)
def test_an_unknown_polymer_has_the_shortest_period_and_it_is_said(polymer: str | None, said: str) -> None:
    """Group A is the cautious choice."""
    found = usable_through(LotFacts(made="3/94"), SupplyFacts("Belt", polymer=polymer), LIVES)

    assert (found.through, found.after_inspection) == (date(1999, 9, 30), date(2001, 9, 30))
    assert said in found.because


def test_a_belt_without_its_quarter_has_no_date() -> None:
    """The day it was received says nothing of its age: it may have lain elsewhere for years."""
    assert usable_through(LotFacts(received_on="2025-01-01"), BELT, LIVES) == UsableThrough(
        None, "age unknown: inspect before use (no quarter of manufacture)"
    )


def test_the_book_s_own_period_counts() -> None:
    """An owner who trusts another source changes the table; a period without extension grants none."""
    own = {**LIVES, ("polymer", "cr"): Life(60, None, "a rubber trade association's list")}

    assert usable_through(LotFacts(made="3/94"), SupplyFacts("belt", polymer="CR"), own) == UsableThrough(
        date(1999, 9, 30), "made 3/94 + 5 years, then inspect before use; a rubber trade association's list"
    )


# --- grease and everything else ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("thickener", "size", "through"),
    [
        ("lithium", None, date(2026, 3, 31)),
        ("Li", None, date(2026, 3, 31)),
        ("calcium sulfonate", None, date(2026, 3, 31)),
        ("PFPE", None, date(2026, 3, 31)),
        ("calcium", None, date(2023, 3, 31)),
        ("silicone", None, date(2023, 3, 31)),
        ("polyurea", None, date(2023, 3, 31)),
        ("something new", None, date(2023, 3, 31)),
        ("lithium, NLGI 1", None, date(2026, 3, 31)),
        ("lithium, NLGI 0", None, date(2023, 3, 31)),
        ("lithium NLGI 00", None, date(2023, 3, 31)),
        ("lithium", "NLGI 000", date(2023, 3, 31)),
        ("lithium", "NLGI 2", date(2026, 3, 31)),
        ("lithium", "50 g", date(2026, 3, 31)),
    ],
)
def test_against_a_lubricant_maker_s_shelf_life_table(thickener: str, size: str | None, through: date) -> None:
    """Made in March 2021: lithium and its like are good through March 2026, others and soft ones 2 years."""
    assert _through(LotFacts(made="2021-03"), SupplyFacts(thickener=thickener, size=size)) == through


def test_a_grease_of_unknown_thickener_has_the_shortest_period() -> None:
    """Its grade gives it away as a grease."""
    found = usable_through(LotFacts(made="2021-03"), SupplyFacts("lubricant", size="NLGI 2"), LIVES)

    assert found.through == date(2023, 3, 31)
    assert "the thickener is not known: common practice, no source" in found.because


def test_without_a_day_made_the_day_received_starts_the_clock() -> None:
    """It is said so; of a partial day the first counts, the cautious reading."""
    found = usable_through(LotFacts(received_on="2021-03"), SupplyFacts(thickener="lithium"), LIVES)

    assert found.through == date(2026, 3, 1)
    assert found.because.startswith("received 2021-03 (made unknown) + 5 years, then inspect before use; ")


def test_the_supply_s_own_shelf_life_goes_before_the_table() -> None:
    """18 months from 31 August end on the last day of February."""
    supply = SupplyFacts("lubricant", thickener="lithium", shelf_life_months=18)

    assert usable_through(LotFacts(made="2024-08-31"), supply, LIVES) == UsableThrough(
        date(2026, 2, 28), "made 2024-08-31 + 18 months, then inspect before use; the supply's own shelf life"
    )


@pytest.mark.parametrize(
    ("printed", "through"),
    [("2026-03-15", date(2026, 3, 15)), ("2026-03", date(2026, 3, 31)), ("2026", date(2026, 12, 31))],
)
def test_a_printed_expiry_goes_before_everything(printed: str, through: date) -> None:
    """A month or a year is good through its last day."""
    lot = LotFacts(expires_on=printed, made="3/94", received_on="2020-01-01")
    supply = SupplyFacts("belt", polymer="NR", shelf_life_months=1)

    assert usable_through(lot, supply, LIVES) == UsableThrough(through, f"printed expiry {printed}")


@pytest.mark.parametrize(
    ("lot", "supply", "says"),
    [
        (LotFacts(), SupplyFacts("swab"), "age unknown: inspect before use"),
        (LotFacts(), SupplyFacts(thickener="lithium"), "age unknown: inspect before use"),
        (LotFacts(), SupplyFacts(shelf_life_months=12), "age unknown: inspect before use"),
        (LotFacts(made="3/94"), SupplyFacts("swab"), "no shelf life known: inspect before use"),
        (LotFacts(received_on="2025"), SupplyFacts("swab"), "no shelf life known: inspect before use"),
    ],
)
def test_where_nothing_is_known_no_date_is_made_up(lot: LotFacts, supply: SupplyFacts, says: str) -> None:
    """Neither an age nor a period is invented."""
    assert usable_through(lot, supply, LIVES) == UsableThrough(None, says)


def test_a_book_with_an_empty_table_makes_up_no_period() -> None:
    """An owner may clear the table; then only printed dates and own shelf lives remain."""
    assert usable_through(LotFacts(made="3/94"), BELT, {}).through is None
    assert usable_through(LotFacts(made="2021-03"), SupplyFacts(thickener="lithium, NLGI 0"), {}).through is None


# --- open life ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("opened_on", "through", "because"),
    [
        ("2025-03-14", date(2026, 3, 14), "opened 2025-03-14, keeps 1 year once open"),
        ("2025-03-15", date(2026, 3, 15), "printed expiry 2026-03-15"),
        ("2025-03-16", date(2026, 3, 15), "printed expiry 2026-03-15"),
        ("2025-03", date(2026, 3, 1), "opened 2025-03, keeps 1 year once open"),
        ("2024-02-29", date(2025, 2, 28), "opened 2024-02-29, keeps 1 year once open"),
        (None, date(2026, 3, 15), "printed expiry 2026-03-15"),
    ],
)
def test_an_open_lot_is_usable_through_whichever_day_comes_first(
    opened_on: str | None, through: date, because: str
) -> None:
    """Printed expiry or opened on + open life, before, at and after the crossing."""
    lot = LotFacts(expires_on="2026-03-15", opened_on=opened_on)

    assert usable_through(lot, SupplyFacts(open_life_months=12), LIVES) == UsableThrough(through, because)


def test_open_life_counts_where_the_age_is_unknown() -> None:
    """The one date that is known is the one to keep to; without an open life, opening changes nothing."""
    lot = LotFacts(opened_on="2025-03-14")

    assert _through(lot, SupplyFacts(open_life_months=6)) == date(2025, 9, 14)
    assert _through(lot, SupplyFacts()) is None


def test_days_that_are_none_are_refused() -> None:
    """A wrong expiry is never taken for no expiry."""
    for lot in (
        LotFacts(expires_on="2026-13"),
        LotFacts(received_on="soon"),
        LotFacts(opened_on="2026-02-30"),
    ):
        with pytest.raises(Refused):
            usable_through(lot, SupplyFacts(shelf_life_months=1, open_life_months=1), LIVES)
