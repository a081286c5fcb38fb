"""loan: lend units, take them back, list what is out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.edits import loan_edit_command
from collection.cli.face import Face
from collection.cli.loan_overdue import loan_overdue_command
from collection.cli.past import past_options
from collection.cli.rows import in_order, naming, sort_option
from collection.cli.show import Column, Mode, emit, output_options, say
from collection.cli.tags import complete_tag

if TYPE_CHECKING:
    from collection.views.loans import LoanRow


@click.group("loan")
def loan_group() -> None:
    """Lend units and take them back."""


@loan_group.command("out")
@click.argument("tags", nargs=-1, required=True, metavar="TAG...", shell_complete=complete_tag)
@click.option("--to", required=True, metavar="PERSON", help="Who borrows.")
@click.option("--due", required=True, metavar="DATE", help="Day it is due back.")
@click.option("--on", default="", metavar="DATE", help="Day it goes out (else today).")
@click.option("--purpose", default="", metavar="TEXT", help="What it is lent for.")
@click.option("--deposit", default="", metavar="SUM", help='As 50, or "50 EUR".')
@click.option("--anyway", default="", metavar="REASON", help="Lend it though it is not ready or has a fault.")
@output_options
@click.pass_obj
def out_command(face: Face, /, tags: tuple[str, ...], mode: Mode, **told: Any) -> None:
    """Lend units to a person.

    A unit must be ready and without an open fault, or --anyway gives the reason. It stands on loan until it is
    back. Keys of --json: those of loan list.
    """
    from collection.acts.loans import lend

    rows = lend(face.engine(), tags, today=face.today, now=face.now, **told)
    emit([_object(row) for row in rows], _columns(_form(face), back=False), mode)
    if mode == "table":
        say(f"To take back: spindlebook loan back {' '.join(row.tag for row in rows)}")


@loan_group.command("back")
@click.argument("tags", nargs=-1, required=True, metavar="TAG...", shell_complete=complete_tag)
@click.option("--on", default="", metavar="DATE", help="Day it came back (else today).")
@click.option("--condition", default="", metavar="TEXT", help="How it came back.")
@click.option("--complaint", default="", metavar="TEXT", help="What the borrower says is wrong: it becomes a fault.")
@output_options
@click.pass_obj
def back_command(face: Face, /, tags: tuple[str, ...], mode: Mode, **told: Any) -> None:
    """Take units back from loan.

    A unit stands again as it stood before. A complaint becomes an open fault, and the unit is due for a look.
    Keys of --json: those of loan list.
    """
    from collection.acts.loans import take_back
    from collection.views.service_report import next_due
    from collection.views.units import find_unit, unit_on

    rows = take_back(face.engine(), tags, today=face.today, now=face.now, **told)
    emit([_object(row) for row in rows], _columns(_form(face), back=True), mode)
    if mode != "table":
        return
    with face.view() as conn:
        for row in rows:
            unit = unit_on(conn, find_unit(conn, row.tag).id, face.today)
            due = [item.procedure for item in next_due(conn, unit.id, face.today) if item.due <= face.today]
            say(f"{unit.tag} stands {unit.standing or 'nowhere yet'}; due: {', '.join(due) or 'nothing'}.")
            if told["complaint"]:
                say(f'Fault "{told["complaint"]}" is open. Seen before? spindlebook fault find "{told["complaint"]}"')


@loan_group.command("list")
@click.option("--all", "closed_too", is_flag=True, help="Loans that are back too.")
@click.option("--person", default="", metavar="NAME", help="Only what this person has, or lent.")
@click.option("--direction", default="", metavar="out|in", help="Only what is lent out, or borrowed.")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, /, closed_too: bool, sort: str, mode: Mode, **wanted: str) -> None:
    """List what is on loan, by the day it is due.

    Keys of --json: loan, direction, tag, person, out_on, due_on, back_on, purpose, condition_out, condition_back,
    deposit, currency, days_over (negative while the day is ahead).
    """
    from collection.views.loans import loan_list

    with face.view() as conn:
        rows = loan_list(conn, face.today, closed_too=closed_too)
    columns = _columns(_form(face), back=closed_too)
    chosen = in_order(naming([_object(row) for row in rows], **wanted), columns, sort)
    emit(chosen, columns, mode, empty="Nothing is on loan.")


loan_group.add_command(loan_edit_command)
loan_group.add_command(loan_overdue_command)


def _object(row: LoanRow) -> dict[str, Any]:
    texts = {key: getattr(row, key) or None for key in _TEXTS}
    money = {"deposit": row.deposit and row.deposit.text, "currency": row.deposit and row.deposit.currency}
    return texts | money | {"days_over": row.days_over}


_TEXTS = (
    "loan", "direction", "tag", "person", "out_on", "due_on", "back_on", "purpose", "condition_out", "condition_back",
)  # fmt: skip


def _form(face: Face) -> str:
    from collection.store.book import open_book

    with face.view() as conn:
        return open_book(conn).settings.date_form


def _columns(form: str, *, back: bool) -> list[Column]:
    from collection.quantity import show_day

    def day(value: str | None) -> str:
        return show_day(value, form) if value else ""

    return [
        Column("loan"),
        Column("direction", in_table=False),
        Column("tag"),
        Column("person"),
        Column("out_on", "out", day),
        Column("due_on", "due", day),
        Column("back_on", "back", day, in_table=back),
        Column("purpose"),
        Column("condition_out", in_table=False),
        Column("condition_back", in_table=False),
        Column("deposit"),
        Column("currency", ""),
        Column("days_over", "days over", lambda days: str(days) if days > 0 else ""),
    ]
