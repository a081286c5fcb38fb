"""report round-sheet: one line for each unit, to fill in along the shelves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from collection.cli.face import Face
from collection.cli.report_page import PageTo, page_options
from collection.cli.round_options import round_options
from collection.cli.tags import complete_tag
from collection.errors import typed

if TYPE_CHECKING:
    from collection.acts.rounds import GivenRound, Round
    from collection.views.rounds import Chosen


@click.command("round-sheet")
@click.argument("tags", nargs=-1, metavar="[TAG]...", shell_complete=complete_tag)
@round_options
@click.option("--disk", default="", metavar="NAME", help="The disk it is read with.")
@page_options
@click.pass_obj
def round_sheet_command(
    face: Face,
    /,
    tags: tuple[str, ...],
    measurement: str,
    procedure: str,
    location: str,
    standing: str,
    due: bool,
    instrument: str,
    disk: str,
    page: PageTo,
) -> None:
    """Print one line for each unit, to fill in along the shelves.

    \b
    spindlebook report round-sheet --of "spindle speed" --location "shelf A"
    spindlebook report round-sheet --did "clean head" --due --to heads.pdf

    The units stand in the order in which spindlebook round asks for them, so that the sheet is typed back from top to
    bottom; the command for that stands on it.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.acts.rounds import GivenRound, set_out
    from collection.cli.round import chosen_units
    from collection.cli.round_show import form_lines
    from collection.cli.service_words import split_series
    from collection.exchange.report_round import SheetLine, round_places
    from collection.store.book import open_book
    from collection.views.procedures import caution_texts, cautions_before, procedures_reading

    name, point = split_series(measurement)
    given = GivenRound(name, point, procedure, instrument, disk=disk)
    chosen = chosen_units(tags, location, standing, due)
    with face.view() as conn:
        on_round = set_out(conn, given, chosen, face.today)
        subject = on_round.subject
        measured = procedures_reading(conn, subject.measurement.name) if subject.measurement else []
        cautions = cautions_before(conn, [subject.procedure] if subject.procedure else measured)
        lines = [SheetLine(*line) for line in form_lines(on_round.stops.at, open_book(conn).settings.date_form)]
    places = round_places(
        _title(on_round, given),
        _head(on_round, given),
        lines,
        measured_in=subject.measurement.measured_in if subject.measurement else "",
        cautions=caution_texts(cautions),
        left_out=[f"{unit.tag} ({unit.standing})" for unit in on_round.stops.left_out],
        command=_command(given, chosen, [line.tag for line in lines]),
    )
    page.write(face, "round-sheet", places, about=procedure or name)


def _title(on_round: Round, given: GivenRound) -> str:
    """Return what the round is of: "Round: clean head, head condition"."""
    measurement, procedure = on_round.subject.measurement, on_round.subject.procedure
    done = procedure.name if procedure else ""
    read = f"{measurement.name} {given.point}".rstrip() if measurement else ""
    return f"Round: {', '.join(filter(None, (done, read)))}"


def _head(on_round: Round, given: GivenRound) -> dict[str, str]:
    """Return what stands above the lines; what is empty is written in by hand."""
    head = {"instrument": given.instrument} if on_round.subject.measurement else {}
    if given.disk:
        head["disk"] = given.disk
    return head | {"day": "", "by": ""}


def _command(given: GivenRound, chosen: Chosen, tags: list[str]) -> str:
    """Return what to type to be asked for the same units, or for what was done to units that were named.

    Units that are due are named where they can be, since another day others are.
    """
    series = given.measurement + (f"[{given.point}]" if given.point else "")
    words = {"--of": series, "--did": given.procedure, "--instrument": given.instrument, "--disk": given.disk}
    words |= {"--location": chosen.wanted.location, "--standing": chosen.wanted.standing}
    named = chosen.tags or (chosen.due and given.measurement)
    if named:
        words |= {"--location": "", "--standing": ""}
    told = "".join(f" {option} {typed(text)}" for option, text in words.items() if text)
    if named:
        done = " ".join(map(typed, tags)) if given.measurement else "TAG..."  # of a procedure: of those done
        told += f" --on DAY {done}"
    else:
        told += f"{' --due' if chosen.due else ''} --on DAY"
    return f"spindlebook round{told}"
