"""emergency: what to carry out first, where it is, and whom to call."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, sort_option
from collection.cli.show import Column, Mode, emit, note, output_options, say, say_pairs
from collection.cli.whole import Whole
from collection.errors import typed

if TYPE_CHECKING:
    from collection.views.emergency import Carried, Emergency


@click.command("emergency")
@click.option("--location", default="", metavar="NAME", help="Only what is there, or in a place inside it.")
@click.option("--first", type=Whole(1), metavar="NUMBER", help="Only so many of them.")
@past_options
@sort_option
@output_options
@click.pass_obj
def emergency_command(face: Face, location: str, first: int | None, sort: str, mode: Mode) -> None:
    """Show what to carry out first, where it is, and whom to call.

    \b
    spindlebook unit edit D4 --rescue-rank 1 --rescue-note "12 kg, two people"
    spindlebook person edit "Ada Field" --call-rank 1

    Units with a rank come first, then what is borrowed, then by worth. What is on loan, away, missing or gone is not
    here. Print it (spindlebook report emergency) and keep a copy elsewhere: in an emergency nobody starts a computer.

    Keys of --json: place, tag, kind, model, serial, location (with what it is inside of), owner, borrowed_from, rank,
    why, worth, currency, mind.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.views.emergency import emergency

    with face.view() as conn:
        found = emergency(conn, face.today, location)
    rows = in_order([_object(each) for each in found.carried], _COLUMNS, sort)[:first]
    if mode != "table":
        emit(rows, _COLUMNS, mode)
        return
    _tell_before(found)
    emit(rows, _IN_TABLE, mode, empty="Nothing is here to be carried out.")
    _tell_after(found, len(rows))


def _tell_before(found: Emergency) -> None:
    from collection.views.emergency import CAUTIONS

    say("Before anything is carried", bold=True)
    say_pairs([("!", text) for text in CAUTIONS])
    say("")
    if found.contacts:
        say("Whom to call", bold=True)
        rows = [each._asdict() | {"rank": each.rank or ""} for each in found.contacts]
        emit(rows, [Column("rank", ""), Column("name"), Column("role"), Column("phone"), Column("email")])
    for policy in found.policies:
        say(f"Insured: {policy.name}" + (f", {policy.insurer}" if policy.insurer else ""))
    if found.contacts or found.policies:
        say("")
    say("What to carry out, in this order", bold=True)


def _tell_after(found: Emergency, shown: int) -> None:
    if shown < len(found.carried):
        note(f"and {len(found.carried) - shown} more.")
    if found.elsewhere:
        note(f"Not here, so not on the list: {found.elsewhere} on loan, away or missing.")
    if found.carried and not any(each.rank for each in found.carried):
        note(f"None of them has a rank yet: spindlebook unit edit {typed(found.carried[0].unit.tag)} --rescue-rank 1")
    if not any(each.rank for each in found.contacts):
        note('Nobody has a rank to be called by yet: spindlebook person edit "NAME" --call-rank 1')


def _object(each: Carried) -> dict[str, Any]:
    unit = each.unit
    return {
        "place": each.place,
        "tag": unit.tag,
        "kind": unit.kind,
        "model": unit.model,
        "serial": unit.serial or None,
        "location": each.where or None,
        "owner": unit.owner or None,
        "borrowed_from": each.borrowed_from or None,
        "rank": each.rank,
        "why": each.why,
        "worth": each.worth and each.worth.text,
        "currency": each.worth and each.worth.currency,
        "mind": each.mind or None,
    }


_COLUMNS = tuple(
    Column(key)
    for key in (
        "place", "tag", "kind", "model", "serial", "location", "owner", "borrowed_from", "rank", "why", "worth",
        "currency", "mind",
    )
)  # fmt: skip
_IN_TABLE = (
    Column("place", ""),
    Column("tag"),
    Column("kind"),
    Column("model"),
    Column("location", "where", lambda where: where or "not known"),
    Column("why", "first because"),
    Column("mind", "mind"),
)
