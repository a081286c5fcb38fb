"""undo, history, verify: the acts of the book and its rules."""

from typing import Any

import click

from collection.cli.face import Face
from collection.cli.past import known_on_option
from collection.cli.show import Column, Mode, emit, emit_object, output_options, say

_NUMBER = click.IntRange(1, 10**9)  # no book has so many acts


@click.command("undo")
@click.argument("act", type=_NUMBER, required=False)
@click.option("--reason", help="Why it is taken back.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def undo_command(face: Face, act: int | None, reason: str | None, as_json: bool) -> None:
    """Take back an act.

    ACT is the number that history shows; without it the last act that still counts is taken back. An undo is an act
    of its own: naming it brings back what it took. An act whose records have changed since cannot be taken back.
    Keys of --json: act, undone_by, command, summary, at.
    """
    from collection.acts.undo import undo

    undone = undo(face.engine(), act, today=face.today, now=face.now, reason=reason)
    if as_json:
        told = {"command": undone.command, "summary": undone.summary, "at": undone.at}
        emit_object({"act": undone.act_id, "undone_by": undone.by_id} | told)
        return
    say(f"Taken back: act {undone.act_id}, {undone.command} ({undone.summary}).")
    say(f"To bring it back: spindlebook undo {undone.by_id}")


@click.command("history")
@click.argument("tag", required=False)
@click.option("--person", default="", metavar="NAME", help="Only acts by this person, on them, or on what is theirs.")
@click.option("--act", type=_NUMBER, help="Show what this act wrote.")
@click.option("--last", type=_NUMBER, default=20, show_default=True, help="How many acts.")
@click.option("--all", "everything", is_flag=True, help="All acts.")
@known_on_option
@output_options
@click.pass_obj
def history_command(
    face: Face, tag: str | None, person: str, act: int | None, last: int, everything: bool, mode: Mode
) -> None:
    """Show what was done to the book, newest first.

    With TAG only the acts that touched that unit, with --person those of a person: by them, on their record, loans,
    services, units. Keys of --json: act, at, today, by, command, summary, reason, undoes,
    undone_by; with --act: what, record, rows, before, after.
    """
    from collection.store.book import open_book
    from collection.views import history

    if sum((bool(tag), bool(person), act is not None)) > 1:
        raise click.UsageError("Give one of TAG, --person and --act.")
    with face.view() as connection:
        if act is not None:
            emit(history.changes_of(connection, act), _CHANGES, mode, empty="This act wrote nothing.")
            return
        if tag:
            from collection.views.units import find_unit

            found = history.acts_on_unit(connection, find_unit(connection, tag).id)
        elif person:
            from collection.views.people import find_person

            named = find_person(connection, person, forgotten_too=True)
            found = history.acts_on_person(connection, named.id)
        else:
            found = history.acts(connection, None if everything else last)
        zone = open_book(connection).settings.time_zone
    emit([row.as_row() for row in found], _act_columns(zone), mode, empty="Nothing yet.")


@click.command("verify")
@output_options
@click.pass_context
def verify_command(ctx: click.Context, mode: Mode) -> None:
    """Check the book against its rules.

    Names every broken row; leaves with code 1 when there is one. Keys of --json: rule, table, row, says.
    """
    from collection.views.verify import verify

    face: Face = ctx.obj
    with face.view() as connection:
        found = verify(connection)
    rows = [broken.__dict__ for broken in found.broken]
    whole = f"The book keeps all {found.rules} rules; {found.acts} acts are sealed in one chain."
    emit(rows, _BROKEN, mode, empty=whole)
    if rows:
        if mode == "table":
            say(f"{len(rows)} broken. Nothing was changed. A backup from before: spindlebook restore FILE")
        ctx.exit(1)


def _act_columns(zone: str) -> list[Column]:
    """The columns of the history; a person reads instants in the book's time zone, a program in UTC."""
    from datetime import datetime
    from zoneinfo import ZoneInfo

    def shown(instant: Any) -> str:
        return datetime.fromisoformat(instant).astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M")

    return [
        Column("act", "act"),
        Column("at", f"at ({zone})", shown),
        Column("today", in_table=False),
        Column("by", "by"),
        Column("command", "command"),
        Column("summary", "what"),
        Column("reason"),
        Column("undoes", in_table=False),
        Column("undone_by", "", _state),
    ]


def _state(value: Any) -> str:
    return f"undone by {value}" if value else ""


def _values(value: Any) -> str:
    if not value:
        return ""
    return "; ".join(f"{name} {'-' if held is None else held}" for name, held in value.items() if name != "key")


_CHANGES = [
    Column("what", "what"),
    Column("record", "record"),
    Column("rows", "rows"),
    Column("before", "before", _values),
    Column("after", "after", _values),
]
_BROKEN = [Column("rule"), Column("table"), Column("row"), Column("says")]
