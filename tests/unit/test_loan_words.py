"""What is typed of single units of a loan, before any of it is looked up."""

from __future__ import annotations

import pytest

from collection.cli.loan_words import of_units, one_of_each
from collection.errors import Refused

TWO = ("D1", "P-2")


@pytest.mark.parametrize(
    ("tags", "texts", "told"),
    [
        (TWO, ["d1: two disks", "p-2 : mains lead: grey"], {"D1": ["two disks"], "P-2": ["mains lead: grey"]}),
        (TWO, [], {"D1": [], "P-2": []}),
        (("D1",), ["note: scratched"], {"D1": ["note: scratched"]}),
        (("D1",), ["D1: spindle speed=300.2", "ripple=4"], {"D1": ["spindle speed=300.2", "ripple=4"]}),
        (("D1",), ["C:/a.png"], {"D1": ["C:/a.png"]}),
    ],
)
def test_a_text_is_of_the_unit_whose_tag_leads_it_or_of_the_only_one(
    tags: tuple[str, ...], texts: list[str], told: dict[str, list[str]]
) -> None:
    """Case and blanks of a tag do not matter, and a colon in the text itself is kept."""
    assert told == of_units(tags, texts, "--along")


@pytest.mark.parametrize("text", ["cable", "D9: cable", "see: cable"])
def test_a_text_that_does_not_say_of_which_of_several_units_is_refused(text: str) -> None:
    """The refusal shows how to type it."""
    with pytest.raises(Refused) as refusal:
        of_units(TWO, [text], "--along")

    assert f'--along "{text}" does not say of which of D1, P-2.' in str(refusal.value)
    assert 'Type it as --along "D1: cable".' in str(refusal.value)


def test_what_is_told_of_all_units_alike_needs_no_tag_but_names_no_other_unit() -> None:
    """A condition is of each unit; several texts of one unit are put together; a lone word before a colon is a tag."""
    both = one_of_each(TWO, ["good", "D1: a scratch at the left: old"], "--condition", all_alike=True)

    assert {"D1": "good; a scratch at the left: old", "P-2": "good"} == both
    with pytest.raises(Refused, match="does not say of which"):
        one_of_each(TWO, ["D9: good"], "--condition", all_alike=True)
    assert "left side: good" == one_of_each(TWO, ["left side: good"], "--condition", all_alike=True)["P-2"]
