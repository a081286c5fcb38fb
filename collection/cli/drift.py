"""drift: what drifts, how fast, and when it will be outside its limits; the fleet, or one unit in full."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import click

from collection.cli.due import accepted_risk
from collection.cli.face import Face
from collection.cli.option_reader import option_reader
from collection.cli.past import past_options
from collection.cli.show import Column, Mode, emit, emit_lines, json_line, output_options, say
from collection.cli.tags import complete_measurement, complete_tag
from collection.errors import Refused, typed
from collection.views.drift_keys import KEYS, row_object

if TYPE_CHECKING:
    from datetime import date

    from collection.views.drift_rows import DriftRow

_EMPTY = (
    'No reading in a unit of measure yet. Type: spindlebook reading add TAG "spindle speed" 300.1 --instrument NAME'
)


@option_reader
def day_option(_ctx: click.Context, _param: click.Parameter, value: str) -> date:
    """Read --by as a day, past or future."""
    from collection.acts.days import day_ahead

    return day_ahead(value, "--by")


@click.command("drift")
@click.argument("tag", required=False, shell_complete=complete_tag)
@click.option("--of", "measurement", metavar="MEASUREMENT", shell_complete=complete_measurement, help="Of this alone.")
@click.option("--point", metavar="POINT", help='With TAG: at this point alone, as "+5 V".')
@click.option("--by", metavar="DATE", callback=day_option, help="Where the true value will be, or was, on that day.")
@click.option("--risk", metavar="PERCENT", callback=accepted_risk, help="Accepted risk, as 5% (else the book's).")
@click.option("--plot", metavar="FILE", help="With TAG: draw it, as FILE.png or FILE.svg.")
@past_options
@output_options
@click.pass_obj
def drift_command(
    face: Face,
    /,
    tag: str | None,
    measurement: str | None,
    point: str | None,
    by: date | None,
    risk: float | None,
    plot: str | None,
    mode: Mode,
) -> None:
    """Show what drifts, how fast, and when it will leave its limits.

    Without TAG the whole fleet, worst first; with TAG every reading of that unit, raw and corrected, what reset it,
    and what is foretold. Everything is fitted over the whole fleet at once: offsets of instruments are taken out,
    stray readings count for little, and what few readings cannot tell is filled in from the units of the class.

    Level and change stand with their 95 % uncertainty; the range on a day is where the true value lies with 90 % if
    nothing is done before. --by takes any day after the last reading, past or future; without it that day is twelve
    months from today.

    Keys of --json: tag, measurement, point, level, slope_per_year, slope_low, slope_high, by_date, by_low, by_high,
    chance_outside, recheck_by, readings, sentence, measured_in, class, standing, level_low, level_high,
    chance_12_months, recheck_rule, segments, instruments, first_read, last_read, nominal, lower, upper, corrected,
    stray, rests_on, missing; with TAG: crossing, readings_taken, segments_cut, path (lists of objects).
    """
    if tag is not None:
        from collection.cli.drift_unit import Asked, show_unit

        show_unit(face, Asked(tag, measurement, point, by, risk), plot, mode)
        return
    if plot is not None or point is not None:
        raise Refused(
            "--plot and --point are of one unit, and no TAG is given.", "Type: spindlebook drift TAG --plot FILE.png"
        )
    from collection.cli.kept_drift import drift_lines
    from collection.store.book import open_book

    with face.view() as connection:
        settings = open_book(connection).settings
        accepted = settings.risk if risk is None else risk
        lines = drift_lines(face, connection, by, measurement, accepted, as_line)
    if mode == "json":
        emit_lines(lines)
        return
    import json

    rows = [json.loads(line) for line in lines]
    if mode == "csv":
        emit(rows, _columns_of_keys(), mode)
    else:
        emit(_shown(rows, settings.date_form), _columns(settings.date_form, by), mode, empty=_EMPTY, under="sentence")
        say(*_what_columns_mean(rows, by), *_below(rows, accepted))


def as_line(row: DriftRow) -> str:
    """Return a row as one line of JSON, the form in which the list of drift is kept."""
    return json_line(row_object(row))


def _columns_of_keys() -> list[Column]:
    return [Column(key) for key in KEYS]


def what_of(row: dict[str, Any]) -> str:
    """Return measurement and point of a row in one."""
    return f"{row['measurement']} {row['point'] or ''}".rstrip()


def _shown(rows: Sequence[dict[str, Any]], form: str) -> list[dict[str, Any]]:
    """Return rows with what a person reads in the place of several keys."""
    from collection.analysis.drift.shown import as_range, with_uncertainty
    from collection.analysis.recheck import LIMIT
    from collection.quantity import show_day

    def day(row: dict[str, Any]) -> str:
        if row["recheck_rule"] == LIMIT:
            return "now"
        return show_day(row["recheck_by"], form) if row["recheck_by"] else ""

    def unit(shown: str, row: dict[str, Any]) -> str:
        return f"{shown} {row['measured_in']}" if shown else ""

    return [
        row
        | {
            "of": what_of(row),
            "now": unit(with_uncertainty(row["level"], row["level_low"], row["level_high"]), row),
            "recheck": day(row),
            "range": unit(as_range(row["by_low"], row["by_high"]), row),
        }
        for row in rows
    ]


def _columns(form: str, by: date | None) -> list[Column]:
    from collection.analysis.drift.shown import as_chance
    from collection.quantity import show_day

    def day(text: str | None) -> str:
        return show_day(text, form) if text else ""

    if by is None:
        middle = (Column("now", "level now"), Column("chance_12_months", "outside", as_chance, right=True))
    else:
        middle = (
            Column("range", f"on {day(by.isoformat())} (90 %)"),
            Column("chance_outside", "outside", as_chance, right=True),
        )
    return [Column("tag"), Column("of", "measurement"), *middle, Column("recheck", "recheck by")]


def _what_columns_mean(rows: Sequence[dict[str, Any]], by: date | None) -> Iterator[str]:
    if rows and by is None:
        yield "outside: chance of being outside its limits twelve months from today, if nothing is done."
    elif rows:
        yield "The true value lies in the range on that day with 90 %, if nothing is done before."


def _below(rows: Sequence[dict[str, Any]], risk: float) -> Iterator[str]:
    """Yield what stands under the list: the sum, what has no chance, what is not corrected, where there is more."""
    from collection.analysis.recheck import show_risk
    from collection.analysis.schedule import LEFT_OUT

    if not rows:
        return
    readings, stray = sum(row["readings"] for row in rows), sum(row["stray"] for row in rows)
    risky = sum((row["chance_12_months"] or 0) > risk for row in rows if row["standing"] not in LEFT_OUT)
    units = len({row["tag"] for row in rows})
    yield f"{len(rows)} series of {units} units on {readings} readings, {stray} of them likely stray."
    yield f"With more than {show_risk(risk)} risk in twelve months: {risky or 'none'}."
    unlimited = sum(row["lower"] is None and row["upper"] is None for row in rows)
    if unlimited:
        yield f"{unlimited} without limits, so with no chance and no recheck: spindlebook limit add"
    untied = sum(not row["corrected"] for row in rows if row["readings"])
    if untied:
        yield f"{untied} tied to no reference, so their levels are as read: spindlebook instrument list"
    yield f"Each reading of a unit, and what it foretells: spindlebook drift {typed(rows[0]['tag'])}"
