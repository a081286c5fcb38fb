"""service: record what was done to a unit, in one line, from a file, or over days."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

import click

from collection.cli.edits import service_edit_command
from collection.cli.face import Face
from collection.cli.tags import complete_instrument, complete_procedure, complete_tag
from collection.cli.whole import Whole
from collection.errors import typed

if TYPE_CHECKING:
    from collection.acts.service_given import GivenService
    from collection.acts.service_record import ServiceDone

P = ParamSpec("P")
T = TypeVar("T")
_LISTS = ("as_found", "did", "used", "part", "turned", "lubed", "as_left", "instrument")
_READING = '"MEASUREMENT[POINT]=VALUE UNIT @INSTRUMENT"'

_ABOUT = (
    click.option("--on", default="", metavar="DATE", help="Day of the work (else today)."),
    click.option("--by", default="", metavar="PERSON", help="Who did the work."),
    click.option("--reason", default="", metavar="TEXT", help="Why the unit was opened."),
    click.option("--findings", default="", metavar="TEXT", help="What was seen."),
    click.option("--as-found", multiple=True, metavar="READING", help=f"{_READING}; as often as needed."),
    click.option(
        "--instrument",
        multiple=True,
        metavar="NAME",
        shell_complete=complete_instrument,
        help="Of readings that name none.",
    ),
    click.option("--new-instrument", is_flag=True, help="Add an instrument that the book does not have."),
    click.option("--anyway", default="", metavar="REASON", help="Why a rule of the shelf is not kept."),
    click.option("--json", "as_json", is_flag=True, help="Print JSON: one object."),
)
_WORK = (
    click.option(
        "--did", multiple=True, metavar="PROCEDURE", shell_complete=complete_procedure, help="A procedure done."
    ),
    click.option("--used", multiple=True, metavar="USE", help='"SUPPLY=AMOUNT UNIT" or "SUPPLY/LOT=AMOUNT UNIT".'),
    click.option("--by-the-sheet", is_flag=True, help="Book the amounts on the sheets of the procedures."),
    click.option("--past-date-anyway", is_flag=True, help="Supplies past their date were used all the same."),
    click.option("--part", multiple=True, metavar="PART", help='"PART=SUPPLY", "PART=SUPPLY/LOT", "PART from TAG".'),
    click.option("--turned", multiple=True, metavar="TURN", help='A screw: "speed trimmer=1/8 clockwise".'),
    click.option("--lubed", multiple=True, metavar="LUBRICANT", help='"rails=white grease, cleaned off first".'),
    click.option("--as-left", multiple=True, metavar="READING", help="As --as-found, after the work."),
    click.option("--minutes", type=Whole(min=0), help="Minutes of work."),
    click.option("--from", "source", metavar="FILE", help="Read all this from a JSON file, - for standard input."),
)
_OUTCOME = click.option("--outcome", default="", metavar="STANDING", help="How the unit is left: ready, donor ...")


def _options(*groups: Any) -> Callable[[Callable[P, T]], Callable[P, T]]:
    def add(command: Callable[P, T]) -> Callable[P, T]:
        for option in reversed([option for group in groups for option in group]):
            command = option(command)
        return command

    return add


@click.group("service")
def service_group() -> None:
    """Record what was done to a unit."""


@service_group.command("record")
@click.argument("tag", shell_complete=complete_tag)
@_options(_ABOUT, _WORK, (_OUTCOME,))
@click.pass_obj
def record_command(face: Face, /, tag: str, source: str | None, as_json: bool, **told: Any) -> None:
    """Record a whole service of one day; without options, at a terminal, it is asked block by block.

    \b
    spindlebook service record D1 --instrument "bench counter" \\
      --as-found "spindle speed=306.1" --did "set spindle speed" \\
      --as-left "spindle speed=200.0 ms" --outcome ready

    READING is MEASUREMENT=VALUE, a point in brackets, a unit and @instrument behind it: "rail voltage[+5 V]=5.02",
    "spindle speed=199.2 ms", "spindle speed=+6 bars/min @hand strobe", "head condition=pass".
    PART is "belt=belt 5 mm", "belt=belt 5 mm/LOT" or "belt from D7". USE is "isopropyl alcohol 99 %=2 ml".
    TURN is "speed trimmer=1/8 clockwise", as seen facing the screw; also 1 1/2, 0.5 or 45 deg, and counter-clockwise;
    behind it what it sets: "speed trimmer=45 deg clockwise for spindle speed".
    LUBRICANT is "rails=white grease", and ", cleaned off first" behind it where the old one was; the amount is --used.

    A unit is not called ready while a measurement that its procedures ask for, or that was out as found, is missing
    as left or outside its limit, or a fault is open; --anyway with a reason goes against that.

    The file of --from holds one object; its keys are the options with _ for -. Options add to it.

    \b
    {"on": "2026-02-28", "did": ["clean head"], "minutes": 20,
     "as_found": ["spindle speed=301.2 @bench counter",
                  {"measurement": "head condition", "value": "fail"}],
     "used": [{"supply": "isopropyl alcohol 99 %", "quantity": 2,
               "measured_in": "ml", "lot": "A7"}],
     "part": [{"part": "belt", "supply": "belt 5 mm"}, "foot from D7"],
     "as_left": ["head condition=pass"], "outcome": "ready"}

    An entry of a list is a text as the option takes it, or an object. A reading has measurement, value, point,
    measured_in, instrument, disk, supply_unit, warm_up_minutes, load, note; a use has supply, quantity, measured_in,
    lot, procedure; a part has part, supply, lot, donor; a turned screw has screw, amount, direction, measurement, note;
    a lubricant has point, supply, cleaned_first, note.

    Keys of --json: tag, service, opened_on, closed_on, reason, procedures, outcome, standing, minutes, by, findings,
    readings (measurement, point, measured_in, lower, upper, limit_source, as_found and as_left, each also with _says
    and _instrument), uses (supply, lot, what, quantity, measured_in, basis, past_date, left_in_lot, left), parts (part,
    fitted_on, supply, lot, donor, unit), turned (screw, direction, amount, measurement, done_on), lubed (point,
    supply, cleaned_first, put_on), due (procedure, due,
    days_over, why), cautions, doubts, notes.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.acts.service_record import record_service

    if not as_json and source is None and _nothing(told):
        from collection.cli.guide import begin

        begin(face, tag)
        return
    carry_out(face, tag, record_service, _given(told, source), as_json=as_json)


@service_group.command("resume")
@click.argument("tag", required=False, shell_complete=complete_tag)
@click.pass_obj
def resume_command(face: Face, /, tag: str | None) -> None:
    """Go on with a guided service that was interrupted.

    spindlebook service record TAG without options is a guided service: it asks what was read as found, which tasks
    are done, which supplies and parts they took, what was read as left, and how the unit is left. Each answer is kept
    at once. Without TAG the only guided service that is open goes on; several are listed.
    """
    from collection.cli.guide import resume

    resume(face, tag)


@service_group.command("open")
@click.argument("tag", shell_complete=complete_tag)
@click.option("--for", "planned", multiple=True, metavar="PROCEDURE", help="What shall be done (else what is due).")
@_options(_ABOUT)
@click.pass_obj
def open_command(face: Face, /, tag: str, planned: tuple[str, ...], as_json: bool, **told: Any) -> None:
    """Open a service that goes on over days.

    The unit stands on the bench until the service is closed. The cautions of the procedures named with --for are
    shown, else of those due within 30 days, else of all that apply to the unit.
    """
    from collection.acts.service_record import open_service

    carry_out(face, tag, open_service, _given(told, None), as_json=as_json, planned=planned)


@service_group.command("add")
@click.argument("tag", shell_complete=complete_tag)
@_options(_ABOUT, _WORK)
@click.pass_obj
def add_command(face: Face, /, tag: str, source: str | None, as_json: bool, **told: Any) -> None:
    """Add to the open service of a unit.

    The options and the file are those of: spindlebook service record --help
    """
    from collection.acts.service_record import add_to_service

    carry_out(face, tag, add_to_service, _given(told, source), as_json=as_json)


service_group.add_command(service_edit_command)


@service_group.command("close")
@click.argument("tag", shell_complete=complete_tag)
@_options(_ABOUT, _WORK, (_OUTCOME,))
@click.pass_obj
def close_command(face: Face, /, tag: str, source: str | None, as_json: bool, **told: Any) -> None:
    """Close the open service of a unit.

    The outcome must be told. The options and the file are those of: spindlebook service record --help
    """
    from collection.acts.service_record import close_service

    carry_out(face, tag, close_service, _given(told, source), as_json=as_json)


def _nothing(told: dict[str, Any]) -> bool:
    return all(value is None or value is False or value in ("", ()) for value in told.values())


def _given(told: dict[str, Any], source: str | None) -> GivenService:
    """Return what the options and the file tell; lists are joined, else an option goes before the file."""
    from collection.acts.service_given import GivenService
    from collection.cli.service_words import parse_lubed, parse_part, parse_reading, parse_turned, parse_use

    made: dict[str, Any] = _from_file(source) if source else {}
    forms = {
        "as_found": parse_reading,
        "as_left": parse_reading,
        "used": parse_use,
        "part": parse_part,
        "turned": parse_turned,
        "lubed": parse_lubed,
    }
    fields = {"part": "parts", "instrument": "instruments"}
    for name, value in told.items():
        field = fields.get(name, name)
        if name in _LISTS:
            made[field] = (*made.get(field, ()), *map(forms.get(name, str), value))
        elif value not in ("", None, False):
            made[field] = value
    return GivenService(**made)


def _from_file(source: str) -> dict[str, Any]:
    from collection.cli.service_file import read_service
    from collection.errors import Refused

    with click.open_file(source, "rb") as file:
        raw = file.read()
    name = "standard input" if source == "-" else source
    try:
        return read_service(raw.decode("utf-8-sig"), name)
    except UnicodeDecodeError as error:
        raise Refused(f"{name}: byte {error.start + 1} is no UTF-8.", "Save the file as UTF-8.") from None


def carry_out(
    face: Face,
    tag: str,
    act: Callable[..., ServiceDone],
    given: GivenService,
    *,
    as_json: bool,
    planned: tuple[str, ...] | None = None,
) -> None:
    """Show what stands before the work, do the act, and show what it changed."""
    from dataclasses import replace

    from collection.acts.lubrication import mixing_cautions
    from collection.acts.service_supplies import cautions_for, offered_by_sheet
    from collection.cli.service_show import report_object, show_cautions, show_report
    from collection.cli.show import emit_object, say
    from collection.store.book import open_book
    from collection.views.procedures import Caution
    from collection.views.service_report import doubts_of, service_report

    with face.view() as conn:
        cautions = cautions_for(conn, given) if planned is None else _planned(face, conn, tag, planned)
        offered = offered_by_sheet(conn, tag, given)
        cautions += [Caution(text, ()) for text in mixing_cautions(conn, tag, given, face.today)]
    if not as_json:
        show_cautions(cautions)
    if offered and _accepted(offered):
        given, offered = replace(given, by_the_sheet=True), []
    done = act(face.engine(), tag, given, today=face.today, now=face.now)
    with face.view() as conn:
        report, form = service_report(conn, done.service_id, face.today), open_book(conn).settings.date_form
        doubts = doubts_of(conn, done.act_id)
    notes = [*done.notes, *_not_booked(offered, tag, is_open=not report.closed_on)]
    if as_json:
        told = {"cautions": [caution.text for caution in cautions], "doubts": doubts, "notes": notes}
        emit_object(report_object(report, face.today) | told)
        return
    show_report(report, form, face.today)
    if doubts or notes:
        say("", *(f"Doubtful: {doubt}" for doubt in doubts), *notes)


def _planned(face: Face, conn: Any, tag: str, names: tuple[str, ...]) -> list[Any]:
    from collection.views.procedures import cautions_before, find_procedures
    from collection.views.service_report import procedures_ahead
    from collection.views.units import find_unit

    unit_id = find_unit(conn, tag).id
    chosen = find_procedures(conn, names) if names else procedures_ahead(conn, unit_id, face.today)
    return cautions_before(conn, chosen)


def _accepted(offered: list[Any]) -> bool:
    """Ask a person at a terminal whether the sheet's amounts were used."""
    import sys

    from collection.cli.show import confirm

    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        return False
    return confirm(f"By the sheet: {', '.join(each.shown for each in offered)}. Book it?")


def _not_booked(offered: list[Any], tag: str, *, is_open: bool) -> list[str]:
    if not offered:
        return []
    amounts = ", ".join(each.shown for each in offered)
    later = f"spindlebook service add {typed(tag)}" if is_open else "spindlebook undo, then add"
    return [f"Nothing was booked out of the drawer. By the sheet it is {amounts}; to book it: {later} --by-the-sheet"]
