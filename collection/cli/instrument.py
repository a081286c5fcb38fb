"""instrument: what readings are taken with, its checks and its repairs."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

import click

from collection.cli.face import Face
from collection.cli.instrument_compare import compare_command
from collection.cli.medium import (
    check_objects,
    check_options,
    day_shown,
    form_of,
    given,
    last_of,
    next_check,
    retire_options,
    say_changes,
    show_checks,
)
from collection.cli.past import past_options
from collection.cli.rows import in_order, sort_option
from collection.cli.show import Column, Mode, emit, emit_object, output_options, say, say_pairs
from collection.cli.tags import complete_tag

if TYPE_CHECKING:
    from collection.acts.instrument_life import GivenUse
    from collection.views.instrument_list import InstrumentRow, Use

P = ParamSpec("P")
T = TypeVar("T")
_USES = ("measurements", "reference_for", "from_date", "resolution", "uncertainty")


def _told(command: Callable[P, T]) -> Callable[P, T]:
    """Add the options of what is written of an instrument; one that is not given is None."""
    for option in (
        click.option("--note", metavar="TEXT", help="Anything else."),
        click.option("--check-every", metavar="MONTHS", help='Months between checks, "never" for none.'),
        click.option("--unit", metavar="TAG", shell_complete=complete_tag, help="The unit that it is, by its tag."),
        click.option("--version", metavar="TEXT", help="Of a program."),
        click.option("--host", metavar="TEXT", help="The computer a program runs on."),
        click.option("--kind", metavar="TEXT", help="counter, strobe, meter, program ..."),
        click.option("--uncertainty", default="", metavar="NUMBER", help="In the unit of the measurement."),
        click.option("--resolution", default="", metavar="NUMBER", help="In the unit of the measurement."),
        click.option("--from", "from_date", default="", metavar="DATE", help="Used for it since (else today)."),
        click.option("--reference-for", multiple=True, metavar="MEASUREMENT", help="As --for, as a reference."),
        click.option("--for", "measurements", multiple=True, metavar="MEASUREMENT", help="What it is used for."),
    ):
        command = option(command)
    return command


@click.group("instrument")
def instrument_group() -> None:
    """Keep the instruments that readings are taken with."""


instrument_group.add_command(compare_command)


@instrument_group.command("add")
@click.argument("name")
@_told
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def add_command(face: Face, /, name: str, as_json: bool, **told: Any) -> None:
    """Add an instrument.

    \b
    spindlebook instrument add "bench counter 2" --kind counter --check-every 12 \\
      --reference-for "spindle speed" --resolution 0.1 --uncertainty 0.2
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.acts.instrument_life import add_instrument

    use = _use(told)
    row = add_instrument(face.engine(), name, given(told), use, today=face.today, now=face.now)
    _show(row, as_json, f'Added "{row.name}" for {_for(row)}.')


@instrument_group.command("list")
@click.option("--all", "retired_too", is_flag=True, help="Retired ones too.")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, retired_too: bool, sort: str, mode: Mode) -> None:
    """List instruments, how far each reads off, and their checks.

    One row an instrument and measurement. What the readings of the whole fleet show of it stands below: how far it
    reads off the reference with its 95 % interval, and how often both read the same thing. Where nothing ties it to a
    reference, differences alone are shown and no reading is corrected. Units that were set by an instrument that reads
    off are named at the end. --all: retired ones, and the periods before a repair.

    Keys of --json: instrument, measurement, offset, offset_low, offset_high, repeatability, linked, offset_in,
    reference, against, direct_pairs, indirect, since, readings_used, sentence, set_off (tag, point, set_on, off,
    off_low, off_high, sentence), kind, measurements, reference_for, unit, host, version, from_date, readings,
    last_read, checked_on, result, check_every_months, check_due, retired_on, retired_reason, note.
    """
    from collection.cli.instrument_offsets import (
        OFFSET_KEYS,
        below_offsets,
        offset_cells,
        offset_columns,
        offset_object,
        once,
    )
    from collection.cli.kept import kept_offsets
    from collection.store.book import open_book
    from collection.views.instrument_offsets import instruments_for_each

    with face.view() as conn:
        rows = instruments_for_each(conn, face.today, kept_offsets(face, conn))
        form = open_book(conn).settings.date_form
    shown = [row for row in rows if retired_too or (row.present and not row.row.retired_on)]
    objects = [_object(row.row) | offset_object(row) | offset_cells(row, form) for row in shown]
    columns = [Column(key) for key in (*OFFSET_KEYS, *_KEYS[1:])]
    empty = 'No instrument yet. Type: spindlebook instrument add "NAME" --for "spindle speed"'
    found = in_order(objects, columns, sort)
    if mode == "table":
        emit(list(once(found)), offset_columns(), mode, empty=empty, under="said")
        say(*below_offsets(shown))
    elif mode == "csv":
        emit([{**row, "set_off": [each["tag"] for each in row["set_off"]]} for row in found], columns, mode)
    else:
        emit(found, columns, mode)


@instrument_group.command("show")
@click.argument("name")
@past_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def show_command(face: Face, /, name: str, as_json: bool) -> None:
    """Show an instrument, its periods and its checks.

    Keys of --json: instrument, kind, measurements, reference_for, unit, host, version, from_date, readings, last_read,
    checked_on, result, check_every_months, check_due, retired_on, retired_reason, note, periods (measurement,
    from_date, reference, resolution, uncertainty, measured_in), checks (checked_on, result, by, note).
    """
    from collection.store.book import open_book
    from collection.views.checks import checks_of
    from collection.views.instrument_list import find_instrument_row

    with face.view() as conn:
        row = find_instrument_row(conn, name, face.today)
        checks, form = checks_of(conn, "instrument", row.id), open_book(conn).settings.date_form
    if as_json:
        emit_object(_object(row) | {"periods": list(map(_period, row.uses)), "checks": check_objects(checks)})
        return
    _card(row, form)
    show_checks(checks, form)


@instrument_group.command("edit")
@click.argument("name")
@click.option("--name", "new_name", metavar="TEXT", help="Another name.")
@_told
@click.option("--reason", default="", metavar="TEXT", help="Why it is changed.")
@click.pass_obj
def edit_command(face: Face, /, name: str, new_name: str | None, reason: str, **told: Any) -> None:
    """Change what is written of an instrument.

    An empty text takes a value away. --for and --reference-for put it to a measurement, or change the figures of one
    that it is used for.
    """
    from collection.acts.instrument_life import edit_instrument

    use = _use(told)
    texts = given({"name": new_name, **told})
    changed = edit_instrument(face.engine(), name, texts, use, reason=reason, today=face.today, now=face.now)
    say_changes(changed.name, changed.changes)


@instrument_group.command("check")
@check_options
@click.pass_obj
def check_command(face: Face, /, name: str, result: str, as_json: bool, **told: Any) -> None:
    """Note a check of an instrument: pass, marginal or fail.

    A reading with an instrument that failed is marked as doubtful.
    """
    from collection.acts.instrument_life import check_instrument

    row = check_instrument(face.engine(), name, result, today=face.today, now=face.now, **told)
    _show(row, as_json, f"{row.name}: {result}{next_check(row, form_of(face))}.")


@instrument_group.command("repaired")
@click.argument("name")
@click.option("--on", default="", metavar="DATE", help="Day it came back into use (else today).")
@click.option("--reason", default="", metavar="TEXT", help="What was done to it.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def repaired_command(face: Face, /, name: str, as_json: bool, **told: Any) -> None:
    """Begin a new period of an instrument: it was repaired.

    Or adjusted. What it is used for stays, with the figures of the period before.
    """
    from collection.acts.instrument_life import instrument_repaired

    row = instrument_repaired(face.engine(), name, today=face.today, now=face.now, **told)
    form = form_of(face)
    _show(row, as_json, f"{row.name}: a new period since {day_shown(form)(row.from_date)}{next_check(row, form)}.")


@instrument_group.command("retire")
@retire_options
@click.pass_obj
def retire_command(face: Face, /, name: str, as_json: bool, **told: Any) -> None:
    """Retire an instrument.

    It is refused for readings after its last day. A reference goes when three units were read with it and with another
    reference on one day, so that what was read before can be held against what is read after.
    """
    from collection.acts.instrument_life import retire_instrument

    row = retire_instrument(face.engine(), name, today=face.today, now=face.now, **told)
    _show(row, as_json, f"{row.name} is retired since {row.retired_on}: {row.retired_reason}.")


def _use(told: dict[str, Any]) -> GivenUse:
    from collection.acts.instrument_life import GivenUse

    return GivenUse(**{name: told.pop(name) for name in _USES})


def _show(row: InstrumentRow, as_json: bool, sentence: str) -> None:
    if as_json:
        emit_object(_object(row))
    else:
        say(sentence)


def _for(row: InstrumentRow) -> str:
    return ", ".join(f"{use.measurement}{' *' if use.reference else ''}" for use in row.present.values())


def _object(row: InstrumentRow) -> dict[str, Any]:
    later = ("check_every_months", "check_due", "retired_on", "retired_reason", "note")
    return (
        {
            "instrument": row.name,
            "kind": row.kind or None,
            "measurements": list(row.present),
            "reference_for": [use.measurement for use in row.present.values() if use.reference],
            "unit": row.unit or None,
            "host": row.host or None,
            "version": row.made_version or None,
            "from_date": row.from_date or None,
            "readings": row.readings,
            "last_read": row.last_read or None,
        }
        | last_of(row.last)
        | {key: getattr(row, key) or None for key in later}
    )


def _period(use: Use) -> dict[str, Any]:
    return {
        "measurement": use.measurement,
        "from_date": use.from_date or None,
        "reference": use.reference,
        "resolution": use.resolution,
        "uncertainty": use.uncertainty,
        "measured_in": use.measured_in,
    }


_KEYS = (
    "instrument", "kind", "measurements", "reference_for", "unit", "host", "version", "from_date", "readings",
    "last_read", "checked_on", "result", "check_every_months", "check_due", "retired_on", "retired_reason", "note",
)  # fmt: skip


def _card(row: InstrumentRow, form: str) -> None:
    day = day_shown(form)
    every = f"every {row.check_every_months} months" if row.check_every_months else ""
    say(f"{row.name}{f': {row.kind}' if row.kind else ''}", bold=True)
    say_pairs(
        (
            ("unit", row.unit),
            ("host", row.host),
            ("version", row.made_version),
            ("readings", f"{row.readings}, the last on {day(row.last_read)}" if row.readings else "none"),
            ("check", ", ".join(filter(None, (every, f"due {day(row.check_due)}" if row.check_due else "")))),
            ("retired", f"{day(row.retired_on)}: {row.retired_reason}" if row.retired_on else ""),
            ("note", row.note),
        )
    )
    say("", "Used for", bold=True)
    columns = (
        Column("measurement"),
        Column("from_date", "since", day),
        Column("reference", show=lambda yes: "reference" if yes else ""),
        Column("resolution"),
        Column("uncertainty"),
        Column("measured_in", "in"),
    )
    emit([_period(use) for use in row.uses], columns)
