"""Whole numbers on a command line."""

import click
import pytest

from collection.cli.whole import Whole


@pytest.mark.parametrize("text", ["1", "2", "9", "10"])
def test_a_number_within_its_limits_is_taken(text: str) -> None:
    """The limits themselves belong to it."""
    assert Whole(1, 10).convert(text, None, None) == int(text)


@pytest.mark.parametrize(
    ("kind", "text", "said"),
    [
        (Whole(1, 1200), "0", "'0' is no whole number from 1 to 1200."),
        (Whole(1, 1200), "1201", "'1201' is no whole number from 1 to 1200."),
        (Whole(1, 9999), "0", "'0' is no whole number from 1 to 9999."),
        (Whole(1, 10_000), "0", "'0' is no whole number from 1 to 10,000."),
        (Whole(1), "0", "'0' is no whole number from 1 on."),
        (Whole(0, 5), "-1", "'-1' is no whole number from 0 to 5."),
        (Whole(), "five", "'five' is no whole number."),
        (Whole(), "1.5", "'1.5' is no whole number."),
    ],
)
def test_what_is_none_is_refused_with_those_that_are_taken(kind: Whole, text: str, said: str) -> None:
    """Just outside the limits, and what is no number at all."""
    with pytest.raises(click.BadParameter) as refused:
        kind.convert(text, None, None)

    assert refused.value.message == said
