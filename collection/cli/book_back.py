"""import of a workbook that an export wrote: what was changed in it, cell by cell, and the question before writing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from collection.cli.backups import keep_before_import
from collection.cli.face import Face
from collection.cli.show import Column, answer, confirm, emit, has_person, note, progress, say

if TYPE_CHECKING:
    from collection.acts.book_back_given import Origin
    from collection.acts.book_back_plan import BackPlan, Prefer
    from collection.acts.bring_in.sheet import Finding

_LISTED = 40
_TOLD = {
    "refused": "refused: nothing is written before these are put right",
    "from another book": "from another book: nothing is written before these are put right",
    "conflict": "conflict: changed here, and in the book since the export",
    "doubtful": "doubtful: written with a mark",
    "changed": "changed",
    "new": "new",
    "left out": "left out: not brought in",
}
_NOTHING = "(nothing)"
_ROW, _RECORD, _COLUMN = Column("row"), Column("record"), Column("column")
_VALUES = (Column("old", "in the book"), Column("value", "in the sheet"))
_RULE = Column("rule", "why")
_COLUMNS = {
    "new": (_ROW, _RECORD),
    "changed": (_ROW, _RECORD, _COLUMN, *_VALUES),
    "conflict": (_ROW, _RECORD, _COLUMN, *_VALUES),
}


def bring_back(face: Face, path: Path, given: dict[str, Any]) -> None:
    """Compare an exported workbook with its book, show what was changed in it, and write that."""
    from collection.acts.book_back_plan import plan_back
    from collection.exchange.book_back_read import read_exported

    for option in ("map", "last_done", "spread"):
        if given[option]:
            told = option.replace("_", "-")
            raise click.UsageError(f"{path.name} was exported from the book and needs no --{told}.")
    with progress("reading rows"):
        found = read_exported(path)
    with face.view() as connection, progress("comparing rows") as tick:
        prefer: Prefer = given["conflicts"] or ""
        plan = plan_back(connection, found.origin, found.sheets, today=face.today, prefer=prefer, tick=tick)
    for told in found.told:
        note(told)
    if plan.moved:
        cells = "1 cell was" if plan.moved == 1 else f"{plan.moved:,} cells were"
        note(f"{cells} changed in the book alone since the export, and stay as they are there.")
    if given["report"]:
        from collection.exchange.plan_report import save_report

        save_report(given["report"], plan.totals, plan.rows())
    if given["as_json"]:
        _for_program(face, plan, found.origin, given)
    else:
        _for_person(face, plan, found.origin, given)


def _for_program(face: Face, plan: BackPlan, origin: Origin, given: dict[str, Any]) -> None:
    from collection.exchange.plan_report import write_report

    if given["yes"] and plan.writable and not plan.changes_nothing:
        _write(face, plan, origin, given["reason"])
    write_report(lambda text: click.echo(text.encode("utf-8", "replace"), nl=False), plan.totals, plan.rows())
    if not plan.writable:
        _leave(plan)
    if not given["yes"] and not plan.changes_nothing:
        note("Nothing was written; --yes writes.")


def _for_person(face: Face, plan: BackPlan, origin: Origin, given: dict[str, Any]) -> None:
    say("   ".join(f"{kind} {number:,}" for kind, number in plan.totals.items() if number or kind in _ALWAYS))
    for kind, told in _TOLD.items():
        if plan.totals[kind]:
            _show(kind, told, [finding for finding in plan.findings if finding.kind == kind])
    if not plan.writable:
        _leave(plan)
    if plan.changes_nothing:
        say(f"The book says all of it already ({plan.totals['same']:,} rows the same): nothing to do.")
        return
    reason = _reason(plan, given)
    if not confirm("Write this into the book?", yes=given["yes"]):
        say("Nothing was written.")
        return
    _write(face, plan, origin, reason)
    written = ", ".join(f"{plan.totals[kind]:,} {kind}" for kind in ("new", "changed") if plan.totals[kind])
    say(f"Written: {written}. To take it back: spindlebook undo")
    note("The book is ahead of this workbook now: export it anew before you change more of it.")


_ALWAYS = ("new", "changed", "same")


def _show(kind: str, told: str, findings: list[Finding]) -> None:
    """Show the findings of one kind, sheet by sheet, up to a number that a screen takes."""
    more = (
        f" (the first {_LISTED} of {len(findings):,}; --json and --report have all)" if len(findings) > _LISTED else ""
    )
    say("", f"{told}{more}")
    listed = findings[:_LISTED]
    for sheet in dict.fromkeys(finding.sheet for finding in listed):
        own = [finding for finding in listed if finding.sheet == sheet]
        rows = [_shown(finding) for finding in sorted(own, key=lambda finding: finding.row or 0)]
        columns = _COLUMNS.get(kind, (_ROW, _RECORD, _COLUMN, Column("value")))
        rules = list(dict.fromkeys(row["rule"] for row in rows))
        place = f"sheet {sheet}" if sheet else "beside the sheets"
        say(f"{place}: {rules[0]}" if len(rules) == 1 and rules[0] else place)
        emit(rows, columns if len(rules) == 1 else (*columns, _RULE))


def _shown(finding: Finding) -> dict[str, Any]:
    row = finding._asdict()
    if finding.column and finding.kind in ("changed", "conflict"):
        row["old"], row["value"] = finding.old or _NOTHING, finding.value or _NOTHING
    return row


def _reason(plan: BackPlan, given: dict[str, Any]) -> str:
    """Return the reason that was given, or asked for where there is somebody to ask."""
    from collection.acts.book_back_write import check_reason

    reason: str = given["reason"]
    if not plan.resting or reason:
        return reason
    if not given["yes"]:
        note("The past rests on what is changed here, and a reason is needed (--reason TEXT):")
        note(*(f"  {told}" for told in dict.fromkeys(plan.resting)))
        return answer("Why? ") if has_person() else ""
    check_reason(plan, reason)
    return reason


def _write(face: Face, plan: BackPlan, origin: Origin, reason: str) -> None:
    from collection.acts import book_back_write

    keep_before_import(face)
    with progress("writing rows") as tick:
        book_back_write.bring_back(
            face.engine(), plan, origin, today=face.today, now=face.now, reason=reason, tick=tick
        )


def _leave(plan: BackPlan) -> NoReturn:
    from collection.errors import Moved, Refused

    refused = plan.totals["refused"] + plan.totals["from another book"]
    if refused:
        what = "1 thing is refused" if refused == 1 else f"{refused:,} things are refused"
        raise Refused(f"{what}; nothing was written.", "Correct the workbook, then repeat the command.")
    number = plan.totals["conflict"]
    what = "1 cell was" if number == 1 else f"{number:,} cells were"
    raise Moved(
        f"{what} changed here and in the book since the export; nothing was written.",
        "Write there what the book says, or add --conflicts book or --conflicts sheet to let one stand.",
    )
