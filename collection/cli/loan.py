"""loan: lend units, take them back, borrow and give back, reserve, list what is out."""

from __future__ import annotations

import click

from collection.cli.face import Face
from collection.cli.loan_back import back_command
from collection.cli.loan_change import deposit_command, edit_command, edit_unit_command, extend_command
from collection.cli.loan_in import give_back_command, in_command
from collection.cli.loan_out import out_command
from collection.cli.loan_overdue import loan_overdue_command
from collection.cli.loan_reserve import reservations_command, reserve_command, unreserve_command
from collection.cli.loan_rows import MORE, day_form, loan_columns, loan_object, terms_once
from collection.cli.loan_show import show_command
from collection.cli.past import past_options
from collection.cli.rows import in_order, naming, sort_option
from collection.cli.show import Mode, emit, output_options
from collection.cli.tags import complete_tag


@click.group("loan")
def loan_group() -> None:
    """Lend units and take them back."""


@loan_group.command("list")
@click.option("--all", "closed_too", is_flag=True, help="Loans that are back too.")
@click.option("--unit", "tag", default="", metavar="TAG", help="Only of this unit.", shell_complete=complete_tag)
@click.option("--person", default="", metavar="NAME", help="Only what this person has, or lent.")
@click.option("--direction", default="", metavar="out|in", help="Only what is lent out, or borrowed.")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, /, closed_too: bool, tag: str, sort: str, mode: Mode, **wanted: str) -> None:
    """List what is on loan, by the day it is due.

    Below a unit stands what its electrical safety has against its being out, where it was not lent all the same for
    that.

    Keys of --json: loan, direction, tag, person, out_on, due_on, back_on, days_over (negative while the day is ahead),
    along, purpose, deposit, currency, condition_out, condition_back, along_missing, cover, agreement, issued_by,
    taken_by, deposit_back_on, deposit_back, unsafe (what its electrical safety has against that).
    """
    from collection.views.loans import loan_list
    from collection.views.loans_unsafe import unsafe_out
    from collection.views.units import find_unit

    with face.view() as conn:
        rows = loan_list(conn, face.today, closed_too=closed_too, unit_id=find_unit(conn, tag).id if tag else None)
        unsafe = unsafe_out(conn, rows, face.today)
    columns = loan_columns(day_form(face), back=closed_too)
    told = [loan_object(row, unsafe.get(row.item_id, "")) for row in rows]
    chosen = terms_once(in_order(naming(told, **wanted), columns, sort))
    emit(chosen, columns, mode, empty="Nothing is on loan.", under=MORE)


for _command in (
    out_command,
    back_command,
    extend_command,
    reserve_command,
    unreserve_command,
    reservations_command,
    show_command,
    loan_overdue_command,
    edit_command,
    edit_unit_command,
    deposit_command,
    in_command,
    give_back_command,
):
    loan_group.add_command(_command)
