"""What docs/json-keys.md and the help of the commands say of --json, held to what the demo's book prints."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import click
import pytest

from tests.support.cli import ROOT, run_cli
from tests.support.reference import command_tree

PAGE = (ROOT / "docs" / "json-keys.md").read_text(encoding="utf-8")
SECTIONS = dict(re.findall(r"^## (.+)\n((?:(?!^## ).*\n)*)", PAGE, re.MULTILINE))
HELP = {context.command_path.partition(" ")[2]: command.help or "" for context, command in command_tree()}

# What a section's command is given besides its name, so that it has something to print.
GIVEN = {
    "chart": ["D3"],
    "drift TAG": ["D3", "--of", "spindle speed"],
    "instrument compare": ["hand strobe", "bench counter"],
    "instrument show": ["bench counter"],
    "intervals PROCEDURE": ["clean head"],
    "loan show": ["L-1"],
    "model show": ["VK 410"],
    "damage show": ["DL1"],
    "procedure show": ["clean head"],
    "safety list": ["P1"],
    "shelf-check": ["shelf A", "--tags", "D6"],
    "unit places": ["D1"],
    "fault find": ["read errors"],
    "plan --lend": ["2", "--on", "2026-05-01"],
    "round": ["--of", "spindle speed", "--instrument", "bench counter", "D1=300.1"],
    "unit show": ["D3"],
    "person show": ["Wen Salloway"],
    "photo add": ["D1", "{here}/front.png"],
    "arrival": ["D1", "--reading", "spindle speed=301 @bench counter"],
    "unit cost": ["D1"],
    "part list": ["D7"],
    "unit lubricated": ["D1", "rails", "rail grease, lithium NLGI 2"],
    "unit turn": ["D1", "clockwise", "1/8", "--screw", "speed trimmer"],
    "service record": ["D1", "--did", "dust out"],
    "reading list": ["D8"],
    "reorder SUPPLY": ["foam swab, lint-free"],
    "supply show": ["foam swab, lint-free"],
    "supply history": ["foam swab, lint-free"],
    "import": [str(ROOT / "docs" / "shelf")],
    "history --act": ["3"],
}


# What is typed first where the demo's book has nothing to print.
FIRST = {
    "backup list": ["backup"],
    "backup prune": ["backup"],
    "wanted list": ["wanted", "add", "D1", "lamp"],
    "unit arrivals": ["arrival", "D1"],
    "unit disposals": ["unit", "dispose", "D1", "--how", "scrapped", "--reason", "worn"],
    "sighting list": ["sighting", "add", "D1"],
    "medium list": ["medium", "add", "cleaning disk 1", "--role", "cleaning"],
}


@pytest.fixture
def demo(built_demo: Path, tmp_path: Path) -> Path:
    """Return a copy of the demo's book for this test alone, with a picture beside it."""
    (tmp_path / "front.png").write_bytes(b"\x89PNG\r\n\x1a\n and so on")
    return Path(shutil.copy(built_demo, tmp_path / "demo.sqlite3"))


def command_of(section: str) -> str:
    """Return the command whose keys a section lists: its title without what the command is given."""
    return " ".join(word for word in section.split() if word.islower() and not word.startswith("-"))


def keys_of(section: str) -> list[str]:
    """Return the keys that a section lists, after those of the section on which it says it goes on."""
    before = re.findall(r"^The keys of `(.+)`, and besides:$", SECTIONS[section], re.MULTILINE)
    return [
        *(key for name in before for key in keys_of(name)),
        *re.findall(r"^\| `(\w+)` \|", SECTIONS[section], re.MULTILINE),
    ]


def printed(section: str, book: Path) -> Any:
    """Return what the command of a section prints on a book with --json."""
    words = [word for word in section.split() if word not in ("PROCEDURE", "SUPPLY", "TAG")]
    given = [word.replace("{here}", str(book.parent)) for word in GIVEN.get(section, [])]
    if section in FIRST:
        assert 0 == run_cli(FIRST[section], db=book).code
    return json.loads(run_cli([*words, *given, "--json"], db=book).out)


@pytest.mark.usefixtures("looked_at")
@pytest.mark.parametrize("section", [section for section in SECTIONS if section not in ("verify", "supply show")])
def test_a_command_prints_the_keys_of_its_section(section: str, demo: Path) -> None:
    """Every row has just these keys; an object has them in this order."""
    found = printed(section, demo)
    rows = found if isinstance(found, list) else [found]

    assert rows
    assert [] == [list(row) for row in rows if set(row) != set(keys_of(section))]
    assert isinstance(found, list) or section == "unit show" or keys_of(section) == list(found)


def test_the_card_of_a_supply_has_the_columns_of_the_folder_and_those_of_its_section(demo: Path) -> None:
    """The page names the columns of supplies.csv once for all."""
    found = list(printed("supply show", demo))

    assert keys_of("supply show") == found[-len(keys_of("supply show")) :]
    assert {"supply", "kind", "measured_in", "smallest_step", "note"} < set(found)


def test_a_whole_book_has_no_broken_rule_and_its_heading_is_that_of_the_page(demo: Path) -> None:
    """Verify prints an empty list, and as CSV the columns alone."""
    assert [] == printed("verify", demo)
    assert ",".join(keys_of("verify")) + "\n" == run_cli(["verify", "--csv"], db=demo).out.replace("\r\n", "\n")


def test_the_rows_of_an_import_have_the_keys_that_the_page_names(demo: Path) -> None:
    """Totals by kind, and rows with their place, value and rule."""
    found = printed("import", demo)
    inside = {
        key: re.findall(r"`(\w+)`", text)
        for key, text in re.findall(r"^\| `(\w+)` \| (.*) \|$", SECTIONS["import"], re.MULTILINE)
    }

    assert inside["totals"] == list(found["totals"])
    assert [] == [row for row in found["rows"] if inside["rows"] != list(row)]


def test_every_command_that_prints_json_is_on_the_page() -> None:
    """With a section of its own, or named in that of a command whose keys it shares."""
    with_json = {
        context.command_path.partition(" ")[2]
        for context, command in command_tree()
        if any(isinstance(each, click.Option) and "--json" in each.opts for each in command.params)
    }
    shared = set(re.findall(r"`([a-z -]+)`", " ".join(text.split("| key |")[0] for text in SECTIONS.values())))

    assert set() == with_json - {command_of(section) for section in SECTIONS} - shared


TOLD = {name: text.split("Keys of --json:")[1] for name, text in HELP.items() if "Keys of --json:" in text}


@pytest.mark.parametrize("name", [name for name in TOLD if name in map(command_of, SECTIONS)])
def test_the_keys_that_a_help_lists_are_those_of_the_page(name: str) -> None:
    """None is missing and none is made up; what stands in parentheses explains a key."""
    told = set(re.findall(r"[a-z][a-z0-9_]*", re.sub(r"\([^)]*\)|with [A-Z-]+\S*", "", TOLD[name])))
    sections = [section for section in SECTIONS if command_of(section) == name]
    on_page = {key for section in sections for key in re.findall(r"`(\w+)`", SECTIONS[section])}

    assert {key for section in sections for key in keys_of(section)} <= told
    assert told <= on_page


@pytest.mark.parametrize("section", SECTIONS)
def test_a_help_that_lists_no_keys_leads_to_the_page(section: str) -> None:
    """Whoever reads the help of a command finds its keys."""
    name = command_of(section)

    assert name in TOLD or "docs/json-keys.md" in HELP[name]
