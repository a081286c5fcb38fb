"""Every list and card of the demo as known before all that can be typed was typed; by hand, before a release."""

from __future__ import annotations

import json
import os
import shlex
import shutil
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.e2e.test_every_command import COMMANDS, FIRST, LINES
from tests.support.cli import Ran, run_cli
from tests.support.times import TODAY

LISTS = [
    name
    for name, command in COMMANDS.items()
    if {"--known-on", "--json"} <= {option for parameter in command.params for option in parameter.opts}
]
# What replaces the book or makes another, and what leaves nothing of somebody: no list can tell of them then.
NOT_TYPED = {"start", "demo", "restore", "move-to", "upgrade", "person forget"}
_DIGITS = 12  # sums of fractions may end otherwise when rows are read in another order

pytestmark = pytest.mark.skipif("SPINDLEBOOK_PAST" not in os.environ, reason="takes a minute; set SPINDLEBOOK_PAST=1")


def _typed(line: str, here: Path, today: date, *more: str) -> Ran:
    words = [word.replace("{here}", str(here)) for word in shlex.split(line)]
    return run_cli([*words, *more], db=here / "book", today=today)


def _told(ran: Ran) -> Any:
    if ran.code:
        return ran.code
    return json.loads(ran.out, parse_float=lambda text: round(float(text), _DIGITS))


def test_no_list_as_known_then_tells_of_what_was_typed_since(built_demo: Path, tmp_path: Path) -> None:
    """Each line is typed on a day of its own; then every list of the first day is what it was on it."""
    shutil.copy(built_demo, tmp_path / "book")
    (tmp_path / "front.png").write_bytes(b"\x89PNG\r\n\x1a\n and so on")
    before = {name: _told(_typed(LINES[name], tmp_path, TODAY, "--json")) for name in LISTS}

    today = TODAY
    for name in [each for each in LINES if each not in LISTS and each not in NOT_TYPED]:
        for line in filter(None, [FIRST.get(name), LINES[name]]):
            today += timedelta(days=1)
            _typed(line, tmp_path, today)

    differing = [
        name
        for name in LISTS
        if before[name] != _told(_typed(LINES[name], tmp_path, today, "--json", "--known-on", TODAY.isoformat()))
    ]
    assert [] == differing
