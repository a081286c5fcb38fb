"""Sums of a schedule, the age of values, the condition of average, and what notes tell of a thing's identity."""

from __future__ import annotations

from datetime import date
from io import BytesIO

import pytest

from collection.analysis.insurance import noted, paid_by_average, sums_by, value_state
from collection.errors import Refused
from collection.exchange.formula_values import with_values
from collection.quantity import Money


def eur(amount: int) -> Money:
    """Return so many whole euro."""
    return Money(amount * 100, "EUR")


@pytest.mark.parametrize(
    ("loss", "insured", "at_risk", "paid"),
    [
        (100_000, 300_000, 500_000, 60_000),
        (100_000, 600_000, 500_000, 100_000),
        (500_000, 300_000, 500_000, 300_000),
        (100_000, 500_000, 500_000, 100_000),
        (700_000, 600_000, 500_000, 600_000),
        (0, 300_000, 500_000, 0),
        (100, 0, 500_000, 0),
        (100, 50, 0, 50),
    ],
)
def test_a_claim_is_paid_as_the_published_example_of_average_has_it(
    loss: int, insured: int, at_risk: int, paid: int
) -> None:
    """Loss x sum insured / value at risk, never more than either; the first line is the published worked example.

    Published policy wordings of the condition of average: 100 000 x 300 000 / 500 000 = 60 000, and no gain where the
    sum insured is above the value.
    """
    assert eur(paid) == paid_by_average(eur(loss), eur(insured), eur(at_risk))


def test_a_claim_is_rounded_to_the_nearest_minor_unit_halves_up() -> None:
    """A third of a cent is nothing, half a cent is one; a currency without cents has whole units."""
    paid = [paid_by_average(Money(loss, "JPY"), Money(1, "JPY"), Money(6, "JPY")).minor for loss in (2, 3, 4)]

    assert [0, 1, 1] == paid


def test_a_claim_of_mixed_currencies_or_below_zero_is_refused() -> None:
    """No rate is guessed, and no sum is below nothing."""
    for sums in ((eur(1), eur(1), Money(1, "USD")), (eur(-1), eur(1), eur(1))):
        with pytest.raises(Refused):
            paid_by_average(*sums)


@pytest.mark.parametrize(
    ("valued_on", "state"),
    [
        ("2025-03-01", "current"),
        ("2025-02-28", "out of date"),
        ("2025-03", "current"),
        ("2025", "out of date"),
        ("2026-03-01", "current"),
    ],
)
def test_a_value_is_out_of_date_one_day_after_its_months(valued_on: str, state: str) -> None:
    """On the very day it is still current; of a month or a year its first day counts."""
    assert state == value_state(valued_on, date(2026, 3, 1), 12)


def test_currencies_are_never_added_and_what_has_no_name_comes_last() -> None:
    """Each name has one sum a currency, with how many things are in it."""
    given = [("", eur(1)), ("shelf B", eur(2)), ("Shelf a", eur(3)), ("shelf B", Money(7, "USD")), ("shelf B", eur(4))]

    sums = [(each.name, each.total, each.things) for each in sums_by(given)]

    assert [("Shelf a", eur(3), 1), ("shelf B", eur(6), 2), ("shelf B", Money(7, "USD"), 1), ("", eur(1), 1)] == sums


def test_lines_of_notes_tell_what_no_field_carries() -> None:
    """A word that heads a line is a category; the unit's note goes before its model's, other lines stay."""
    told, rest = noted("Made: 1983\nmaterials: steel\nmaterials: felt\nseen: often", "made: 1980\nsize: 10 mm\n48 tpi")

    assert {"Date or period": "1983", "Materials and techniques": "steel; felt", "Measurements": "10 mm"} == told
    assert ("seen: often", "48 tpi") == rest
    assert ({}, ("made:",)) == noted("made:")


def test_a_formula_brings_its_value_along_and_keeps_its_text() -> None:
    """Both are read again; a formula without a known value stays as it was."""
    from openpyxl import Workbook, load_workbook

    book = Workbook()
    sheet = book.worksheets[0]
    sheet["A1"], sheet["A2"], sheet["A3"] = 2, '=IF(A1>1,"<&>"&A1,3)', "=A1*2"
    content = with_values(book, {sheet.title: {"A3": "4"}})

    values = load_workbook(BytesIO(content), data_only=True).worksheets[0]
    formulas = load_workbook(BytesIO(content)).worksheets[0]
    assert (2, None, 4) == tuple(values[cell].value for cell in ("A1", "A2", "A3"))
    assert ('=IF(A1>1,"<&>"&A1,3)', "=A1*2") == (formulas["A2"].value, formulas["A3"].value)
