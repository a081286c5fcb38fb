"""round: one measurement or one procedure over many units, one line per unit, in the order of the shelves."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face, state_folder
from collection.cli.round_options import round_options
from collection.cli.show import Mode, answer, confirm, has_person, note, output_options, say
from collection.cli.tags import complete_tag
from collection.errors import Refused, path_typed, typed

if TYPE_CHECKING:
    from collection.acts.rounds import Answer, GivenRound, Line, Round, RoundDone
    from collection.cli.round_ask import Hands
    from collection.exchange.round_kept import KeptRound
    from collection.views.rounds import Chosen

_FOLDER = "rounds"


@click.command("round")
@click.argument("what", nargs=-1, metavar="[TAG | TAG=VALUE]...", shell_complete=complete_tag)
@round_options
@click.option("--new-instrument", is_flag=True, help="Add an instrument that the book does not have.")
@click.option("--disk", default="", metavar="NAME", help="The disk it is read with.")
@click.option("--on", default="", metavar="DATE", help="Day of the round (else today).")
@click.option("--by", default="", metavar="PERSON", help="Who did the work.")
@click.option("--by-the-sheet", is_flag=True, help="Book the amounts on the sheet of the procedure.")
@click.option("--past-date-anyway", is_flag=True, help="Supplies past their date were used all the same.")
@click.option("--outcome", default="", metavar="STANDING", help="How the units are left (else as before).")
@click.option("--anyway", default="", metavar="REASON", help="Why a rule of the shelf is not kept.")
@click.option("--write", "target", type=click.Path(path_type=Path), help="Write the form of the round: .xlsx or .csv.")
@click.option("--from", "source", type=click.Path(path_type=Path), help="Bring in a form that was filled in.")
@click.option("--yes", is_flag=True, help="With --from: write without asking.")
@output_options
@click.pass_obj
def round_command(face: Face, /, what: tuple[str, ...], mode: Mode, **told: Any) -> None:
    """Read or do one thing on many units, one line each.

    \b
    spindlebook round --of "spindle speed" --instrument "bench counter"
    spindlebook round --of "spindle speed" --location "shelf A" --write speeds.xlsx
    spindlebook round --from speeds.xlsx
    spindlebook round --of "spindle speed" D3=300.1 "D5=199.8 ms"
    spindlebook round --did "clean head" --of "head condition" D1 D2 D3

    At a terminal each unit is asked for, in the order of the shelves: Enter passes it over, back returns to the one
    before, Ctrl-C breaks off. What was typed is kept on this computer after every line; the same command goes on where
    it was left. At the end all of it goes into the book as one act, which undo takes back. Without a terminal lines
    TAG=VALUE are read.

    A measurement alone gives readings between services; a procedure gives each unit a service, or goes into its open
    one. Donors and units on loan, away, missing or gone are visited only where their tag is named. The same line twice
    adds nothing.

    Keys of --json: kind (new, same, doubtful, refused, skipped), row, tag, location, measurement, procedure, point,
    last, value, result, result_in, reading, limit, lower, upper, says, rule, notes, remarks.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    target, source, yes = told.pop("target"), told.pop("source"), told.pop("yes")
    chosen = chosen_units(what, told.pop("location"), told.pop("standing"), told.pop("due"))
    given = _given(told)
    answers = _answers(what)
    if source is not None:
        _bring_in(face, given, source, mode, yes=yes)
    elif target is not None:
        _write_form(face, given, chosen, target)
    elif not (given.measurement or given.procedure):
        raise _nothing_asked(face)
    else:
        if mode == "table":
            _show_cautions(face, given.procedure)
        if answers:
            _keep(face, given, answers, None, mode)
        elif given.procedure and not given.measurement and chosen.tags:
            _keep(face, given, _each_done(chosen.tags), None, mode)
        elif has_person():
            _ask_all(face, given, chosen, mode)
        else:
            _keep(face, given, _piped(), None, mode)


def _given(told: dict[str, Any]) -> GivenRound:
    from collection.acts.rounds import GivenRound
    from collection.cli.service_words import split_series

    name, point = split_series(told.pop("measurement"))
    return GivenRound(measurement=name, point=point, **told)


def chosen_units(what: Sequence[str], location: str, standing: str, due: bool) -> Chosen:
    """Return which units a round visits; a usage error where they are both named and chosen."""
    from collection.views.rounds import Chosen
    from collection.views.unit_list import Wanted

    tags = tuple(word for word in what if "=" not in word)
    if tags and (location or standing or due or len(tags) < len(what)):
        raise click.UsageError("Name units by their tags, by TAG=VALUE, or by --location, --standing and --due.")
    return Chosen(tags, Wanted(standing=standing, location=location), due)


def _answers(lines: Sequence[str]) -> list[Answer]:
    return [_answer(tag, value) for tag, equals, value in (line.partition("=") for line in lines) if equals]


def _answer(tag: str, value: str, note_text: str = "", row: int = 0) -> Answer:
    from collection.acts.rounds import Answer
    from collection.cli.service_words import split_value

    number, unit = split_value(value)
    return Answer(tag.strip(), number, unit, note_text, row)


def _each_done(tags: Sequence[str]) -> list[Answer]:
    return [_answer(tag, "yes") for tag in tags]


def _piped() -> list[Answer]:
    """Return the lines of standard input: TAG=VALUE, or TAG alone for what was done."""
    lines = [line.strip() for line in sys.stdin if line.strip()]
    if not lines:
        raise Refused("No value was told.", "Type TAG=VALUE, pipe such lines, or write a form with --write FILE.xlsx.")
    cut = [line.partition("=") for line in lines]
    return [_answer(tag, value if equals else "yes", row=at) for at, (tag, equals, value) in enumerate(cut, start=1)]


def _show_cautions(face: Face, procedure: str) -> None:
    from collection.cli.service_show import show_cautions
    from collection.views.procedures import cautions_before, find_procedures

    if procedure:
        with face.view() as conn:
            cautions = cautions_before(conn, find_procedures(conn, [procedure]))
        show_cautions(cautions)


def _form(face: Face) -> str:
    from collection.store.book import open_book

    with face.view() as conn:
        return open_book(conn).settings.date_form


def _keep(face: Face, given: GivenRound, answers: Sequence[Answer], on_round: Round | None, mode: Mode) -> None:
    """Write a round and show what came of it; with a line that is refused nothing is written."""
    from collection.acts.rounds import keep_round
    from collection.cli.round_show import show_round

    done = keep_round(face.engine(), given, answers, today=face.today, now=face.now)
    show_round(done, on_round, mode, _form(face), given.measurement, given.procedure)
    refused = done.of("refused")
    if refused:
        number = "1 line is" if len(refused) == 1 else f"{len(refused)} lines are"
        raise Refused(f"{number} refused; nothing was written.", "Correct what is said above, then repeat the command.")
    tell = say if mode == "table" else note
    tell(*_not_booked(face, given, done), _written(done.written))


def _not_booked(face: Face, given: GivenRound, done: RoundDone) -> list[str]:
    """Return what the sheet of the procedure would have taken out of the drawer for one of the units."""
    from collection.acts.service_given import GivenService
    from collection.acts.service_supplies import offered_by_sheet

    if not (done.written and given.procedure) or given.by_the_sheet:
        return []
    with face.view() as conn:
        offered = offered_by_sheet(conn, done.lines[0].tag, GivenService(did=(given.procedure,)))
    amounts = ", ".join(each.shown for each in offered)
    words = f"Nothing was booked out of the drawer. By the sheet it is {amounts} a unit; to book it: spindlebook undo,"
    return [f"{words} then the same again with --by-the-sheet"] if offered else []


def _written(written: bool) -> str:
    return "Written as one act. To take it back: spindlebook undo" if written else "Nothing new: nothing was written."


def _write_form(face: Face, given: GivenRound, chosen: Chosen, target: Path) -> None:
    from collection.acts.rounds import set_out
    from collection.cli.round_show import form_lines
    from collection.exchange.round_form import FormLine, write_form
    from collection.store.book import open_book
    from collection.views.procedures import cautions_before

    with face.view() as conn:
        on_round = set_out(conn, given, chosen, face.today)
        form = open_book(conn).settings.date_form
        subject = on_round.subject
        cautions = cautions_before(conn, [subject.procedure]) if subject.procedure else []
    head = {
        "round of": subject.measurement.name if subject.measurement else "",
        "point": given.point,
        "procedure": subject.procedure.name if subject.procedure else "",
        "instrument": given.instrument,
        "disk": given.disk,
        "day": on_round.on.isoformat(),
    }
    head = {name: text for name, text in head.items() if text or (subject.measurement and name == "instrument")}
    measured_in = subject.measurement.measured_in if subject.measurement else ""
    lines = [FormLine(*line) for line in form_lines(on_round.stops.at, form)]
    write_form(target, head, measured_in, lines, [caution.text for caution in cautions])
    say(f"Written to {target}: {len(lines)} units. When it is filled in: spindlebook round --from {path_typed(target)}")


def _bring_in(face: Face, given: GivenRound, source: Path, mode: Mode, *, yes: bool) -> None:
    """Show what a filled form would write, ask, and write it."""
    from collection.acts.rounds import try_round
    from collection.cli.round_show import show_round
    from collection.exchange.round_form import read_form

    filled = read_form(source)
    head = filled.head
    given = replace(
        given,
        measurement=given.measurement or head.get("round of", ""),
        point=given.point or head.get("point", ""),
        procedure=given.procedure or head.get("procedure", ""),
        instrument=given.instrument or head.get("instrument", ""),
        disk=given.disk or head.get("disk", ""),
        on=given.on or head.get("day", ""),
    )
    answers = [_answer(line.tag, line.value, line.note, line.row) for line in filled.lines]
    if yes:
        _keep(face, given, answers, None, mode)
        return
    tried = try_round(face.engine(), given, answers, today=face.today, now=face.now)
    show_round(tried, None, mode, _form(face), given.measurement, given.procedure)
    if tried.of("refused"):
        raise Refused("Nothing was written.", "Correct the form, then repeat the command.")
    if not (tried.of("new") or tried.of("doubtful")):
        note(_written(False))
    elif mode == "table" and confirm("Write this into the book?"):
        from collection.acts.rounds import keep_round

        say(_written(keep_round(face.engine(), given, answers, today=face.today, now=face.now).written))
    else:
        note("Nothing was written; --yes writes.")


def _ask_all(face: Face, given: GivenRound, chosen: Chosen, mode: Mode) -> None:
    """Ask unit by unit, keep every line on this computer, and put all of it into the book at the end."""
    from collection.acts.rounds import set_out, try_round
    from collection.cli.round_ask import ending, walk
    from collection.cli.round_show import questions_of
    from collection.store.book import open_book

    with face.view() as conn:
        on_round, book = set_out(conn, given, chosen, face.today), open_book(conn)
    given = replace(given, on=on_round.on.isoformat())
    try_round(face.engine(), given, [], today=face.today, now=face.now)  # what is wrong with it is said before the work
    kept = _kept(given, book.key)
    answers = kept.answers()
    _say_what_waits(kept, book.key, len([text for text in answers.values() if text]))
    questions, hands = questions_of(on_round, book.settings.date_form), _hands(face, given, kept)
    say("Enter passes a unit over, back returns to the one before, Ctrl-C breaks off; every line is kept.")
    whole = walk(questions, answers, hands)
    write = ending(questions, answers, hands) if whole else False
    if write is None:
        kept.drop()
        say("Nothing was told: nothing was written.")
        return
    if not write and not _write_part(answers):
        say("What was typed is kept on this computer, and not in the book. To go on:", f"  {_command(kept)}")
        raise click.exceptions.Exit(130)
    _keep(face, given, [_answer(tag, text) for tag, text in answers.items()], on_round, mode)
    kept.drop()


def _write_part(answers: dict[str, str]) -> bool:
    from collection.cli.round_ask import answered

    return bool(answered(answers)) and confirm(f"Put the {answered(answers)} told so far into the book now?")


def _hands(face: Face, given: GivenRound, kept: KeptRound) -> Hands:
    from collection.acts.rounds import try_round
    from collection.cli.round_ask import Hands
    from collection.cli.round_show import seen_in

    def look(tag: str, typed: str) -> str:
        tried = try_round(face.engine(), given, [_answer(tag, typed)], today=face.today, now=face.now)
        line: Line = tried.lines[0]
        if line.kind == "refused":
            raise Refused(line.rule, line.hint)
        return seen_in(line)

    return Hands(answer, look, kept.keep, note)


def _kept(given: GivenRound, book: str) -> KeptRound:
    from collection.exchange.round_kept import KeptRound

    names = ("measurement", "point", "procedure", "instrument", "disk", "on")
    return KeptRound(state_folder() / _FOLDER, {"book": book, **{name: getattr(given, name) for name in names}})


def _say_what_waits(kept: KeptRound, book: str, told: int) -> None:
    """Say what of this round is kept from before, and which other rounds wait."""
    from collection.exchange.round_kept import unfinished

    if told:
        say(f"Going on: {told} told before.")
    for other in unfinished(state_folder() / _FOLDER, book):
        if other.head != kept.head:
            say(f"Another round waits to be finished: {_command(other)}")


def _command(kept: KeptRound) -> str:
    """Return what to type to go on with a round."""
    head = kept.head
    series = head["measurement"] + (f"[{head['point']}]" if head["point"] else "")
    words = {"--of": series, "--did": head["procedure"], **{f"--{name}": head[name] for name in ("instrument", "disk")}}
    told = "".join(f" {option} {typed(text)}" for option, text in words.items() if text)
    return f"spindlebook round{told} --on {head['on']}"


def _nothing_asked(face: Face) -> Refused:
    from collection.exchange.round_kept import unfinished
    from collection.store.book import open_book

    with face.view() as conn:
        waiting = unfinished(state_folder() / _FOLDER, open_book(conn).key)
    hint = f"One waits to be finished: {_command(waiting[0])}" if waiting else 'Add --of "spindle speed".'
    return Refused("What the round is of is not said.", hint)
