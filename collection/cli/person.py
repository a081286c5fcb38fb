"""person: add, list, show, change and forget the people of the book."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.edits import person_edit_command
from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.person_show import person_forget_command, person_show_command
from collection.cli.rows import in_order, naming, sort_option
from collection.cli.show import Column, Mode, emit, emit_object, output_options, say

if TYPE_CHECKING:
    from collection.views.people import Person


@click.group("person")
def person_group() -> None:
    """Add, list, change and forget people."""


@person_group.command("add")
@click.argument("name")
@click.option("--role", default="member", show_default=True, help="keeper, issuer, member, owner or outside.")
@click.option("--email", default="", help="E-mail address.")
@click.option("--phone", default="", help="Telephone number.")
@click.option("--address", default="", help="Postal address.")
@click.option(
    "--call-rank", default="", metavar="NUMBER", help="In an emergency they are called in this place: 1 is the first."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def add_command(face: Face, /, name: str, as_json: bool, **told: Any) -> None:
    """Add a person: a keeper, borrower, owner or whoever the book speaks of."""
    from collection.acts.people import add_person

    person = add_person(face.engine(), name, today=face.today, now=face.now, **told)
    if as_json:
        emit_object(_object(person))
    else:
        say(f"Added {person.name}, {person.role}.")


@person_group.command("list")
@click.option("--role", default="", metavar="WORD", help="Only people of this role: keeper, member, owner ...")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, role: str, sort: str, mode: Mode) -> None:
    """List people.

    Keys of --json: person, role, email, phone, address, call_rank (the place in which they are called in an
    emergency), note.
    """
    from collection.views.people import person_list

    with face.view() as conn:
        rows = [_object(person) for person in person_list(conn)]
    chosen = in_order(naming(rows, role=role), _COLUMNS, sort)
    emit(chosen, _COLUMNS, mode, empty='Nobody yet. Type: spindlebook person add "NAME"')


person_group.add_command(person_edit_command)
person_group.add_command(person_show_command)
person_group.add_command(person_forget_command)


def _object(person: Person) -> dict[str, Any]:
    return {"person": person.name} | {key: getattr(person, key) or None for key in _DETAILS}


_DETAILS = ("role", "email", "phone", "address", "call_rank", "note")
_COLUMNS = tuple(Column(key, right=key == "call_rank") for key in ("person", *_DETAILS))
