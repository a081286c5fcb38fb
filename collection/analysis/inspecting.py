"""What to look for in a lot before it is said to be fit for use."""

from __future__ import annotations

from typing import NamedTuple

from collection.analysis.shelf_life import SupplyFacts, is_grease, is_rubber


class Signs(NamedTuple):
    """The signs of decay, in words, and where they are taken from."""

    signs: str
    source: str


_RUBBER = Signs(
    "distortion, cracks, hardening, tackiness", "ISO 2230:2002, inspection before an extension, as a moulder tells it"
)
_GREASE = Signs(
    "more than 5 % of its oil parted, consistency changed by more than 25 %, another colour or smell",
    "a lubricant maker's shelf-life table",
)
_OTHER = Signs("a swollen or leaking pack, drying out, another colour or smell", "common practice, no source")


def signs_of_decay(supply: SupplyFacts) -> Signs:
    """Return what tells a decayed lot of a supply."""
    if is_rubber(supply):
        return _RUBBER
    return _GREASE if is_grease(supply) else _OTHER
