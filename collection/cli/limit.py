"""limit: list, add, change and drop what readings are judged by."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.edit_options import field_options, given_of, tell_edited
from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.show import Column, Mode, emit, output_options, say
from collection.cli.tags import complete_measurement, complete_tag

if TYPE_CHECKING:
    from collection.views.limit_list import LimitRow

_BOUNDS = (
    ("nominal", "NUMBER", "What it should be, in the unit of the measurement."),
    ("lower", "NUMBER", "The least that is within."),
    ("upper", "NUMBER", "The most that is within."),
    ("source", "TEXT", "Where the figures are from."),
    ("from", "DATE", "From which day it counts; for ever when left out."),
)
_NAMED = {"from": "from_date"}


def _whose(command: Any) -> Any:
    """Add what says which limit is meant."""
    for option in (
        click.option("--point", default="", metavar="POINT", help="As +5 V, or head 1; any when left out."),
        click.option("--class", "class_name", default="", metavar="NAME", help="Of a class, as 300 r/min."),
        click.option("--model", default="", metavar="NAME", help="Of a model."),
        click.option("--unit", default="", metavar="TAG", help="Of one unit.", shell_complete=complete_tag),
        click.argument("measurement", shell_complete=complete_measurement),
    ):
        command = option(command)
    return command


_OF = click.option("--of", "since", metavar="DATE", help='Of several, the one from this day ("" for ever).')


@click.group("limit")
def limit_group() -> None:
    """List and change what readings are judged by.

    A limit is of one unit, of a model or of a class; the nearest counts.
    """


@limit_group.command("list")
@click.option("--unit", default="", metavar="TAG", help="Only of this unit.", shell_complete=complete_tag)
@click.option("--model", default="", metavar="NAME", help="Only of this model.")
@click.option("--class", "class_name", default="", metavar="NAME", help="Only of this class.")
@click.option("--measurement", default="", metavar="NAME", help="Only of this.", shell_complete=complete_measurement)
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, /, mode: Mode, **told: str) -> None:
    """List limits.

    Keys of --json: tag, model, maker, class, measurement, point, nominal, lower, upper, measured_in, source, from_date.
    """
    from collection.store.book import open_book
    from collection.views.limit_list import limit_list

    with face.view() as conn:
        rows = [_object(row) for row in limit_list(conn, **told)]
        form = open_book(conn).settings.date_form
    emit(rows, _columns(form, mode), mode, empty="No limit is like that.")


@limit_group.command("add")
@_whose
@field_options(*_BOUNDS, named=_NAMED, reason=False)
@click.pass_obj
def add_command(
    face: Face, /, measurement: str, point: str, unit: str, model: str, class_name: str, **told: Any
) -> None:
    """Add a limit.

    spindlebook limit add "rail voltage" --point "+5 V" --unit D1 --lower 4.75 --upper 5.25 --source "its manual"
    """
    from collection.acts.limits import Whose, add_limit

    whose = Whose(measurement, point, unit, model, class_name)
    made = add_limit(face.engine(), whose, given_of(told), today=face.today, now=face.now)
    say(f"{made.whose}: limit of {made.series} {made.shown}.")


@limit_group.command("edit")
@_whose
@_OF
@field_options(*_BOUNDS, named=_NAMED)
@click.pass_obj
def edit_command(
    face: Face,
    /,
    measurement: str,
    point: str,
    unit: str,
    model: str,
    class_name: str,
    since: str | None,
    reason: str,
    **told: Any,
) -> None:
    """Change a limit; a --reason is required.

    Readings of the past are judged by it too. Where only new ones shall be, add a limit --from a day instead.
    """
    from collection.acts.limits import Whose, edit_limit

    whose = Whose(measurement, point, unit, model, class_name, since)
    made, edited = edit_limit(face.engine(), whose, given_of(told), reason=reason, today=face.today, now=face.now)
    tell_edited(edited)
    say(f"{made.whose}: limit of {made.series} {made.shown}.")


@limit_group.command("drop")
@_whose
@_OF
@click.option("--reason", default="", metavar="TEXT", help="Why; the history keeps it.")
@click.pass_obj
def drop_command(
    face: Face, /, measurement: str, point: str, unit: str, model: str, class_name: str, since: str | None, reason: str
) -> None:
    """Take a limit out of the book; a --reason is required."""
    from collection.acts.limits import Whose, drop_limit

    whose = Whose(measurement, point, unit, model, class_name, since)
    row = drop_limit(face.engine(), whose, reason=reason, today=face.today, now=face.now)
    say(f"{row.whose}: the limit of {row.series}, {row.shown}, is dropped.")


def _object(row: LimitRow) -> dict[str, Any]:
    keys = ("tag", "model", "maker", "measurement", "point", "nominal", "lower", "upper", "measured_in", "source")
    found = {key: None if getattr(row, key) == "" else getattr(row, key) for key in (*keys, "from_date")}
    return found | {"class": row.class_name or None, "whose": row.whose}


def _columns(form: str, mode: Mode) -> list[Column]:
    from collection.quantity import show_day

    def day(value: str | None) -> str:
        return show_day(value, form) if value else ""

    def number(value: float | None) -> str:
        return "" if value is None else f"{value:g}"

    numbers = [Column(key, show=number) for key in ("nominal", "lower", "upper")]
    if mode == "table":
        return [
            Column("whose", "of"),
            Column("measurement"),
            Column("point"),
            *numbers,
            Column("measured_in", "in"),
            Column("from_date", "from", day),
        ]
    before = [Column(key) for key in ("tag", "model", "maker", "class", "measurement", "point")]
    return [*before, *numbers, *(Column(key) for key in ("measured_in", "source", "from_date"))]
