"""What goes into one order, and the sheet that is sent for it."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from collection.analysis.shelf_life import SupplyFacts
from collection.analysis.stock_plan.found import FINE, ORDER_BY, ORDER_NOW, UNKNOWN
from collection.cli.reorder_rows import day_in, stock_lines_of
from collection.errors import Refused
from collection.exchange.order_sheet import as_csv, as_page, as_text, order_sheets, write_sheets
from collection.quantity import Money
from collection.views.stock_groups import NO_DAY, NOTHING, PARCEL, SHOPPING, groups_of, total_cost
from collection.views.stock_rows import StockList, StockRow
from collection.views.supplies import Supply

TODAY = date(2026, 3, 1)


def row(name: str, state: str, **told: Any) -> StockRow:
    """Return a row of a supply in pieces that is bought by the pack of ten, where a supplier is told."""
    supply = Supply(1, name, "swab", "piece", Decimal(1), "pack", None, SupplyFacts())
    bought = {"packs": 2, "steps": 20, "cost": Money(1250, "EUR"), "shipping": Money(450, "EUR")}
    blank: dict[str, Any] = dict.fromkeys(StockRow.__dataclass_fields__)
    blank |= {"supply": supply, "state": state, "steps": 0, "on_hand": 0, "on_order": 0, "ask": "", "in_short": ""}
    blank |= {"held_up": (), "wanted": (), "rests_on": ()}
    return StockRow(**{**blank, **(bought if told.get("supplier") else {}), **told})


@pytest.fixture
def found() -> StockList:
    """Return a list with two orders to one supplier far apart, and rows that nobody can order."""
    rows = (
        row("swab", ORDER_NOW, supplier="Nordlager", order_by=TODAY),
        row("=belt <5>", ORDER_BY, supplier="Nordlager", order_by=TODAY + timedelta(30)),
        row("grease", ORDER_BY, supplier="Nordlager", order_by=TODAY + timedelta(31)),
        row("cloth", UNKNOWN, steps=4),
        row("glue", UNKNOWN),
        row("bag", FINE),
    )
    return StockList(TODAY, TODAY + timedelta(365), rows, (), 0, 0)


def sheets_of(found: StockList) -> Any:
    """Return the sheets of a list, by the way of its lines."""
    rows = [json.loads(line) for line in stock_lines_of(found, day_in("iso"))[1:]]
    return order_sheets(rows, "2026-03-01", "the club")


def test_rows_are_put_together_by_what_one_order_would_carry(found: StockList) -> None:
    """What is due within 30 days goes along; what nobody offers is told apart from what nobody knows."""
    assert [
        (PARCEL, ["swab", "=belt <5>"]),
        (PARCEL, ["grease"]),
        (NO_DAY, ["glue"]),
        (SHOPPING, ["cloth"]),
        (NOTHING, ["bag"]),
    ] == [(group.what, [each.supply.name for each in group.rows]) for group in groups_of(found)]
    assert [Money(2050 + 1250, "EUR")] == total_cost(groups_of(found))


def test_a_sheet_is_of_the_next_order_to_a_supplier(found: StockList) -> None:
    """Shipping stands on it once; a later order gets its sheet when its day comes."""
    order, shopping = sheets_of(found)

    assert ("Nordlager", ["swab", "=belt <5>"]) == (order.to, [line.supply for line in order.lines])
    assert [("10 pieces", "4.00", "8.00")] * 2 == [line[2:5] for line in order.lines]
    assert (("shipping", "4.50"), ("total", "20.50")) == order.sums
    assert ("", [("cloth", "", "4 pieces")], ()) == (shopping.to, [line[:3] for line in shopping.lines], shopping.sums)
    assert [] == sheets_of(replace(found, rows=(row("bag", FINE),)))


def test_no_name_on_a_sheet_is_run_by_a_spreadsheet_or_read_as_a_page(found: StockList) -> None:
    """A supply may be called anything; the text for a person has it as it is."""
    order = sheets_of(found)[0]

    assert "2,'=belt <5>,2,10 pieces,4.00,8.00,EUR" in as_csv(order).splitlines()
    assert "<td>=belt &lt;5&gt;</td>" in as_page(order)
    assert "  2  =belt <5>      2  10 pieces          4.00  8.00" in as_text(order).splitlines()


def test_suppliers_in_other_letters_get_files_of_their_own_or_none_is_written(found: StockList, tmp_path: Path) -> None:
    """Names that are plain letters alike are numbered; a file that is there already lets none of the others be made."""
    first = sheets_of(found)[0]
    sheets = [first._replace(to=supplier) for supplier in ("磁盤屋", "Nordlager", "軟碟店")]
    names = [f"order-to-{word}eur-2026-03-01{number}" for word, number in (("", ""), ("nordlager-", ""), ("", "-2"))]

    assert names == [files[0].stem for files in write_sheets(tmp_path / "out", sheets)]
    assert 9 == len(list((tmp_path / "out").iterdir()))

    (tmp_path / "new").mkdir()
    (tmp_path / "new" / f"{names[-1]}.html").touch()
    with pytest.raises(Refused, match=r"-2\.html\" is there already; nothing is overwritten"):
        write_sheets(tmp_path / "new", sheets)
    assert 1 == len(list((tmp_path / "new").iterdir()))


def test_a_page_has_the_columns_in_which_something_stands(found: StockList) -> None:
    """An order names its currency once, above the sums; a shopping list has room for where and for how much."""
    order, shopping = map(as_page, sheets_of(found)[:2])

    assert "price a pack, EUR" in order
    assert '<td class="number">20.50</td>' in order
    assert "had from" not in order
    assert ("how much" in shopping, "price a pack" in shopping, "had from" in shopping) == (True, False, True)
