"""safety: note electrical safety checks of units, and see what stands against lending one that is fed from mains."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, sort_option
from collection.cli.show import Column, Mode, emit, note, output_options, say
from collection.cli.tags import complete_tag
from collection.errors import typed

if TYPE_CHECKING:
    from collection.views.safety import SafetyRow


@click.group("safety")
def safety_group() -> None:
    """Note electrical safety checks, as a competent person made them."""


@safety_group.command("add")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("result", metavar="pass|fail")
@click.option("--by", default="", metavar="PERSON", help="The competent person (else --who of the command).")
@click.option("--on", default="", metavar="DATE", help="Day of the check, maybe only 2026-02 (else today).")
@click.option("--rule", default="", metavar="TEXT", help="By which rule or form it was checked.")
@click.option("--good-through", default="", metavar="DATE", help="Last day for which it is good, as that person says.")
@click.option("--note", default="", metavar="TEXT", help="Anything else.")
@output_options
@click.pass_obj
def add_command(face: Face, /, tag: str, mode: Mode, **told: Any) -> None:
    """Note the electrical safety check of a unit.

    Caution: mains kills. The check itself is for a competent person, by the rules of the place; this keeps only what
    that person found. A unit fed from the mains is not lent without one unless a reason is given, and none at all whose
    last check failed.

    spindlebook safety add P2 pass --by "Ada Quill" --good-through 2027-02-28

    Keys of --json: those of safety list.
    """
    from collection.acts.safety_checks import add_safety_check
    from collection.quantity import show_day
    from collection.store.book import open_book
    from collection.views.safety import safety_checks, safety_failed, safety_rows

    made = add_safety_check(face.engine(), tag, told.pop("result"), **told, today=face.today, now=face.now)
    with face.view() as conn:
        checks = safety_checks(conn, made.unit_id)
        rows = safety_rows(conn, face.today, made.unit_id)  # one for each check, in that order
        form, failed = open_book(conn).settings.date_form, safety_failed(conn, made.unit_id)
    _show([row for check, row in zip(checks, rows, strict=True) if check.id == made.id], form, mode)
    holds = checks[0]
    if mode == "table" and holds.id != made.id:
        say(f"What holds is the check of {show_day(holds.checked_on, form)}: {holds.result}.")
    if mode == "table" and failed:
        say(f"Caution: leave {made.tag} unplugged, and where nobody plugs it in; it is not lent until a check passes.")
    if failed:
        _tell_out(face, made.unit_id)


def _tell_out(face: Face, unit_id: int) -> None:
    """Say who has a unit that failed, beside what a program reads too: they may use it meanwhile."""
    from collection.views.units import unit_on

    with face.view() as conn:
        unit = unit_on(conn, unit_id, face.today)
    if unit.loan is not None:
        back = f"Tell them, and ask for it back: spindlebook loan back {typed(unit.tag)}"
        note(f"{unit.tag} is out to {unit.loan.person} (loan {unit.loan.name}).", back)


@safety_group.command("list")
@click.argument("tag", required=False, default="", shell_complete=complete_tag)
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, tag: str, sort: str, mode: Mode) -> None:
    """List the last electrical safety check of every unit fed from the mains, or all of one unit.

    Units fed from the mains are those whose model says that a supply is inside, supply units, computers, drives with an
    AC motor, and what came set for a mains voltage. Where a check tells no last day, the rule of the book counts:
    spindlebook book set --safety-months 24

    Keys of --json: tag, checked_on, result (pass, fail), by, rule, good_through (as told, or by the rule of the book),
    note, says (what is against lending it today).
    """
    from collection.store.book import open_book
    from collection.views.safety import safety_rows
    from collection.views.units import find_unit

    with face.view() as conn:
        unit = find_unit(conn, tag) if tag else None
        rows = safety_rows(conn, face.today, unit and unit.id)
        form = open_book(conn).settings.date_form
    empty = (
        f"{unit.tag} has no electrical safety check, and is not fed from the mains as far as the book tells."
        if unit
        else "No unit is fed from the mains, as far as the book tells."
    )
    _show(rows, form, mode, sort, empty)


def _show(rows: Iterable[SafetyRow], form: str, mode: Mode, sort: str = "", empty: str = "") -> None:
    from collection.quantity import show_day

    def day(value: str | None) -> str:
        return show_day(value, form) if value else ""

    columns = [
        Column("tag"),
        Column("checked_on", "checked", day),
        Column("result"),
        Column("by"),
        Column("rule"),
        Column("good_through", "good through", day),
        Column("note", in_table=False),
        Column("says", "against lending"),
    ]
    shown = [{key: value or None for key, value in row._asdict().items()} for row in rows]
    emit(in_order(shown, columns, sort), columns, mode, under="note", empty=empty)
