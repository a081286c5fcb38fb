"""The table of random acts leaves out no kind of act."""

from __future__ import annotations

import re

from tests.support.act_lines import LINES
from tests.support.cli import ROOT

_ACT = re.compile(r'open_work\(\s*\w+,\s*"([^"]+)"')
# Made by no line that is typed into a book: it begins one, takes an act back, or brings an older book up.
_NOT_TYPED = {"start", "undo", "upgrade"}


def test_every_kind_of_act_is_among_the_random_ones() -> None:
    """An act that the program can write has a line in the table, so that its undo is tried on both databases."""
    written = {
        name
        for file in (ROOT / "collection" / "acts").rglob("*.py")
        for name in _ACT.findall(file.read_text(encoding="utf-8"))
    }

    assert 60 < len(written)
    assert set() == written - set(LINES) - _NOT_TYPED
