"""fault: note, close and list the faults of units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.edit_options import field_options, given_of, tell_edited
from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, sort_option
from collection.cli.show import Column, Mode, emit, emit_object, note, output_options, say
from collection.cli.tags import complete_tag
from collection.errors import typed

if TYPE_CHECKING:
    from collection.analysis.symptoms import Alike, Known
    from collection.views.faults import Fault


@click.group("fault")
def fault_group() -> None:
    """Note and close the faults of units."""


@fault_group.command("add")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("symptom")
@click.option("--on", default="", metavar="DATE", help="Day it was noticed (else today).")
@click.option("--when", "circumstances", default="", metavar="TEXT", help="When it shows: cold, warm, one track ...")
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
    say(f"To close it: spindlebook fault close {typed(fault.tag)} --cause TEXT --cure TEXT")
    _tell_seen_before(face, fault)


def _tell_seen_before(face: Face, fault: Fault) -> None:
    """Say how faults like a new one ended."""
    from collection.analysis.symptoms import summed_up
    from collection.views.fault_search import faults_like

    with face.view() as conn:
        closed = [each for each in faults_like(conn, fault.symptom) if each.fault.closed_on]
    if closed:
        say(f"{summed_up(closed)}. See: spindlebook fault find {typed(fault.symptom)}")


@fault_group.command("close")
@click.argument("tag", shell_complete=complete_tag)
@click.option("--which", default="", metavar="NUMBER|WORDS", help="Which fault, where several are open.")
@click.option("--cause", default="", metavar="TEXT", help="What it came from.")
@click.option("--cure", default="", metavar="TEXT", help="What helped.")
@click.option("--no-fault-found", is_flag=True, help="Nothing was found.")
@click.option("--on", default="", metavar="DATE", help="Day it was closed (else today).")
@click.option("--service", default="", metavar="NAME", help="The service it was mended in (else the open one).")
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


@fault_group.command("edit")
@click.argument("tag", shell_complete=complete_tag)
@click.option("--which", default="", metavar="NUMBER|WORDS", help="Which fault, where there are several.")
@field_options(
    ("symptom", "TEXT", "What is seen, heard or read."),
    ("when", "TEXT", "When it shows: cold, warm, one track ..."),
    ("noticed", "DATE", "Day it was noticed."),
    ("cause", "TEXT", "What it came from."),
    ("cure", "TEXT", "What helped."),
    ("closed", "DATE", "Day it was closed."),
    ("by", "PERSON", "Who noticed it."),
    named={"when": "circumstances", "noticed": "noticed_on", "closed": "closed_on"},
)
@click.pass_obj
def edit_command(face: Face, /, tag: str, which: str, reason: str, **told: str | None) -> None:
    """Correct what a fault says.

    An empty text takes a value away. A closed fault needs a --reason; what it said before stays in the history.
    """
    from collection.acts.faults import edit_fault

    tell_edited(
        edit_fault(face.engine(), tag, given_of(told), which=which, reason=reason, today=face.today, now=face.now)
    )


@fault_group.command("list")
@click.argument("tag", required=False, default="", shell_complete=complete_tag)
@click.option("--all/--open", "closed_too", help="Closed ones too, or open ones alone.  [default: open]")
@click.option("--model", default="", metavar="NAME", help="Only of units of this model.")
@click.option("--symptom", default="", metavar="WORDS", help="Only those whose symptom has these words.")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, tag: str, closed_too: bool, model: str, symptom: str, sort: str, mode: Mode) -> None:
    """List open faults, of one unit or of all.

    Keys of --json: tag, number, noticed_on, symptom, circumstances, cause, cure, no_fault_found, closed_on, service,
    by.
    """
    from collection.views.faults import chosen_faults

    with face.view() as conn:
        faults = chosen_faults(conn, tag, model, symptom)
    rows = [_object(fault) for fault in faults if closed_too or not fault.closed_on]
    listed = in_order(rows, _COLUMNS, sort)
    emit(listed, _COLUMNS, mode, empty="No fault." if closed_too else "No open fault; --all lists closed ones too.")


@fault_group.command("find")
@click.argument("words", nargs=-1, required=True)
@click.option("--model", default="", metavar="NAME", help="This model first, then others of its kind.")
@past_options
@output_options
@click.pass_obj
def find_command(face: Face, words: tuple[str, ...], model: str, mode: Mode) -> None:
    """Find faults by their symptom, and what cured them.

    Other endings and slips of the finger are found too; more than half of the words must be there.

    Keys of --json: tag, model, sort (same model, same kind), noticed_on, symptom, circumstances, cause, cure,
    no_fault_found, closed_on, days (from noticing to closing).
    """
    from collection.analysis.symptoms import summed_up
    from collection.views.fault_search import faults_like

    with face.view() as conn:
        found = faults_like(conn, " ".join(words), model)
    rows = [_hit(each) for each in found]
    emit(
        rows,
        _HITS_SHOWN if mode == "table" else [Column(key) for key in _HIT_KEYS],
        mode,
        empty="No fault like it is in the book.",
    )
    if found:
        tell = say if mode == "table" else note
        tell(f"{summed_up(found)}.")


def _hit(hit: Alike) -> dict[str, Any]:
    fault = hit.fault
    keys = ("tag", "model", "noticed_on", "symptom", "circumstances", "cause", "cure", "closed_on")
    return {key: getattr(fault, key) or None for key in keys} | {
        "sort": hit.sort or None,
        "no_fault_found": fault.no_fault_found,
        "days": hit.days,
        "what": f"{fault.symptom} ({fault.circumstances})" if fault.circumstances else fault.symptom,
        "end": _end(fault),
    }


def _end(fault: Known) -> str:
    """Say how a fault ended: cause and cure, nothing found, or not yet."""
    if not fault.closed_on:
        return "still open"
    return "no fault found" if fault.no_fault_found else ": ".join(filter(None, (fault.cause, fault.cure)))


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
_HIT_KEYS = (
    "tag", "model", "sort", "noticed_on", "symptom", "circumstances", "cause", "cure", "no_fault_found", "closed_on",
    "days",
)  # fmt: skip
_HITS_SHOWN = (
    Column("tag"),
    Column("model"),
    Column("noticed_on", "noticed"),
    Column("what", "symptom"),
    Column("end", "cause and cure"),
    Column("days"),
)
