"""import and export: the folder of CSV files in and out, and a person's own workbook in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from collection.cli.backups import keep_before_import
from collection.cli.export_workbook import workbook_command
from collection.cli.face import Face
from collection.cli.show import Column, confirm, emit, note, progress, say
from collection.cli.whole import Whole
from collection.errors import path_typed

if TYPE_CHECKING:
    from collection.acts.bring_in.plan import Plan
    from collection.acts.bring_in.sheet import Finding
    from collection.exchange.sheets_plan import WorkbookPlan

_LISTED = 20
_TOLD = ("refused", "doubtful", "left out", "changed", "new")
_WHAT = {
    "refused": "refused: nothing is written before these are put right",
    "doubtful": "doubtful: written with a mark",
    "left out": "left out: not brought in",
    "changed": "changed",
    "new": "new",
}
_PLACE = (Column("record"), Column("file"), Column("row"))
_SHEET_PLACE = (Column("record"), Column("sheet"), Column("row"))
_REASON = (Column("column"), Column("value"), Column("rule"))


def _day(_ctx: click.Context, _param: click.Parameter, value: str | None) -> str | None:
    """Read a (partial) day."""
    from collection.quantity import parse_day

    return None if value is None else parse_day(value).text


@click.command("import")
@click.argument("folder", metavar="FOLDER|FILE", type=click.Path(path_type=Path), required=False)
@click.option("--yes", is_flag=True, help="Write without asking.")
@click.option(
    "--map",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    help="What the columns of a workbook become: read from this file, or written to it where there is none.",
)
@click.option(
    "--template",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write an empty workbook (.xlsx) to fill in, and bring nothing in.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object: totals, and every row.")
@click.option("--report", type=click.Path(path_type=Path, dir_okay=False), help="Save that object to this file.")
@click.option("--encoding", metavar="NAME", help="Encoding of files without a byte-order mark, if not UTF-8.")
@click.option("--decimal-comma", is_flag=True, help="Numbers of a folder are written 12,5.")
@click.option(
    "--last-done",
    metavar="DAY",
    callback=_day,
    help="Units without history were last done about then (2023, 2023-05, 2023-05-17).",
)
@click.option(
    "--spread",
    type=Whole(1, 1200),
    metavar="MONTHS",
    help="Units without history fall due evenly over so many months.",
)
@click.option(
    "--conflicts",
    type=click.Choice(("book", "sheet")),
    help="Of an exported workbook: which stands where a cell was changed in the book as well since the export.",
)
@click.option("--reason", default="", metavar="TEXT", help="Why the past is corrected; the history keeps it.")
@click.pass_obj
def import_command(face: Face, /, folder: Path | None, **given: Any) -> None:
    """Bring in your own workbook, or a folder of CSV files.

    Of your own workbook (.xlsx) or CSV file it shows first what each column is taken for, and asks at a terminal
    where that is unsure.

    Of a workbook that "export workbook" wrote it shows each cell that was changed, in the book and in the sheet.

    Shows then what is new, changed, the same, doubtful or refused; writes all of it or nothing, as one act that can
    be undone. Keys of --json: totals (new, changed, same, doubtful, refused; of a workbook also left out, and of an
    exported one conflict and from another book), rows (kind, record, file, row, column, value, rule, sheet, old).
    """
    if given["template"]:
        _write_template(face, given["template"], folder)
        return
    if folder is None:
        raise click.UsageError("Missing argument 'FOLDER|FILE'.")
    if given["last_done"] and given["spread"]:
        raise click.UsageError("Give --last-done or --spread, not both: each tells when unrecorded work comes due.")
    own = folder.is_file() or (folder.suffix.lower() in (".xlsx", ".csv") and not folder.is_dir())
    if folder.is_file() and folder.suffix.lower() == ".xlsx":
        from collection.exchange.book_back_read import is_exported

        if is_exported(folder):
            from collection.cli.book_back import bring_back

            bring_back(face, folder, given)
            return
    if given["conflicts"] or given["reason"]:
        raise click.UsageError('--conflicts and --reason are for a workbook that "export workbook" wrote.')
    if own:
        from collection.cli.workbook import compare_workbook

        _refuse_later(face, given["last_done"])
        plan: Plan | WorkbookPlan = compare_workbook(face, folder, given, quiet=given["as_json"])
    else:
        plan = _compare(face, folder, given)
    if given["report"]:
        from collection.exchange.plan_report import save_report

        save_report(given["report"], plan.totals, plan.rows())
    if given["as_json"]:
        _bring_in_for_program(face, plan, folder, given["yes"])
    else:
        _bring_in_for_person(face, plan, folder, given["yes"])


def _compare(face: Face, folder: Path, given: dict[str, Any]) -> Plan:
    """Read the folder and compare it with the book."""
    from collection.acts.bring_in.plan import plan_import, unreadable
    from collection.acts.bring_in.state import Options
    from collection.exchange.folder_read import read_folder

    _refuse_later(face, given["last_done"])
    with face.view() as connection:
        with progress("reading bytes") as tick:
            read = read_folder(folder, encoding=given["encoding"], tick=tick)
        if read.left_out:
            note(f"Not read, since they are no CSV files: {', '.join(read.left_out)}")
        if read.refused:
            return unreadable(read.tables, read.refused)
        options = Options(given["decimal_comma"], given["last_done"], given["spread"])
        with progress("comparing rows") as tick:
            return plan_import(connection, read.tables, today=face.today, options=options, tick=tick)


def _write_template(face: Face, file: Path, folder: Path | None) -> None:
    """Write an empty workbook that the import reads without a question; it offers the names of the book, if any."""
    if folder is not None:
        raise click.UsageError("--template writes an empty workbook and brings nothing in: name no folder beside it.")
    from collection.errors import NoBook
    from collection.exchange.workbook_template import write_template
    from collection.views.choices import choices

    try:
        with face.view() as connection:
            offered = choices(connection)
    except NoBook:
        write_template(file)
    else:
        write_template(file, **offered)
    say(f"Written to {file}. Fill it in, then: spindlebook import {path_typed(file)}")


def _refuse_later(face: Face, last_done: str | None) -> None:
    from collection.errors import Refused
    from collection.quantity import parse_day

    if last_done is not None and parse_day(last_done).first > face.today:
        raise Refused(f"--last-done {last_done} is later than today ({face.today}).", "Give a day that has come.")


def _bring_in_for_program(face: Face, plan: Plan | WorkbookPlan, folder: Path, yes: bool) -> None:
    from collection.exchange.plan_report import write_report

    if yes and plan.writable and not plan.changes_nothing:
        _write(face, plan, folder)
    write_report(lambda text: click.echo(text.encode("utf-8", "replace"), nl=False), plan.totals, plan.rows())
    _leave_if_refused(plan)
    if not yes and not plan.changes_nothing:
        note("Nothing was written; --yes writes.")


def _bring_in_for_person(face: Face, plan: Plan | WorkbookPlan, folder: Path, yes: bool) -> None:
    say("   ".join(f"{kind} {plan.totals[kind]:,}" for kind in plan.totals))
    for kind, rows in _first_of_each(plan).items():
        _show_kind(kind, rows, plan.totals[kind])
    _leave_if_refused(plan)
    if plan.changes_nothing:
        say(f"The book has all {plan.totals['same']:,} rows already: nothing to do.")
    elif confirm("Write this into the book?", yes=yes):
        _write(face, plan, folder)
        say(f"Written: {_in_words(plan)}. To take it back: spindlebook undo")
    else:
        say("Nothing was written.")


def _first_of_each(plan: Plan | WorkbookPlan) -> dict[str, list[Finding]]:
    """Return the first rows of every kind that is worth a look."""
    found: dict[str, list[Finding]] = {kind: [] for kind in _TOLD if plan.totals.get(kind)}
    missing = sum(min(_LISTED, plan.totals[kind]) for kind in found)
    for row in plan.rows():
        if not missing:
            break
        if row.kind in found and len(found[row.kind]) < _LISTED:
            found[row.kind].append(row)
            missing -= 1
    return found


def _show_kind(kind: str, rows: list[Finding], total: int) -> None:
    more = f" (the first {len(rows)} of {total:,}; --json and --report have all)" if total > len(rows) else ""
    say("", f"{_WHAT[kind]}{more}")
    if kind != "new" and any(row.sheet for row in rows):
        for sheet in dict.fromkeys(row.sheet for row in rows):
            say(f"sheet {sheet}")
            own = sorted((row for row in rows if row.sheet == sheet), key=lambda row: row.row or 0)
            emit([row._asdict() for row in own], (Column("row"), *_REASON))
        return
    place = _SHEET_PLACE if any(row.sheet for row in rows) else _PLACE
    columns = place if kind == "new" and not any(row.column for row in rows) else (*place, *_REASON)
    emit([row._asdict() for row in rows], columns)


def _leave_if_refused(plan: Plan | WorkbookPlan) -> None:
    from collection.acts.bring_in.plan import Plan
    from collection.errors import Refused

    if not plan.writable:
        number = plan.totals["refused"]
        what = "1 thing is refused" if number == 1 else f"{number:,} things are refused"
        correct = (
            "Correct the files" if isinstance(plan, Plan) else "Correct them, or leave their rows out by --map FILE"
        )
        raise Refused(f"{what}; nothing was written.", f"{correct}, then repeat the command.")


def _write(face: Face, plan: Plan | WorkbookPlan, folder: Path) -> None:
    from collection.acts.bring_in.plan import Plan
    from collection.acts.bring_in.write import bring_in

    whole = plan if isinstance(plan, Plan) else plan.plan
    keep_before_import(face)
    with progress("writing rows") as tick:
        bring_in(face.engine(), whole, today=face.today, now=face.now, where=folder.resolve().name, tick=tick)


def _in_words(plan: Plan | WorkbookPlan) -> str:
    return ", ".join(f"{plan.totals[kind]:,} {kind}" for kind in ("new", "changed", "doubtful") if plan.totals[kind])


@click.group("export")
def export_group() -> None:
    """Write the book as files."""


export_group.add_command(workbook_command)


@export_group.command("folder")
@click.argument("folder", type=click.Path(path_type=Path))
@click.pass_obj
def export_folder_command(face: Face, folder: Path) -> None:
    """Write the book as a folder of CSV files, which import reads again."""
    from collection.exchange.folder_write import write_folder

    with face.view() as connection, progress("writing files") as tick:
        written = write_folder(connection, folder, today=face.today, tick=tick)
    emit([{"file": file, "rows": rows} for file, rows in written.items()], (Column("file"), Column("rows")))
    say(f"Written to {folder}: {sum(written.values()):,} rows in {len(written)} files.")
    if "people.csv" in written:
        note("people.csv holds names and addresses: mind who gets the folder.")
