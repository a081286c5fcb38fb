"""What is typed of single units of a loan, before any of it is looked up."""

from __future__ import annotations

import pytest

from collection.cli.loan_words import of_units, one_of_each
from collection.errors import Refused

TWO = ("D1", "P-2")
# The units of a book: D1 was once called A 1, and D9 is another.
FIND = {"D1": 1, "d1": 1, "P-2": 2, "A 1": 1, "D9": 9, "D 9": 9, "C": 3}.get


@pytest.mark.parametrize(
    ("tags", "texts", "told"),
    [
        (TWO, ["d1: two disks", "p-2 : mains lead: grey"], {"D1": ["two disks"], "P-2": ["mains lead: grey"]}),
        (TWO, [], {"D1": [], "P-2": []}),
        (("D1",), ["note: scratched"], {"D1": ["note: scratched"]}),
        (("D1",), ["D1: spindle speed=300.2", "ripple=4"], {"D1": ["spindle speed=300.2", "ripple=4"]}),
        (("D1",), ["E:/a.png"], {"D1": ["E:/a.png"]}),
        (("A 1", "P-2"), ["D1: two disks"], {"A 1": ["two disks"], "P-2": []}),
        (TWO, ["A 1: two disks"], {"D1": ["two disks"], "P-2": []}),
        (("D1",), ["D1: C: not read"], {"D1": ["C: not read"]}),
    ],
)
def test_a_text_is_of_the_unit_whose_tag_leads_it_or_of_the_only_one(
    tags: tuple[str, ...], texts: list[str], told: dict[str, list[str]]
) -> None:
    """Case and blanks of a tag do not matter, and a colon in the text itself is kept."""
    assert told == of_units(tags, texts, "--along", FIND)


@pytest.mark.parametrize("text", ["cable", "D8: cable", "see: cable"])
def test_a_text_that_does_not_say_of_which_of_several_units_is_refused(text: str) -> None:
    """The refusal shows how to type it."""
    with pytest.raises(Refused) as refusal:
        of_units(TWO, [text], "--along", FIND)

    assert f'--along "{text}" does not say of which of D1, P-2.' in str(refusal.value)
    assert 'Type it as --along "D1: cable".' in str(refusal.value)


def test_what_is_told_of_all_units_alike_needs_no_tag_but_names_no_other_unit() -> None:
    """A condition is of each unit; several texts of one unit are put together; a lone word before a colon is a tag."""
    both = one_of_each(TWO, ["good", "D1: a scratch at the left: old"], "--condition", FIND, all_alike=True)

    assert {"D1": "good; a scratch at the left: old", "P-2": "good"} == both
    with pytest.raises(Refused, match="does not say of which"):
        one_of_each(TWO, ["D8: good"], "--condition", FIND, all_alike=True)
    assert "left side: good" == one_of_each(TWO, ["left side: good"], "--condition", FIND, all_alike=True)["P-2"]


@pytest.mark.parametrize("tags", [TWO, ("D1",)])
@pytest.mark.parametrize("text", ["D9: good", "D 9: good", "C:/good.png"])
@pytest.mark.parametrize("all_alike", [True, False])
def test_what_is_told_of_a_unit_that_is_not_named_is_told_of_no_other(
    tags: tuple[str, ...], text: str, *, all_alike: bool
) -> None:
    """A tag with a blank in it is one too; behind the tag of a unit that is named it is a text as any other."""
    with pytest.raises(Refused) as refusal:
        of_units(tags, [text], "--photo", FIND, all_alike=all_alike)

    assert f'--photo "{text}" begins with the tag of a unit that is not named here ({", ".join(tags)}).' in str(
        refusal.value
    )
    assert f'Name {text.partition(":")[0]} too; or if it is told of D1: --photo "D1: {text}".' in str(refusal.value)
    assert {"D1": [text]} == of_units(("D1",), [f"D1: {text}"], "--photo", FIND)


# A book with tags that hold a colon; B:1 was once called old:1.
COLONS = {"a": 1, "a:1": 2, "b": 3, "b:1": 4, "old:1": 4}


def _find(tag: str) -> int | None:
    return COLONS.get(tag.strip().lower())


@pytest.mark.parametrize(
    ("tags", "text", "told"),
    [
        (("A:1", "A"), "A:1: one", {"A:1": ["one"], "A": []}),
        (("A:1", "A"), "A: two", {"A:1": [], "A": ["two"]}),
        (("A", "A:1"), "a:1 : one: more", {"A": [], "A:1": ["one: more"]}),
        (("A", "A:1"), "A: 1: of A", {"A": ["1: of A"], "A:1": []}),
        (("B:1",), "B:1: fine", {"B:1": ["fine"]}),
        (("B:1",), "old:1: fine", {"B:1": ["fine"]}),
        (("old:1", "A"), "B:1: fine", {"old:1": ["fine"], "A": []}),
        (("A",), "A: A:1: stood beside it", {"A": ["A:1: stood beside it"]}),
    ],
)
def test_of_tags_that_hold_a_colon_the_longest_that_leads_a_text_is_meant(
    tags: tuple[str, ...], text: str, told: dict[str, list[str]]
) -> None:
    """It may be a former tag; a shorter tag that the text begins with as well stops nothing."""
    assert told == of_units(tags, [text], "--condition", _find)


def test_a_text_led_by_the_longer_tag_of_a_unit_that_is_not_named_is_told_of_no_other() -> None:
    """A:1 stands in the book: what begins with its tag is not taken for a text of A."""
    with pytest.raises(Refused) as refusal:
        of_units(("A", "B"), ["A:1: one"], "--condition", _find)

    assert '--condition "A:1: one" begins with the tag of a unit that is not named here (A, B).' in str(refusal.value)
    assert 'Name A:1 too; or if it is told of A: --condition "A: A:1: one".' in str(refusal.value)
