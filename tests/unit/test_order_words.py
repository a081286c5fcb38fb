"""The lines of an order as a person types them."""

from __future__ import annotations

import click
import pytest

from collection.acts.order_receive import GivenArrival
from collection.acts.orders import GivenLine
from collection.acts.receive import GivenLot
from collection.cli.order_words import arrived_line, placed_line


@pytest.mark.parametrize(
    ("text", "means"),
    [
        ("white grease=2", GivenLine("white grease", "2")),
        ("belt DM 8, 118 x 6 x 0.8 mm = 2 @ 9.50 USD", GivenLine("belt DM 8, 118 x 6 x 0.8 mm", "2", "", "9.50 USD")),
        ("alcohol 99 %=2 of 1 l", GivenLine("alcohol 99 %", "2", "1 l")),
        ("a=b=1 of 5 l @ 14.50", GivenLine("a=b", "1", "5 l", "14.50")),
    ],
)
def test_a_line_of_an_order_says_packs_and_maybe_what_one_holds_and_costs(text: str, means: GivenLine) -> None:
    """A name may hold commas and equals signs: the last one counts."""
    assert placed_line(text) == means


@pytest.mark.parametrize(
    ("text", "means"),
    [
        ("drying sachet, 10 g", GivenArrival("drying sachet, 10 g", GivenLot())),
        ("white grease=50 g", GivenArrival("white grease", GivenLot(quantity="50 g"))),
        (
            "drying sachet, 10 g=2, expires 2027-06, made 3/94, lot A 7 @ 9.20",
            GivenArrival(
                "drying sachet, 10 g",
                GivenLot(quantity="2", expires_on="2027-06", made="3/94", lot="A 7", pack_price="9.20"),
            ),
        ),
        ("g=2 @ 9 USD, lot A", GivenArrival("g", GivenLot(quantity="2", lot="A", pack_price="9 USD"))),
        ("white grease=, lot A", GivenArrival("white grease", GivenLot(lot="A"))),
    ],
)
def test_what_came_says_how_much_and_what_is_printed_on_it(text: str, means: GivenArrival) -> None:
    """Without an amount it is all that is still to come."""
    assert arrived_line(text) == means


@pytest.mark.parametrize("text", ["white grease", "=2"])
def test_an_order_of_no_supply_or_no_packs_is_refused(text: str) -> None:
    """It says what to type."""
    with pytest.raises(click.UsageError, match="SUPPLY=PACKS"):
        placed_line(text)


@pytest.mark.parametrize("text", ["g=2, best 2027", "g=2, lot", "g=2, lot A, lot B", "g=2,"])
def test_a_fact_that_no_lot_has_or_that_is_said_twice_is_refused(text: str) -> None:
    """Nothing typed is silently dropped."""
    with pytest.raises(click.UsageError, match="says nothing of a lot"):
        arrived_line(text)
