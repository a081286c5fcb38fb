"""loan back: take units back, as they came, beside how they went out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.loan_rows import MORE, day_form, loan_columns, loan_objects, sum_words
from collection.cli.loan_words import finder, one_of_each, state_options, states, tell_doubts_of
from collection.cli.show import Column, Mode, emit, output_options, say
from collection.cli.tags import complete_tag
from collection.errors import typed

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from collection.views.loan_compare import Compared
    from collection.views.loans import LoanRow

_EACH = (
    ("--complaint", "complaints", "TEXT", "What the borrower says is wrong: it becomes a fault."),
    ("--missing", "missing", "TEXT", "What went along and did not come back: it becomes a loss."),
    ("--damage", "damage", "TEXT", "What is broken: it becomes a damage to follow up."),
    ("--estimate", "estimates", "SUM", "What that costs, as 40."),
    ("--lost", "lost", "TEXT", "The unit itself does not come back: what became of it."),
)


def _each_options(command: Any) -> Any:
    for option, name, stands, text in reversed(_EACH):
        command = click.option(option, name, multiple=True, metavar=stands, help=text)(command)
    return command


@click.command("back")
@click.argument("tags", nargs=-1, required=True, metavar="TAG...", shell_complete=complete_tag)
@click.option("--on", default="", metavar="DATE", help="Day it came back (else today).")
@state_options
@_each_options
@click.option("--by", default="", metavar="PERSON", help="Who takes it back (else --who of the command).")
@output_options
@click.pass_obj
def back_command(face: Face, /, tags: tuple[str, ...], on: str, by: str, mode: Mode, **told: Any) -> None:
    """Take units back from loan.

    \b
    spindlebook loan back D4 P6 --condition "D4: lid cracked"
      --damage "D4: lid cracked" --complaint "D4: reads slowly"

    What is told of one of several units begins with its tag. A unit stands again as it stood before. What it reads is
    shown beside what it read when it went out. A complaint becomes an open fault; what is broken or missing becomes a
    damage or loss, which asks for what an owner and an insurer need; a lost unit stands missing. The unit is due for a
    check after each loan.

    Keys of --json: those of loan list.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.acts.loan_back import take_back
    from collection.acts.loan_given import ComingBack

    find = finder(face)
    state = states(tags, told, find)
    each = {name: one_of_each(tags, told[name], option, find) for option, name, *_ in _EACH}
    units = [
        ComingBack(
            tag,
            state[tag],
            complaint=each["complaints"][tag],
            missing=each["missing"][tag],
            damage=each["damage"][tag],
            estimate=each["estimates"][tag],
            lost=each["lost"][tag],
        )
        for tag in tags
    ]
    rows = take_back(face.engine(), units, on=on, by=by, today=face.today, now=face.now)
    emit(loan_objects(rows), loan_columns(day_form(face), back=True), mode, under=MORE)
    tell_doubts_of(face, rows, "loan back", mode)
    if mode == "table":
        with face.view() as conn:
            tell_back(face, conn, rows)


def compared_rows(found: Sequence[Compared]) -> list[dict[str, Any]]:
    """Return what was read at coming back beside going out, under the keys of loan show."""
    return [
        {
            "tag": one.tag,
            "measurement": one.measurement,
            "point": one.point or None,
            "out": one.out or None,
            "out_on": one.out_on or None,
            "back": one.back,
            "back_on": one.back_on,
            "change": one.change or None,
            "limit": one.limit or None,
            "says": one.says,
        }
        for one in found
    ]


def compared_columns() -> list[Column]:
    """Return the columns of such rows."""
    return [
        Column("tag"),
        Column("measurement"),
        Column("point"),
        Column("out", "going out"),
        Column("out_on", in_table=False),
        Column("back", "coming back"),
        Column("back_on", in_table=False),
        Column("change"),
        Column("limit"),
        Column("says"),
    ]


def tell_back(face: Face, conn: Connection, rows: Sequence[LoanRow]) -> None:
    """Say what units read at coming back, how they stand and are due, what is damaged, and which deposit is here."""
    from collection.views.damage import damage_list
    from collection.views.loan_compare import compared

    read = [one for row in rows for one in compared(conn, row)]
    if read:
        say("", "Read at coming back, beside going out", bold=True)
        emit(compared_rows(read), compared_columns())
        say("")
    for row in rows:
        _tell_unit(face, conn, row)
        for each in reversed(damage_list(conn, row.unit_id)):
            if each.loan_item_id == row.item_id and each.found_on == row.back_on:
                say(f"{each.kind.capitalize()} {each.name}, {each.what}: spindlebook damage show {typed(each.name)}")
    for loan in dict.fromkeys(row.loan for row in rows):
        _tell_deposit(conn, face, loan)


def _tell_unit(face: Face, conn: Connection, row: LoanRow) -> None:
    """Say how a unit stands now, what it is due for, and which of its faults is new."""
    from collection.views.faults import open_faults_on
    from collection.views.service_report import next_due
    from collection.views.units import unit_on

    if row.condition_out and row.condition_back and not row.lost:
        say(f'{row.tag} went out "{row.condition_out}" and came back "{row.condition_back}".')
    unit = unit_on(conn, row.unit_id, face.today)
    due = dict.fromkeys(item.procedure for item in next_due(conn, unit.id, face.today) if item.due <= face.today)
    say(f"{unit.tag} stands {unit.standing or 'nowhere yet'}; due: {', '.join(due) or 'nothing'}.")
    for fault in open_faults_on(conn, unit.id, face.today):
        if fault.noticed_on == row.back_on:
            say(f'Fault "{fault.symptom}" is open. Seen before? spindlebook fault find {typed(fault.symptom)}')


def _tell_deposit(conn: Connection, face: Face, loan: str) -> None:
    """Say that a deposit is still here when the last unit of its loan is back."""
    from collection.views.loans import find_loan, items_of

    rows = items_of(conn, find_loan(conn, loan)[0], face.today)
    if rows[0].deposit and not rows[0].deposit_back and all(row.back_on for row in rows):
        ended = "over" if any(row.lost for row in rows) else "back"
        deposit = sum_words(rows[0].deposit)
        say(f"All of {loan} is {ended}. Its deposit of {deposit}: spindlebook loan deposit {typed(loan)}")
