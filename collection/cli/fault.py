"""fault: note, close and list the faults of units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.show import Column, Mode, emit, emit_object, output_options, say
from collection.cli.tags import complete_tag

if TYPE_CHECKING:
    from collection.views.faults import Fault


@click.group("fault")
def fault_group() -> None:
    """Note and close the faults of units."""


@fault_group.command("add")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("symptom")
@click.option("--on", default="", metavar="DATE", help="Day it was noticed (else today).")
@click.option("--circumstances", default="", metavar="TEXT", help="When it shows: cold, after an hour, one disk only.")
@click.option("--by", default="", metavar="PERSON", help="Who noticed it.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def add_command(face: Face, /, tag: str, symptom: str, as_json: bool, **told: Any) -> None:
    """Note a fault: what is seen, heard or read.

    While it is open the unit is not called ready and not lent, and procedures that its words call for are due.
    """
    from collection.acts.faults import add_fault

    fault = add_fault(face.engine(), tag, symptom, today=face.today, now=face.now, **told)
    if as_json:
        emit_object(_object(fault))
        return
    say(f'{fault.tag}: fault {fault.number} "{fault.symptom}", noticed {fault.noticed_on}.')
    say(f"To close it: spindlebook fault close {fault.tag} --cause TEXT --cure TEXT")


@fault_group.command("close")
@click.argument("tag", shell_complete=complete_tag)
@click.option("--which", default="", metavar="NUMBER|WORDS", help="Which fault, where several are open.")
@click.option("--cause", default="", metavar="TEXT", help="What it came from.")
@click.option("--cure", default="", metavar="TEXT", help="What helped.")
@click.option("--no-fault-found", is_flag=True, help="Nothing was found.")
@click.option("--on", default="", metavar="DATE", help="Day it was closed (else today).")
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def close_command(face: Face, /, tag: str, as_json: bool, **told: Any) -> None:
    """Close a fault, with what it came from and what helped."""
    from collection.acts.faults import close_fault

    fault = close_fault(face.engine(), tag, today=face.today, now=face.now, **told)
    if as_json:
        emit_object(_object(fault))
        return
    how = "no fault found" if fault.no_fault_found else ", ".join(filter(None, (fault.cause, fault.cure)))
    say(f'{fault.tag}: fault {fault.number} "{fault.symptom}" closed {fault.closed_on} ({how}).')


@fault_group.command("list")
@click.argument("tag", required=False, default="", shell_complete=complete_tag)
@click.option("--all", "closed_too", is_flag=True, help="Closed ones too.")
@output_options
@click.pass_obj
def list_command(face: Face, tag: str, closed_too: bool, mode: Mode) -> None:
    """List open faults, of one unit or of all.

    Keys of --json: tag, number, noticed_on, symptom, circumstances, cause, cure, no_fault_found, closed_on, service,
    by.
    """
    from collection.views.faults import fault_list
    from collection.views.units import find_unit

    with face.view() as conn:
        faults = fault_list(conn, find_unit(conn, tag).id if tag else None)
    rows = [_object(fault) for fault in faults if closed_too or not fault.closed_on]
    emit(rows, _COLUMNS, mode, empty="No fault." if closed_too else "No open fault; --all lists closed ones too.")


def _object(fault: Fault) -> dict[str, Any]:
    values = {column.key: getattr(fault, column.key) for column in _COLUMNS}
    return {key: None if value == "" else value for key, value in values.items()}


_COLUMNS = (
    Column("tag"),
    Column("number", "no"),
    Column("noticed_on", "noticed"),
    Column("symptom"),
    Column("circumstances", in_table=False),
    Column("cause"),
    Column("cure"),
    Column("no_fault_found", in_table=False),
    Column("closed_on", "closed"),
    Column("service", in_table=False),
    Column("by", in_table=False),
)
