"""Where a guided service stands, as the book keeps it."""

from __future__ import annotations

import pytest

from collection.analysis.guide import BLOCKS, FIRST, Place, block_before, next_block, read_place


def test_every_place_is_read_as_it_was_spelt() -> None:
    """The first question of a block is the block itself, a later one has its number behind it."""
    places = [Place(block, number) for block in BLOCKS for number in (1, 2, 31)]

    assert places == [read_place(place.spelt) for place in places]
    assert ("as found", "as found 2") == (Place("as found").spelt, Place("as found", 2).spelt)


@pytest.mark.parametrize("text", ["", "lunch", "lunch 2", "supplies 0", "supplies -1", "supplies two", "supplies ٣"])
def test_what_names_no_question_is_the_first_of_all(text: str) -> None:
    """A book that another program wrote into is asked from the beginning."""
    assert read_place(text) == FIRST


def test_the_blocks_follow_one_another() -> None:
    """From the readings as found to the outcome, and back to the first."""
    walked, place = [FIRST.block], next_block(FIRST.block)
    while place is not None:
        walked.append(place.block)
        place = next_block(place.block)

    assert list(BLOCKS) == walked
    assert ("outcome", "as found", "as found") == (walked[-1], block_before("tasks"), block_before("as found"))
