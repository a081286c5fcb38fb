"""The order of a list's rows, and the choice among them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from collection.cli.rows import in_order, naming
from collection.cli.show import Column
from collection.errors import Refused

COLUMNS = [Column("tag"), Column("owner"), Column("bought_on", "bought"), Column("price"), Column("value")]
ROWS: list[dict[str, Any]] = [
    {"tag": "D10", "owner": "Bo", "bought_on": "2022-03", "price": Decimal(100), "value": "9.5"},
    {"tag": "D2", "owner": None, "bought_on": "2022", "price": Decimal("20.5"), "value": "10"},
    {"tag": "E1", "owner": "anna", "bought_on": None, "price": None, "value": "pass"},
    {"tag": "D1", "owner": "Bo", "bought_on": "1999-01-01", "price": Decimal(-3), "value": "+10.25"},
]


@pytest.mark.parametrize(
    ("sort", "tags"),
    [
        ("", "D10 D2 E1 D1"),
        ("tag", "D1 D2 D10 E1"),
        ("-tag", "E1 D10 D2 D1"),
        ("owner", "E1 D10 D1 D2"),
        ("-owner", "D10 D1 E1 D2"),
        ("bought_on", "D1 D2 D10 E1"),
        ("Bought on", "D1 D2 D10 E1"),
        ("-bought", "D10 D2 D1 E1"),
        ("price", "D1 D2 D10 E1"),
        ("value", "D10 D2 D1 E1"),
    ],
)
def test_rows_go_by_any_column_named_by_key_or_heading(sort: str, tags: str) -> None:
    """Numbers by size and before words, D2 before D10, equal ones as they came, empty ones last either way."""
    assert tags.split() == [row["tag"] for row in in_order(ROWS, COLUMNS, sort)]


@pytest.mark.parametrize("rows", [ROWS, []])
def test_a_column_that_is_not_there_is_refused_with_those_that_are(rows: list[dict[str, str]]) -> None:
    """Even where there is nothing to sort; it is the line that is wrong."""
    with pytest.raises(Refused) as refused:
        in_order(rows, COLUMNS, "-size")

    assert 'The list has no column "size". Sort by one of: tag, owner, bought_on, price, value.' == str(refused.value)
    assert 2 == refused.value.exit_code


def test_rows_are_chosen_by_what_they_name_and_a_slip_is_not_an_empty_list() -> None:
    """Whatever the case; nothing asked lets all pass, an unknown name is refused with the nearest."""
    assert ROWS == naming(ROWS, owner="", tag="")
    assert ["D10", "D1"] == [row["tag"] for row in naming(ROWS, owner="bo")]
    assert ["D1"] == [row["tag"] for row in naming(ROWS, owner="BO", tag="d1")]
    assert [] == naming(ROWS, owner="Bo", tag="D2") == naming([], owner="Bo")
    with pytest.raises(Refused, match=r'has the owner "ana". Nearest: anna\.'):
        naming(ROWS, owner="ana")
