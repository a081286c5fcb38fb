"""due: which units are due, when, and why."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

import click

from collection.cli.backups import said_of_old_backup
from collection.cli.face import Face
from collection.cli.option_reader import days_ahead_given, option_reader
from collection.cli.past import past_options
from collection.cli.show import Column, Mode, emit, note, output_options, say

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from collection.analysis.schedule import DueItem, DueList

_NO_UNITS = "There are no units yet. Type: spindlebook import FILE.xlsx, or spindlebook unit add TAG --model NAME"
_RESTS_ON = ("equipment", "measurement", "maintenance", "supplies", "people", "journal")
_MOST_NAMES = 12  # tags in one line below the list


@option_reader
def accepted_risk(_ctx: click.Context, _param: click.Parameter, value: str) -> float:
    """Read --risk as a chance."""
    from collection.analysis.recheck import parse_risk

    return parse_risk(value)


@click.command("due")
@click.option(
    "--within",
    metavar="TIME",
    default="30d",
    show_default=True,
    callback=days_ahead_given,
    help="As 60d, 8w or 2m.",
)
@click.option(
    "--risk",
    metavar="PERCENT",
    callback=accepted_risk,
    help="Accepted risk for this time, as 5% (else the book's).",
)
@click.option("--by-procedure", is_flag=True, help="One row per procedure, with the units it is due on.")
@click.option("--exit-code", is_flag=True, help="Leave with code 3 when something is overdue.")
@past_options
@output_options
@click.pass_context
def due_command(
    ctx: click.Context, within: int, risk: float | None, by_procedure: bool, exit_code: bool, mode: Mode
) -> None:
    """Show which units are due, and why.

    One row per unit, since one opening does several procedures. Units on loan or away keep their rows;
    missing and gone units and donors are only counted. Instruments and disks that are due for a check of
    their own, or worn, stand below.

    What is measured in numbers is due for a recheck by its drift: at once where its level is outside its
    limits, else by the day on which the risk of being outside passes the accepted one. That is never sooner than
    the shortest interval, and never later than twice the span of its readings or the longest interval.

    Keys of --json: tag, model, location, standing, due,
    days_over (negative while the day is ahead), procedures, why, note; with --by-procedure: procedure, due,
    days_over, tags, why.
    """
    from collection.store.book import open_book

    face: Face = ctx.obj
    with face.view() as connection:
        settings = open_book(connection).settings
        told = due_told(face, connection, within, settings.risk if risk is None else risk, by_procedure=by_procedure)
        old = said_of_old_backup(face, connection) if mode == "table" else []
    form = settings.date_form
    rows, columns = told["rows"], _procedure_columns(form) if by_procedure else _unit_columns(form)
    emit(list(one_a_line(rows)) if mode == "table" and not by_procedure else rows, columns, mode)
    tell = say if mode == "table" else note
    tell(*told["below"])
    note(*old)
    if exit_code and any(row["days_over"] > 0 for row in rows):
        ctx.exit(3)


def due_told(
    face: Face, connection: Connection, within: int, risk: float, *, by_procedure: bool = False
) -> dict[str, Any]:
    """Return all that the list prints, in JSON's own values, kept or not: its rows, and the lines below them."""
    from collection.cli.kept import kept_result

    return kept_result(
        face,
        connection,
        "due",
        _RESTS_ON,
        (within, by_procedure, risk),
        lambda: _told(face, connection, within, by_procedure, risk),
    )


def _told(face: Face, connection: Connection, within: int, by_procedure: bool, risk: float) -> dict[str, Any]:
    """Return it made anew."""
    from collection.cli.kept import kept_rechecks
    from collection.store.book import open_book
    from collection.views.due import due_view
    from collection.views.list_rows import due_rows
    from collection.views.service_guide import open_guides

    view = due_view(connection, face.today, within, kept_rechecks(face, connection, risk))
    form = open_book(connection).settings.date_form
    guided = {each.unit_id: each.said(form) for each in open_guides(connection)}
    rows = _procedure_rows(view.due, face.today) if by_procedure else list(due_rows(view, guided))
    for row in rows:
        row["due"] = row["due"].isoformat()
    below = [*_below(view.due, form), *_also(connection, face.today, within, form)] if view.units else [_NO_UNITS]
    return {"rows": rows, "below": below}


def _also(connection: Connection, today: date, within: int, form: str) -> Iterator[str]:
    """Yield a line for each instrument or disk that is due for a check of its own, or worn."""
    from collection.quantity import show_day
    from collection.views.checks import also_due

    for one in also_due(connection, today, within):
        if one.due is None:
            yield f"worn: {one.name}, used {one.uses} times of {one.most_uses}"
        else:
            day = show_day(one.due.isoformat(), form)
            yield f"also due: check of {one.name}, {'which failed its last' if one.failed else day}"


def item_rows(items: Iterable[DueItem], today: date) -> list[dict[str, Any]]:
    """Return a row per procedure that is due on one unit; its name is not said again in each reason."""
    return [
        {
            "procedure": item.procedure,
            "due": item.due,
            "days_over": (today - item.due).days,
            "why": [reason.removeprefix(f"{item.procedure}: ") for reason in item.reasons],
        }
        for item in items
    ]


def one_a_line(rows: Iterable[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Yield rows of a table in which each reason, and a note, has a line of its own."""
    for row in rows:
        said: list[str] = [*row["why"], row.get("note") or ""]
        first, *more = [text for text in said if text]
        yield row | {"why": first}
        yield from ({"why": reason} for reason in more)


def _unit_columns(form: str) -> Sequence[Column]:
    return (
        Column("tag"),
        *(Column(key, in_table=False) for key in ("model", "location", "standing")),
        *day_columns(form),
        Column("procedures", in_table=False),
        Column("why"),
        Column("note", in_table=False),
    )


def _procedure_rows(due: DueList, today: date) -> list[dict[str, Any]]:
    from collection.analysis.schedule import by_procedure

    return [
        {
            "procedure": group.procedure,
            "due": group.due,
            "days_over": group.days_over,
            "tags": [row.tag for row, _ in group.units],
            "why": [item.why for _, item in group.units],
        }
        for group in by_procedure(due.rows, today)
    ]


def _procedure_columns(form: str) -> Sequence[Column]:
    return Column("procedure"), *day_columns(form), Column("tags", "units"), Column("why", in_table=False)


def day_columns(form: str) -> tuple[Column, Column]:
    """Return the columns of a due day, in the book's date form, and of the days it is over."""
    from collection.quantity import show_day

    return (
        Column("due", show=lambda day: show_day(str(day), form) if day else ""),
        Column("days_over", "days over", show=_days_over, right=True),
    )


def _days_over(days: int | None) -> str:
    """Write "12" for what is twelve days over, "in 12" for what is twelve days ahead."""
    if days is None:
        return ""
    return "today" if days == 0 else str(days) if days > 0 else f"in {-days}"


def _below(due: DueList, form: str) -> Iterator[str]:
    """Yield the lines under the list: the sum, and what is not in it."""
    from collection.quantity import show_day

    overdue = sum(row.days_over > 0 for row in due.rows)
    until = show_day(due.until.isoformat(), form)
    yield (f"{_units(len(due.rows))} due by {until}, {overdue} overdue." if due.rows else f"Nothing is due by {until}.")
    waiting = [row.tag for row in due.rows if not row.at_hand]
    if waiting:
        yield f"on loan or away, due when back: {_units(len(waiting))} ({_some(waiting)})"
    if due.no_history:
        yield (
            f"no history yet: {_units(len(due.no_history))} ({_some(due.no_history)});"
            " spindlebook import --last-done or spindlebook service record gives"
            f" {'it' if len(due.no_history) == 1 else 'them'} one"
        )
    if due.left_out:
        counted = ", ".join(f"{number} {standing}" for standing, number in due.left_out.items())
        yield f"left out: {counted}"


def _units(number: int) -> str:
    return "1 unit" if number == 1 else f"{number} units"


def _some(tags: Sequence[str]) -> str:
    """Name the first tags, and how many more there are."""
    more = len(tags) - _MOST_NAMES
    return ", ".join(tags[:_MOST_NAMES]) + (f" and {more} more" if more > 0 else "")
