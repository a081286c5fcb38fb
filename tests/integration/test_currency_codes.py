"""A code that no currency has is refused where it is typed, marked where it is imported, and read where it stands."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.amounts import currency_given, sum_given
from collection.acts.start import check_settings
from collection.acts.units import add_unit, edit_unit
from collection.acts.valuations import add_valuation
from collection.errors import Refused
from collection.store.book import BookSettings
from collection.store.engine import reading
from collection.views.verify import verify
from tests.support.books import digest
from tests.support.folders import bring, findings, plan, rows
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

AT: dict[str, Any] = {"today": TODAY, "now": NOW}
PRICES = "SELECT tag, price_minor, currency FROM unit ORDER BY tag"


@pytest.fixture
def unit(engine: Engine) -> Engine:
    """Return a book with one unit."""
    add_unit(engine, "D1", {"model": "VX-5", "kind": "drive"}, **AT)
    return engine


def test_a_price_is_given_in_a_currency_that_there_is_or_was(unit: Engine) -> None:
    """In small letters too; a code that is none changes nothing."""
    edit_unit(unit, "D1", {"price": "300", "currency": " dem "}, **AT)
    assert [("D1", 30000, "DEM")] == rows(unit, PRICES)

    before = digest(unit)
    with pytest.raises(Refused, match='"ERU" is not the code of a currency'):
        edit_unit(unit, "D1", {"price": "300", "currency": "eru"}, **AT)
    with pytest.raises(Refused, match='"ERU" is not the code of a currency'):
        add_valuation(unit, "D1", "300", "eru", basis="market", **AT)
    assert before == digest(unit)


def test_a_book_of_a_currency_that_is_none_is_not_started() -> None:
    """The refusal names the nearest."""
    check_settings(BookSettings(currency="GBP"))
    with pytest.raises(Refused, match="Nearest: GBP"):
        check_settings(BookSettings(currency="GBR"))


def test_what_an_older_book_goes_by_goes_on(unit: Engine) -> None:
    """Its own code may be typed and left out, and is shown; no other such code is taken."""
    with shelf(unit) as made:
        made.work.update("book", 1, currency="XYZ")

    edit_unit(unit, "D1", {"price": "5"}, **AT)
    assert [("D1", 500, "XYZ")] == rows(unit, PRICES)
    edit_unit(unit, "D1", {"price": "6", "currency": "xyz"}, **AT)
    assert [("D1", 600, "XYZ")] == rows(unit, PRICES)
    with pytest.raises(Refused, match='"XYY" is not the code'):
        edit_unit(unit, "D1", {"price": "6", "currency": "XYY"}, **AT)
    with reading(unit) as conn:
        assert [] == verify(conn).broken


def test_a_sum_names_its_currency_after_the_number() -> None:
    """Else it is in that of the book, or of what it belongs to."""
    assert ("EUR", "USD", "XYZ") == tuple(
        sum_given("A price", text, own).currency for text, own in (("5", "EUR"), ("5 usd", "EUR"), ("5 XYZ", "XYZ"))
    )
    assert "XYZ" == currency_given("", "XYZ")
    with pytest.raises(Refused, match='"DOLLARS" is not the code'):
        sum_given("A price", "5 dollars", "EUR")


def test_an_import_keeps_such_a_code_with_a_mark(engine: Engine) -> None:
    """It may be the folder of an older book; imported again it is the same."""
    folder = {
        "models": "model,kind\nVK 1,drive\n",
        "units": "tag,model,price,currency\nD1,VK 1,5,XYZ\nD2,VK 1,5,DEM\nD3,VK 1,5,\nD4,VK 1,,\n",
    }
    made = bring(engine, folder)

    told = [(each.record, each.column, each.value, each.rule) for each in findings(made, "doubtful")]
    assert [("unit D1", "currency", "XYZ", "is not the code of a currency (ISO 4217)")] == told
    assert [("D1", 500, "XYZ"), ("D2", 500, "DEM"), ("D3", 500, "EUR"), ("D4", None, None)] == rows(engine, PRICES)
    assert plan(engine, folder).changes_nothing
