"""undo, history, verify: the acts of the book and its rules."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.past import known_on_option
from collection.cli.show import Column, Mode, Records, emit, emit_object, note, output_options, say, say_pairs
from collection.cli.whole import Whole
from collection.errors import typed

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

# What the history has of personal data; they stand in the record of the person alone.
_PERSONAL = "(personal)"
_USUAL = 20
_NUMBER = Whole(1, 10**9)  # no book has so many acts


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
    else:
        say(f"Taken back: act {undone.act_id}, {undone.command} ({undone.summary}).")
        say(f"To bring it back: spindlebook undo {undone.by_id}")
    for row, says in undone.unsafe:
        note(
            f"{row.tag} is out to {row.person} (loan {row.loan}), and {says}.",
            f"Ask for it back: spindlebook loan back {typed(row.tag)}",
            "Whether it may be used meanwhile, local rules and a qualified person decide.",
        )


@click.command("history")
@click.argument("tag", required=False)
@click.option("--person", default="", metavar="NAME", help="Only acts by this person, on them, or on what is theirs.")
@click.option("--act", metavar="N", type=_NUMBER, help="Show what this act wrote.")
@click.option(
    "--last", metavar="N", type=_NUMBER, help="How many acts (else 20 of the book, all of a unit or a person)."
)
@click.option("--all", "--acts", "everything", is_flag=True, help="All acts.")
@known_on_option
@output_options
@click.pass_obj
def history_command(
    face: Face, tag: str | None, person: str, act: int | None, last: int | None, everything: bool, mode: Mode
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
    fields = history.Act._fields
    with face.view() as connection:
        zone = open_book(connection).settings.time_zone
        if act is not None:
            _show_act(connection, act, zone, mode)
            return
        if tag:
            from collection.views.units import find_unit

            found = Records.of(fields, history.acts_on_unit(connection, find_unit(connection, tag).id))
        elif person:
            from collection.views.people import find_person

            named = find_person(connection, person, forgotten_too=True)
            found = Records.of(fields, history.acts_on_person(connection, named.id))
        else:
            found = Records(fields, history.columns_of_acts(connection, None if everything else last or _USUAL))
    emit(found if everything else found[:last], _act_columns(zone), mode, empty="Nothing yet.")


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


def _show_act(connection: Connection, number: int, zone: str, mode: Mode) -> None:
    """Show what an act wrote; a person reads first whose it is, and how to take it back."""
    from collection.views.history_changes import act_and_changes

    act, changes = act_and_changes(connection, number)
    if mode == "table":
        by = f" by {act.by}" if act.by else ""
        say(f"Act {act.act}, {shown_in(zone)(act.at)} ({zone}){by}: {act.command}", act.summary or "")
        back = f"by act {act.undone_by}" if act.undone_by else ""
        undoes = f"act {act.undoes}" if act.undoes else ""
        say_pairs([("reason", act.reason or ""), ("takes back", undoes), ("taken back", back)])
        say("")
    emit(changes, _CHANGES, mode, empty="This act wrote nothing.")
    if mode == "table" and not act.undone_by and act.command != "start":
        say("", f"To {'bring that' if act.undoes else 'take it'} back: spindlebook undo {act.act}")


def shown_in(zone: str) -> Callable[[Any], str]:
    """Return how a person reads an instant: in the time zone of the book."""
    from datetime import datetime, timedelta
    from functools import cache
    from zoneinfo import ZoneInfo

    here = ZoneInfo(zone)

    def ends(part: str, first: str, last: str) -> list[datetime]:
        return [datetime.fromisoformat(f"{part}{rest}Z").astimezone(here) for rest in (first, last)]

    @cache
    def hours_ahead(day: str) -> int | None:
        """Return by how many hours clocks here are ahead on a day of UTC; None where these change or are not whole."""
        first, last = (each.utcoffset() or timedelta() for each in ends(day, "T00:00:00", "T23:59:59"))
        hours, rest = divmod(first, timedelta(hours=1))
        return hours if first == last and not rest else None

    @cache
    def hour_of(hour: str) -> str:
        """Return what an hour of UTC is called here; "" where the minutes differ, or clocks are changed within it."""
        ahead = hours_ahead(hour[:10])
        if ahead is not None and 0 <= int(hour[11:]) + ahead < 24:
            return f"{hour[:10]} {int(hour[11:]) + ahead:02}"
        first, last = ends(hour, ":00:00", ":59:59")
        whole = first.minute == 0 and first.utcoffset() == last.utcoffset()
        return first.isoformat(" ", "hours")[:13] if whole else ""

    def shown(instant: str) -> str:
        hour = hour_of(instant[:13])  # a long history has many acts of one hour
        if hour:
            return hour + instant[13:16]
        return datetime.fromisoformat(instant).astimezone(here).isoformat(" ", "minutes")[:16]

    return shown


def _act_columns(zone: str) -> list[Column]:
    """The columns of the history; a person reads instants in the book's time zone, a program in UTC."""
    return [
        Column("act", "act"),
        Column("at", f"at ({zone})", shown_in(zone)),
        Column("today", in_table=False),
        Column("by", "by"),
        Column("command", "command"),
        Column("summary", "what"),
        Column("reason"),
        Column("undoes", in_table=False),
        Column("undone_by", "undone by"),
    ]


def _values(value: Any) -> str:
    if not value:
        return ""
    return "; ".join(f"{name.replace('_', ' ')} {_held(held)}" for name, held in value.items())


def _held(value: Any) -> str:
    if value is None:
        return "-"
    return _PERSONAL if str(value).startswith("sha256:") else str(value)


_CHANGES = [
    Column("what", "what"),
    Column("record", "record"),
    Column("rows", "rows", lambda rows: "" if rows == 1 else str(rows), right=True),
    Column("before", "before", _values),
    Column("after", "after", _values),
]
_BROKEN = [Column("rule"), Column("table"), Column("row"), Column("says")]
