"""condition: note in what state a unit is, list such checks, and see who is without one."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.photo import named_photo
from collection.cli.rows import in_order, naming, sort_option
from collection.cli.show import Column, Mode, emit, note, output_options, say
from collection.cli.tags import complete_instrument, complete_tag
from collection.views.custody_rows import condition_row

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from collection.views.condition_checks import ConditionCheck, DoubtfulReading

OCCASION_WORDS = "entry, exit, move, inventory, damage, loan out, loan back or other"


@click.group("condition")
def condition_group() -> None:
    """Note in what state units are, dated and by whom."""


@condition_group.command("add")
@click.argument("tag", shell_complete=complete_tag)
@click.option("--condition", required=True, metavar="TEXT", help="In what state it is, in words.")
@click.option("--occasion", default="other", metavar="WORD", help=f"Why it was looked at: {OCCASION_WORDS}.")
@click.option("--grade", default="", metavar="WORD", help="pass, marginal or fail.")
@click.option("--reading", "readings", multiple=True, metavar="SERIES=VALUE", help='As "spindle speed=300.2".')
@click.option(
    "--instrument", default="", metavar="NAME", shell_complete=complete_instrument, help="What it was read with."
)
@click.option("--new-instrument", is_flag=True, help="Add an instrument that the book does not have.")
@click.option("--photo", "photos", multiple=True, metavar="FILE", help="A picture taken then; TITLE=FILE names it.")
@click.option("--by", default="", metavar="PERSON", help="Who looked (else --who of the command).")
@click.option("--on", default="", metavar="DATE", help="Day of the check (else today).")
@output_options
@click.pass_obj
def add_command(
    face: Face, /, tag: str, on: str, readings: tuple[str, ...], photos: tuple[str, ...], mode: Mode, **told: Any
) -> None:
    """Note the condition of a unit on a day.

    spindlebook condition add D4 --condition "scratch on the left side, door closes" --grade pass --by "Ada Quill"

    The readings join the other readings of the unit, the pictures its other pictures. Keys of --json: those of
    condition list.
    """
    from collection.acts.condition_checks import GivenCheck, add_check
    from collection.cli.service_words import parse_reading
    from collection.views.condition_checks import doubts_at_check

    given = GivenCheck(readings=tuple(map(parse_reading, readings)), photos=tuple(map(named_photo, photos)), **told)
    made = add_check(face.engine(), tag, given, on=on, today=face.today, now=face.now)
    with face.view() as conn:
        columns, doubts = _columns(conn), doubts_at_check(conn, made.id)
    emit([_object(made)], columns, mode, under="more")
    tell_doubts(doubts, mode)


def tell_doubts(doubts: Iterable[DoubtfulReading], mode: Mode) -> None:
    """Say what is doubtful about readings that were just noted with a condition; beside what a program reads, too."""
    from collection.analysis.readiness import series_name

    tell = say if mode == "table" else note
    tell(
        *(
            f"Doubtful: {one.tag}: {series_name(one.measurement, one.point)} {one.entered}: {one.doubt}"
            for one in doubts
        )
    )


@condition_group.command("list")
@click.argument("tag", required=False, default="", shell_complete=complete_tag)
@click.option("--occasion", default="", metavar="WORD", help="Only those on this occasion.")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, tag: str, occasion: str, sort: str, mode: Mode) -> None:
    """List condition checks by day, of one unit or of all.

    Keys of --json: tag, checked_on, occasion, condition, grade, by, loan, readings, photos (numbers of photo list).
    """
    from collection.views.condition_checks import condition_checks
    from collection.views.units import find_unit

    with face.view() as conn:
        found = condition_checks(conn, find_unit(conn, tag).id if tag else None)
        columns = _columns(conn)
    rows = in_order(naming([_object(each) for each in found], occasion=occasion), columns, sort)
    emit(rows, columns, mode, under="more", empty="No condition check. Type: spindlebook condition add TAG")


@condition_group.command("unchecked")
@click.option("--for", "time", default="12months", show_default=True, metavar="TIME", help="As 90d, 8w, 6m or 2y.")
@click.option("--location", default="", metavar="NAME", help="Only units there, or in a place inside it.")
@click.option("--kind", default="", metavar="WORD", help="Only units of this kind: drive, supply unit ...")
@sort_option
@past_options
@output_options
@click.pass_obj
def unchecked_command(face: Face, time: str, location: str, kind: str, sort: str, mode: Mode) -> None:
    """List units whose condition nobody has checked for a time, the longest first.

    Keys of --json: tag, name (maker and model), location, standing, checked_on (of its last check), condition, by.
    """
    from collection.analysis.horizon import day_back
    from collection.views.unchecked import unchecked
    from collection.views.unit_list import Wanted

    with face.view() as conn:
        found = unchecked(conn, face.today, day_back(time, face.today), Wanted(location=location, kind=kind))
        day = _day(conn)
    columns = [
        Column("tag"),
        Column("name"),
        Column("location"),
        Column("standing"),
        Column("checked_on", "last check", day),
        Column("condition", in_table=False),
        Column("by"),
    ]
    rows = [{key: value or None for key, value in each._asdict().items()} for each in found]
    emit(
        in_order(rows, columns, sort), columns, mode, under="condition", empty=f"Every unit was checked within {time}."
    )
    if mode == "table" and rows:
        say('To check one: spindlebook condition add TAG --condition "..." --by PERSON')


def _object(made: ConditionCheck) -> dict[str, Any]:
    """Return the row of a check, and what stands below it for a person: its readings and pictures."""
    row = condition_row(made)
    return row | {"more": [*row["readings"], *(f'picture {number} "{title}"' for number, title in made.photos)]}


def _day(conn: Connection) -> Callable[[str | None], str]:
    """Return what shows a day as the book's people write it, nothing for none."""
    from collection.quantity import show_day
    from collection.store.book import open_book

    form = open_book(conn).settings.date_form
    return lambda day: show_day(day, form) if day else ""


def _columns(conn: Connection) -> list[Column]:
    return [
        Column("tag"),
        Column("checked_on", "day", _day(conn)),
        Column("occasion"),
        Column("grade"),
        Column("condition"),
        Column("by"),
        Column("loan"),
        Column("readings", in_table=False),
        Column("photos", in_table=False),
    ]
