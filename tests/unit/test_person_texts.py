"""What is to be typed where a text names a person can be typed."""

from __future__ import annotations

import click
import pytest

from collection.cli.main import program
from collection.schema import TABLES
from collection.views.people import Person
from collection.views.person_texts import EDITS, naming


@pytest.mark.parametrize("table", EDITS)
def test_each_command_that_is_told_has_the_option_that_is_told(table: str) -> None:
    """Table, column, command and option are looked up where they are declared."""
    _, words, options = EDITS[table]
    command: click.Command | None = program
    for word in words.split():
        assert isinstance(command, click.Group)
        command = command.get_command(click.Context(command), word)
    assert command is not None
    known = {name for parameter in command.params for name in parameter.opts}

    assert [] == [option for option in options.values() if f"--{option}" not in known]
    assert set(options) <= set(TABLES[table].c.keys())


def test_a_part_of_a_name_is_found_as_it_is_spelt_and_the_whole_in_any_case() -> None:
    """A circle that has "Drive" in its name is not found in every sentence on a drive, but strictly it is."""
    circle = Person(1, "Quillmarsh Drive Circle", "owner", "post@quill.example", "", "", "")
    said = naming(circle)

    assert [True, True, True, True] == [
        said(text) for text in ("QUILLMARSH drive circle's", "to POST@quill.example", "CIRCLE", "(Quillmarsh)")
    ]
    assert [False, False, False] == [said(text) for text in ("a drive", "Quillmarshes", "")]
    assert naming(circle, strictly=True)("a drive")


@pytest.mark.parametrize(("phone", "found"), [("1", False), ("12-34", False), ("12-345", True), ("12-3456", True)])
def test_a_telephone_number_is_looked_for_from_five_digits_on(phone: str, found: bool) -> None:
    """A shorter one is not told from an amount or the name of a lot, and would be found everywhere."""
    said = naming(Person(1, "Wen Salloway", "member", "", phone, "", ""))

    assert found == said(f"call {phone} at night")
