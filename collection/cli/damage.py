"""damage: note damage and loss, tell what an owner and an insurer need, close it."""

from __future__ import annotations

from typing import Any

import click

from collection.cli.edit_options import field_options, tell_edited
from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.photo import named_photo
from collection.cli.rows import in_order, sort_option
from collection.cli.show import Column, Mode, emit, emit_object, output_options, say
from collection.cli.tags import complete_tag
from collection.errors import typed
from collection.views.custody_rows import DAMAGE_KEYS, damage_row

_SAYS = (
    ("circumstances", "TEXT", "How it happened, and where."),
    ("reported", "DATE", "Day it was reported to the collection."),
    ("reported-by", "PERSON", "Who reported it."),
    ("by", "PERSON", "Who notes it."),
    ("estimate", "SUM", 'What mending or replacing it costs, as 40 or "40 EUR".'),
    ("owner-told", "DATE", "Day the owner was told."),
    ("insurer-told", "DATE", "Day the insurer was told."),
    ("policy", "NAME", "The policy that it is claimed on."),
    ("claim", "TEXT", "The insurer's number of the claim."),
    ("actions", "TEXT", "What was done about it, and what is to be done."),
)
_NAMED = {"reported": "reported_on", "owner-told": "owner_told_on", "insurer-told": "insurer_told_on"}
_PHOTOS = click.option("--photo", "photos", multiple=True, metavar="FILE", help="A picture of it; TITLE=FILE names it.")


def _state(command: Any) -> Any:
    """Add what is said of the unit after it: a condition check of that day."""
    command = click.option("--grade", default="", metavar="WORD", help="That condition: pass, marginal or fail.")(
        command
    )
    return click.option("--condition", default="", metavar="TEXT", help="In what condition the unit is now.")(command)


@click.group("damage")
def damage_group() -> None:
    """Note damage and loss, with what an owner and an insurer ask for."""


@damage_group.command("add")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("what")
@click.option(
    "--lost",
    type=click.Choice(("unit", "part")),
    metavar="unit|part",
    help="It is lost: the unit, which then stands missing, or a part.",
)
@click.option("--on", default="", metavar="DATE", help="Day it was found (else today).")
@field_options(*_SAYS, named=_NAMED, reason=False)
@_state
@_PHOTOS
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def add_command(
    face: Face,
    /,
    tag: str,
    what: str,
    lost: str | None,
    on: str,
    condition: str,
    grade: str,
    photos: tuple[str, ...],
    as_json: bool,
    **told: str | None,
) -> None:
    """Note damage to a unit, or its loss.

    \b
    spindlebook damage add D4 "bezel cracked" --reported-by "Ada Field" \\
      --circumstances "fell in the car" --photo front=front.jpg
    spindlebook damage add D6 "not there after the fair" --lost unit

    WHAT says what is broken or lost. A loan that the unit is on that day is found by itself. It stays open until
    damage close, and damage show says what is still to be told. A damaged unit stands as it stood and can be lent: a
    fault (fault add) holds it back.

    Keys of --json: those of damage show.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.acts.damage import GivenDamage, add_damage
    from collection.cli.damage_show import case_object, show_case

    given = GivenDamage(
        kind="loss" if lost else "damage",
        what=what,
        missing=lost == "unit",
        condition=condition,
        grade=grade,
        photos=tuple(map(named_photo, photos)),
        **{name: text or "" for name, text in told.items()},
    )
    made = add_damage(face.engine(), tag, given, on=on, today=face.today, now=face.now)
    if as_json:
        emit_object(case_object(face, made.name))
    else:
        show_case(face, made.name)


@damage_group.command("edit")
@click.argument("name")
@field_options(
    ("what", "TEXT", "What is broken or lost."),
    ("found", "DATE", "Day it was found; needs --reason."),
    *_SAYS,
    ("settled", "SUM", "What was paid for it."),
    ("settled-on", "DATE", "Day it was paid."),
    ("outcome", "TEXT", "Of one that is closed: what came of it."),
    named={"found": "found_on", **_NAMED},
)
@_state
@_PHOTOS
@click.pass_obj
def edit_command(
    face: Face, /, name: str, condition: str, grade: str, photos: tuple[str, ...], reason: str, **told: str | None
) -> None:
    """Tell more of a damage or loss, or put right what it says.

    An empty text takes a value away. NAME is its reference number, as damage list shows it. One that is closed needs a
    --reason; what it said before stays in the history.
    """
    from collection.acts.damage import Shown, edit_damage

    given = {column: text for column, text in told.items() if text is not None}
    if not (given or photos or condition or grade):
        raise click.UsageError("Nothing to change is given.")
    shown = Shown(condition, grade, tuple(map(named_photo, photos)))
    edited = edit_damage(face.engine(), name, given, shown, reason=reason, today=face.today, now=face.now)
    if condition:
        say(f"{edited.name}: condition noted.")
    if photos:
        say(f"{edited.name}: {len(photos)} attached.")
    if edited.changes or not (photos or condition):
        tell_edited(edited)


@damage_group.command("close")
@click.argument("name")
@click.option(
    "--outcome", required=True, metavar="TEXT", help="What came of it: mended, replaced, left so, found again."
)
@click.option("--settled", default="", metavar="SUM", help='What was paid for it, as 40 or "40 EUR".')
@click.option("--on", default="", metavar="DATE", help="Day it was closed (else today).")
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def close_command(face: Face, /, name: str, as_json: bool, **told: Any) -> None:
    """Close a damage or loss with what came of it.

    A unit that was lost stays missing: one that is found again is entered with unit enter --standing. Keys of --json:
    those of damage list.
    """
    from collection.acts.damage import close_damage
    from collection.views.units import find_unit, unit_on

    closed = close_damage(face.engine(), name, today=face.today, now=face.now, **told)
    if as_json:
        emit_object(damage_row(closed))
        return
    say(f"{closed.name} ({closed.tag}, {closed.what}) closed {closed.closed_on}: {closed.closed_how}.")
    with face.view() as conn:
        unit = unit_on(conn, find_unit(conn, closed.tag).id, face.today)
    if unit.standing == "missing":
        say(f"{unit.tag} stands missing. Found again? spindlebook unit enter {typed(unit.tag)} --standing WORD")


@damage_group.command("show")
@click.argument("name")
@past_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def show_command(face: Face, name: str, as_json: bool) -> None:
    """Show a damage or loss, and what is still to be told of it.

    The keys of --json stand in docs/json-keys.md.
    """
    from collection.cli.damage_show import case_object, show_case

    if as_json:
        emit_object(case_object(face, name))
    else:
        show_case(face, name)


@damage_group.command("list")
@click.argument("tag", required=False, default="", shell_complete=complete_tag)
@click.option("--all/--open", "closed_too", help="Closed ones too, or open ones alone.  [default: open]")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, tag: str, closed_too: bool, sort: str, mode: Mode) -> None:
    """List damage and losses, of one unit or of all.

    Keys of --json: damage, tag, kind, found_on, what, circumstances, reported_on, reported_by, by, loan, estimate,
    currency, owner_told_on, insurer_told_on, policy, claim, actions, settled_on, settled, closed_on, outcome.
    """
    from collection.store.book import open_book
    from collection.views.damage import damage_list
    from collection.views.units import find_unit

    with face.view() as conn:
        listed = damage_list(conn, find_unit(conn, tag).id if tag else None)
        form = open_book(conn).settings.date_form
    rows = [damage_row(each) for each in listed if closed_too or each.still_open]
    columns = _in_table(form, closed=closed_too) if mode == "table" else _COLUMNS
    empty = "No damage and no loss." if closed_too else "No open damage or loss; --all lists closed ones too."
    emit(in_order(rows, _COLUMNS, sort), columns, mode, under="outcome", empty=empty)


def _in_table(form: str, *, closed: bool) -> list[Column]:
    from collection.quantity import show_day

    def day(value: Any) -> str:
        return show_day(value, form) if value else ""

    return [
        Column("damage"),
        Column("tag"),
        Column("kind"),
        Column("found_on", "found", day),
        Column("what"),
        Column("loan"),
        Column("estimate", right=True),
        Column("owner_told_on", "owner told", day),
        Column("insurer_told_on", "insurer told", day),
        Column("closed_on", "closed", day, in_table=closed),
    ]


_COLUMNS = tuple(map(Column, DAMAGE_KEYS))
