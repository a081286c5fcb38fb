"""docs/standing-procedures.md: its table names all 21 procedures, and every command it names is there."""

from __future__ import annotations

import re
import shlex

import click
import pytest

from tests.support.cli import ROOT
from tests.support.reference import command_tree

PAGE = (ROOT / "docs" / "standing-procedures.md").read_text(encoding="utf-8")
ROWS = re.findall(r"^\| (\d+) \| (.+?) \| (.+?) \| (.+?) \|$", PAGE, re.MULTILINE)
COMMANDS = {context.command_path.partition(" ")[2]: command for context, command in command_tree()}
LINES = re.findall(r"^    spindlebook (.+)$", PAGE, re.MULTILINE)
# Spectrum 5.0 (Collections Trust), the list of its procedures; bold: the nine primary ones.
NAMES = """
**Object entry**; **Acquisition and accessioning**; **Location and movement control**; **Inventory**; **Cataloguing**;
**Object exit**; **Loans in**; **Loans out**; **Documentation planning**; Use of collections;
Condition checking and technical assessment; Collections care and conservation; Valuation; Insurance and indemnity;
Emergency planning for collections; Damage and loss; Deaccessioning and disposal; Rights management; Reproduction;
Collections review; Audit
"""


def test_all_21_procedures_stand_in_the_table_by_their_numbers() -> None:
    """The names are those of the source; what is not answered says so."""
    assert [(number, " ".join(name.split())) for number, name in enumerate(NAMES.split(";"), 1)] == [
        (int(number), name) for number, name, _, _ in ROWS
    ]
    assert ["18", "19", "20"] == [number for number, _, _, typed in ROWS if "not answered" in typed]


def test_every_command_of_the_table_and_of_the_text_does_something() -> None:
    """A command that is renamed must be renamed on the page."""
    named = {name for row in ROWS for name in re.findall(r"`([a-z -]+?)`", row[3])}
    named |= set(re.findall(r"`([a-z]+ [a-z-]+)(?: --[a-z-]+)*`", PAGE))

    assert len(named) > len(ROWS)
    groups = {"backup"}  # a group that does its work when it is typed alone
    assert set() == {name for name in named - groups if isinstance(COMMANDS.get(name), click.Group | None)}


@pytest.mark.parametrize("line", LINES)
def test_every_line_to_type_has_options_that_its_command_takes(line: str) -> None:
    """Nothing is run: the words are read as the command reads them."""
    words = shlex.split(line)
    name = next(" ".join(words[:size]) for size in (2, 1) if " ".join(words[:size]) in COMMANDS)
    command = COMMANDS[name]

    command.make_context(name, words[len(name.split()) :], resilient_parsing=False, obj=None)
