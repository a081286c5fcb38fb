"""loan out: lend units, with what goes along, on which terms and in what state."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.loan_back import tell_back
from collection.cli.loan_rows import MORE, day_form, loan_columns, loan_objects, shown_day
from collection.cli.loan_words import finder, one_of_each, state_options, states, tell_doubts_of
from collection.cli.show import Mode, emit, note, output_options, say
from collection.cli.tags import complete_tag
from collection.errors import typed

if TYPE_CHECKING:
    from collection.acts.loan_given import GivenTerms
    from collection.views.due import Rechecks
    from collection.views.loans import LoanRow

_ALONG = 'What goes with it that has no tag, as "cable" or "D1: cable".'


def terms_options(command: Callable[..., None]) -> Callable[..., None]:
    """Add the options of the terms of a loan."""
    for option, stands, text in (
        ("--by", "PERSON", "Who hands it over (else --who of the command)."),
        ("--agreement", "TEXT", "Number or place of what was signed."),
        ("--cover", "TEXT", "Whose insurance covers it, the way there and back too."),
        ("--deposit", "SUM", 'As 50, or "50 EUR".'),
        ("--purpose", "TEXT", "What it is lent for."),
    ):
        command = click.option(option, default="", metavar=stands, help=text)(command)
    return command


@click.command("out")
@click.argument("tags", nargs=-1, required=True, metavar="TAG...", shell_complete=complete_tag)
@click.option("--to", required=True, metavar="PERSON", help="Who borrows.")
@click.option("--due", required=True, metavar="DATE", help="Day it is due back.")
@click.option("--on", default="", metavar="DATE", help="Day it goes out (else today).")
@click.option("--came-back", default="", metavar="DATE", help="Day all of it was back, of a loan that is over.")
@click.option("--along", "along", multiple=True, metavar="TEXT", help=_ALONG)
@state_options
@terms_options
@click.option("--all-the-same", default="", metavar="REASON", help="Lend it though something stands against it.")
@output_options
@click.pass_obj
def out_command(
    face: Face,
    /,
    tags: tuple[str, ...],
    came_back: str,
    along: tuple[str, ...],
    all_the_same: str,
    mode: Mode,
    **told: Any,
) -> None:
    """Lend units to a person.

    \b
    spindlebook loan out D4 P6 --to "Ada Field" --due 2026-05-01
      --along "P6: mains lead" --condition "D4: scratched lid"

    Refused is a unit that is not ready, has an open fault, falls due before the loan ends, is reserved for somebody
    else, reads outside a limit or is graded fail as it goes out, failed its last condition check, or is fed from
    the mains and has no electrical safety check that is good until then. --all-the-same with a reason lends it, and
    marks the loan. No reason lends what is out, missing or gone, or left since, what is due back to its own lender
    before, or what failed its safety check.

    A loan that is over is noted late with --on and --came-back, before or after others of the unit.

    Keys of --json: those of loan list.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.acts.loan_given import GoingOut
    from collection.acts.loan_out import lend

    find = finder(face)
    state, goes = states(tags, told, find), one_of_each(tags, along, "--along", find)
    units = [GoingOut(tag, goes[tag], state[tag]) for tag in tags]
    if not came_back:
        _caution(face, tags)
    rows = lend(
        face.engine(),
        units,
        to=told.pop("to"),
        due=told.pop("due"),
        on=told.pop("on"),
        terms=terms_of(told),
        all_the_same=all_the_same,
        came_back=came_back,
        rechecks=None if came_back else rechecks_of(face),
        today=face.today,
        now=face.now,
    )
    emit(loan_objects(rows), loan_columns(day_form(face), back=bool(came_back)), mode, under=MORE)
    tell_doubts_of(face, rows, "loan out", mode)
    if mode == "table" and came_back:
        with face.view() as conn:
            tell_back(face, conn, rows)
    elif mode == "table":
        _tell(face, rows)


def terms_of(told: dict[str, Any]) -> GivenTerms:
    """Return the terms out of what `terms_options` gave."""
    from collection.acts.loan_given import GivenTerms

    return GivenTerms(**{key: told[key] for key in ("purpose", "deposit", "cover", "agreement", "by")})


def rechecks_of(face: Face) -> Rechecks:
    """Return by unit what is to be read again by its drift, at the risk that the book accepts."""
    from collection.cli.kept import kept_rechecks
    from collection.store.book import open_book

    with face.view() as conn:
        return kept_rechecks(face, conn, open_book(conn).settings.risk)


def tell_marks(marks: Iterable[tuple[str, str]]) -> None:
    """Say what stood against a loan that was made all the same."""
    for tag, rule in marks:
        note(f"{tag}: {rule}.")


def _caution(face: Face, tags: Sequence[str]) -> None:
    """Say, before anything is handed over, what the mains inside a unit ask for."""
    from collection.errors import Refused
    from collection.views.safety import mains_units
    from collection.views.units import find_unit

    with face.view() as conn:
        mains = mains_units(conn)
        try:
            found = [find_unit(conn, tag) for tag in tags]
        except Refused:
            return
        inside = list(dict.fromkeys(unit.tag for unit in found if unit.id in mains))
    if inside:
        note(
            f"Mains voltage inside {', '.join(inside)}, and charge that may stay when unplugged: it is not opened.",
            "Whether it may be lent, and to whom, local rules and a qualified person decide.",
        )


def _tell(face: Face, rows: Sequence[LoanRow]) -> None:
    from collection.views.loan_show import marks_of
    from collection.views.loans import loan_list
    from collection.views.pairings import pairing_list

    loan, person, day = rows[0].loan, rows[0].person, shown_day(day_form(face))
    tags, ids = [row.tag for row in rows], {row.unit_id for row in rows}
    with face.view() as conn:
        tell_marks(marks_of(conn, rows[0].loan_id))
        stays = [
            f"{pair.drive} is fed by {pair.supply_unit}, which does not go along."
            for pair in pairing_list(conn)
            if pair.drive_id in ids and pair.supply_unit_id not in ids and not pair.to_date
        ]
        late = [row for row in loan_list(conn, face.today) if row.person == person and row.days_over > 0]
    say(*stays)
    for row in late:
        if row.direction == "out" and row.loan != loan:
            say(f"{person} still has {row.tag}, due {day(row.due_on)}.")
    say(
        f"To sign: spindlebook report loan-slip {typed(loan)}",
        f"To take back: spindlebook loan back {' '.join(map(typed, tags))}",
    )
