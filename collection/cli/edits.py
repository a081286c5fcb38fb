"""The commands that change a record of another group: person, supply, lot, supplier, offer and service."""

from __future__ import annotations

from typing import Any

import click

from collection.cli.edit_options import field_options, given_of, tell_edited
from collection.cli.face import Face
from collection.cli.tags import complete_supply, complete_tag

_SUPPLY = click.argument("supply", shell_complete=complete_supply)


@click.command("edit")
@click.argument("name")
@field_options(
    ("name", "TEXT", "Another name; the history keeps none of them."),
    ("role", "WORD", "keeper, issuer, member, owner or outside."),
    ("email", "TEXT", "E-mail address."),
    ("phone", "TEXT", "Telephone number."),
    ("address", "TEXT", "Postal address."),
    ("call-rank", "NUMBER", "In an emergency they are called in this place: 1 is the first."),
    ("note", "TEXT", "Anything else."),
    named={"name": "person"},
)
@click.pass_obj
def person_edit_command(face: Face, /, name: str, reason: str, **told: Any) -> None:
    """Change what is known of a person.

    An empty text takes a value away: --phone "".
    """
    from collection.acts.records import edit_person

    tell_edited(edit_person(face.engine(), name, given_of(told), reason=reason, today=face.today, now=face.now))


@click.command("edit")
@_SUPPLY
@field_options(
    ("name", "TEXT", "Another name."),
    ("kind", "WORD", "belt, lubricant, solvent, swab, spare ..."),
    ("measured-in", "UNIT", "Only before it is used: piece, g, ml, m ..."),
    ("step", "NUMBER", "Only before it is used: the smallest amount."),
    ("tracked", "WORD", "count, pack or no."),
    ("density", "NUMBER", "In g/ml."),
    ("polymer", "WORD", "What rubber it is: NBR, CR, EPDM ..."),
    ("thickener", "WORD", "What thickens a grease: lithium, PFPE ..."),
    ("strength", "TEXT", "As 99 %."),
    ("size", "TEXT", "As 5 x 0.6 mm, or NLGI 2."),
    ("fits", "MODELS", "Models it fits, by ;"),
    ("shelf-life", "MONTHS", "Sealed."),
    ("open-life", "MONTHS", "Once open."),
    ("wanted-chance", "NUMBER", "How sure one wants to be to have enough, as 0.95."),
    ("guess-a-year", "NUMBER", "About how many uses a year nobody planned, as 2; 0 for never."),
    ("written-since", "DATE", "Since when every use of it is written down, as 2024-01."),
    ("note", "TEXT", "Anything else."),
    named={
        "name": "renamed",
        "step": "smallest_step",
        "shelf-life": "shelf_life_months",
        "open-life": "open_life_months",
    },
)
@click.pass_obj
def supply_edit_command(face: Face, /, supply: str, renamed: str | None, reason: str, **told: Any) -> None:
    """Change what a supply says.

    Its unit and its smallest step stay once it is used; shelf lives, density and how it is tracked need a --reason. An
    empty text takes a value away.
    """
    from collection.acts.records import edit_supply

    given = given_of({"supply": renamed, **told})
    tell_edited(edit_supply(face.engine(), supply, given, reason=reason, today=face.today, now=face.now))


@click.command("edit-lot")
@_SUPPLY
@click.argument("lot")
@field_options(
    ("name", "TEXT", "Another name."),
    ("made", "WHEN", "As printed: 3/94 (a quarter), 1994-09."),
    ("expires", "DATE", "As printed: 2027-06 or 2027-06-30."),
    ("price", "AMOUNT", 'What the whole lot cost, as 12.50 or "12.50 EUR".'),
    ("supplier", "NAME", "Who sent it."),
    ("note", "TEXT", "Anything else."),
    named={"name": "renamed", "expires": "expires_on"},
)
@click.pass_obj
def lot_edit_command(face: Face, /, supply: str, lot: str, renamed: str | None, reason: str, **told: Any) -> None:
    """Change what a lot says.

    When it was made and when it expires need a --reason. An empty text takes a value away.
    """
    from collection.acts.records import edit_lot

    given = given_of({"lot": renamed, **told})
    tell_edited(edit_lot(face.engine(), supply, lot, given, reason=reason, today=face.today, now=face.now))


@click.command("edit-supplier")
@click.argument("supplier")
@field_options(
    ("name", "TEXT", "Another name."),
    ("lead-days", "DAYS", "From order to arrival."),
    ("shipping", "AMOUNT", 'What one order costs to send, as 6.50 or "6.50 EUR".'),
    ("note", "TEXT", "Anything else."),
    named={"name": "renamed"},
)
@click.pass_obj
def supplier_edit_command(face: Face, /, supplier: str, renamed: str | None, reason: str, **told: Any) -> None:
    """Change what a supplier says.

    An empty text takes a value away.
    """
    from collection.acts.records import edit_supplier

    given = given_of({"supplier": renamed, **told})
    tell_edited(edit_supplier(face.engine(), supplier, given, reason=reason, today=face.today, now=face.now))


@click.command("edit")
@click.argument("tag", shell_complete=complete_tag)
@click.option("--service", default="", metavar="NAME|DATE", help="Which service (else the newest).")
@field_options(
    ("findings", "TEXT", "What was seen."),
    ("minutes", "NUMBER", "Minutes of work."),
    ("by", "PERSON", "Who did the work."),
    ("why", "TEXT", "Why the unit was opened."),
    named={"why": "opened_for"},
)
@click.pass_obj
def service_edit_command(
    face: Face, /, tag: str, service: str, reason: str, opened_for: str | None, **told: Any
) -> None:
    """Correct what a service says.

    A closed one needs a --reason. What was done, measured and used is taken back by undo, or by set-aside and reverse.
    """
    from collection.acts.records import edit_service

    given = given_of({"reason": opened_for, **told})
    tell_edited(edit_service(face.engine(), tag, given, service=service, reason=reason, today=face.today, now=face.now))
