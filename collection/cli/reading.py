"""reading: add one, list them, set one aside."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, naming, sort_option
from collection.cli.show import Column, Mode, Row, emit, output_options, say
from collection.cli.tags import complete_instrument, complete_measurement, complete_tag
from collection.cli.whole import Whole

if TYPE_CHECKING:
    from collection.views.reading_list import ReadingRow

STAGES = ("between", "as found", "as left")


@click.group("reading")
def reading_group() -> None:
    """Add a reading, or set one aside."""


@reading_group.command("add", context_settings={"ignore_unknown_options": True})
@click.argument("tag", shell_complete=complete_tag)
@click.argument("measurement", shell_complete=complete_measurement)
@click.argument("value")
@click.option("--point", default="", help='Where: "+5 V", "head 0 track 16", "360".')
@click.option("--in", "measured_in", default="", metavar="UNIT", help='As ms or bars/min; "199.2 ms" does as well.')
@click.option(
    "--instrument", default="", metavar="NAME", shell_complete=complete_instrument, help="What it was read with."
)
@click.option("--new-instrument", is_flag=True, help="Add an instrument that the book does not have.")
@click.option("--stage", type=click.Choice(STAGES), default="between", show_default=True, help="When in a service.")
@click.option("--on", default="", metavar="DATE", help="Day of the reading (else today).")
@click.option("--disk", default="", help="Reference disk.")
@click.option("--supply-unit", default="", metavar="TAG", help="What the drive was fed from.")
@click.option("--warm-up", "warm_up_minutes", default="", metavar="MINUTES", help="Time switched on before.")
@click.option("--load", default="", metavar="TEXT", help='Load on a supply unit, as "1 A".')
@click.option("--note", default="", metavar="TEXT", help="Anything else.")
@output_options
@click.pass_obj
def add_command(
    face: Face, /, tag: str, value: str, stage: str, on: str, new_instrument: bool, mode: Mode, **told: Any
) -> None:
    """Add a reading: a number, or pass, marginal or fail.

    The point may stand in brackets: "rail voltage[+5 V]".

    A speed may be given as index period ("199.2 ms") or as strobe bars passing per minute ("+6 bars/min", positive
    when the spindle is fast); what was typed is kept. Keys of --json: those of reading list.
    """
    from collection.acts.readings import GivenReading, add_reading
    from collection.cli.service_words import split_series, split_value

    number, unit = split_value(value)
    measurement, point = split_series(told.pop("measurement"))
    told |= {"measured_in": told["measured_in"] or unit, "point": told["point"] or point}
    given = GivenReading(measurement, number, **told)
    row = add_reading(
        face.engine(),
        tag,
        given,
        stage=stage,
        on=on,
        new_instrument=new_instrument,
        today=face.today,
        now=face.now,
    )
    _show(face, [row], mode)
    if mode == "table":
        say(*(f"Doubtful: {row.measurement} {row.entered}: {doubt}" for doubt in row.doubts))


@reading_group.command("set-aside")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("measurement", required=False, default="", shell_complete=complete_measurement)
@click.option("--number", type=Whole(min=1), help="Its number in: spindlebook reading list TAG")
@click.option("--point", help="Its point.")
@click.option("--on", default="", metavar="DATE", help="Its day.")
@click.option("--reason", required=True, metavar="TEXT", help="Why it does not count.")
@output_options
@click.pass_obj
def set_aside_command(face: Face, /, tag: str, mode: Mode, **told: Any) -> None:
    """Set a reading aside: it stays in the book and counts no more.

    Name it by its number, or by measurement, point and day. Keys of --json: those of reading list.
    """
    from collection.acts.readings import set_aside

    row = set_aside(face.engine(), tag, today=face.today, now=face.now, **told)
    _show(face, [row], mode)


@reading_group.command("list")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("measurement", required=False, default="", shell_complete=complete_measurement)
@click.option("--last", type=Whole(min=1), default=20, show_default=True, help="How many, the newest.")
@click.option("--all", "everything", is_flag=True, help="All of them.")
@click.option("--stage", default="", metavar="WORD", help="Only as found, as left or between.")
@click.option(
    "--instrument", default="", metavar="NAME", shell_complete=complete_instrument, help="Only those taken with it."
)
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(
    face: Face, /, tag: str, measurement: str, last: int, everything: bool, mode: Mode, sort: str, **wanted: str
) -> None:
    """List the readings of a unit by day, those set aside too.

    Where a mechanism was swapped, those it brought along from other units are among them, without a number, and each
    of speed and alignment says whose mechanism was read.

    Keys of --json: tag, number, measurement, point, taken_on, instrument, value (as typed), measured_in (as typed),
    result (in the measurement's unit), result_in, says, stage, service, disk, supply_unit, warm_up_minutes, load,
    set_aside, doubts, note, mechanism (where one was swapped).
    """
    from collection.views.measuring import find_measurement
    from collection.views.mechanism_readings import readings_with_mechanism
    from collection.views.mechanisms import mechanism_in
    from collection.views.units import find_unit, unit_on

    with face.view() as conn:
        unit = unit_on(conn, find_unit(conn, tag).id, face.today)
        name = find_measurement(conn, measurement).name if measurement else ""
        sits = mechanism_in(conn, unit.id)
        rows = [row for row in readings_with_mechanism(conn, unit, face.today) if name in ("", row.measurement)]
    rows.sort(key=lambda row: (row.taken_on, row.number))
    made = naming([_object(row, unit.tag) for row in rows], **wanted)
    shown = made if everything else made[-last:]
    columns = [Column(key) for key in _FOR_PROGRAMS]
    _emit(face, in_order(shown, columns, sort), mode, f"{unit.tag} has no reading{f' of {name}' if name else ''}.")
    if mode == "table" and len(shown) < len(made):
        say(f"{len(made) - len(shown)} earlier; --all lists them.")
    if mode == "table" and sits and any(row["mechanism"] for row in shown):
        now = f"{sits.name} since {sits.since}" if sits.since else sits.name or "none"
        say(f"Of: whose mechanism was read. In it now: {now}.")


def _show(face: Face, rows: list[ReadingRow], mode: Mode) -> None:
    _emit(face, [_object(row, row.tag) for row in rows], mode)


def _emit(face: Face, made: Sequence[Row], mode: Mode, empty: str = "") -> None:
    from collection.store.book import open_book

    with face.view() as conn:
        form = open_book(conn).settings.date_form
    emit(made, _columns(form, mode), mode, empty=empty)


def _object(row: ReadingRow, listed: str) -> dict[str, Any]:
    """Return a reading as it stands in the list of a unit; one from another unit goes by no number there."""
    elsewhere = "" if row.tag == listed else f"read in {row.tag}"
    return {
        "no": None if elsewhere else row.number,
        "reading": row.shown,
        "remarks": "; ".join(filter(None, (elsewhere, _remarks(row)))),
        "tag": row.tag,
        "number": row.number,
        "measurement": row.measurement,
        "point": row.point or None,
        "taken_on": row.taken_on,
        "instrument": row.instrument,
        "value": row.entered,
        "measured_in": row.entered_in or None,
        "result": row.grade or row.value,
        "result_in": row.measured_in,
        "says": row.says,
        "stage": row.stage,
        "service": row.service or None,
        "disk": row.disk or None,
        "supply_unit": row.supply_unit or None,
        "warm_up_minutes": row.warm_up_minutes,
        "load": row.load or None,
        "set_aside": row.set_aside or None,
        "doubts": row.doubts,
        "note": row.note or None,
        "mechanism": row.mechanism or None,
    }


def _remarks(row: ReadingRow) -> str:
    aside = f"set aside: {row.set_aside}" if row.set_aside else ""
    doubts = f"doubtful: {'; '.join(row.doubts)}" if row.doubts else ""
    typed = f"typed {row.entered} {row.entered_in}" if row.entered_in else ""
    return "; ".join(filter(None, (aside, doubts, typed, row.note)))


_FOR_PROGRAMS = (
    "tag", "number", "measurement", "point", "taken_on", "instrument", "value", "measured_in", "result", "result_in",
    "says", "stage", "service", "disk", "supply_unit", "warm_up_minutes", "load", "set_aside", "doubts", "note",
    "mechanism",
)  # fmt: skip


def _columns(form: str, mode: Mode) -> list[Column]:
    from collection.quantity import show_day

    if mode != "table":
        return [Column(key) for key in _FOR_PROGRAMS]
    texts = [Column(key) for key in ("measurement", "point", "reading", "says", "stage", "instrument")]
    mechanism = Column("mechanism", "of", lambda name: (name or "").removeprefix("mechanism ").removeprefix("of "))
    day = Column("taken_on", "day", lambda day: show_day(day, form))
    return [Column("no"), day, *texts, mechanism, Column("remarks")]
