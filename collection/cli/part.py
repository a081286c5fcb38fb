"""part: list, fit, remove and edit the parts of a unit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.show import Column, Mode, emit, output_options, say
from collection.cli.tags import complete_tag
from collection.cli.whole import Whole
from collection.quantity import show_day

if TYPE_CHECKING:
    from datetime import date

    from collection.acts.parts import PartDone
    from collection.views.parts import PartRow

KEYS = (
    "tag", "number", "part", "state", "fitted_on", "removed_on", "supply", "lot", "donor", "to", "service", "note",
    "given_through", "age",
)  # fmt: skip


@click.group("part")
def part_group() -> None:
    """Fit and remove parts of units, and see what a donor has left."""


@part_group.command("list")
@click.argument("tag", shell_complete=complete_tag)
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, tag: str, mode: Mode) -> None:
    """List the parts of a unit: fitted now and before, taken for other units, and left on a donor.

    A donor lists as left what a unit of its kind is built with, without what was taken or removed.

    Keys of --json: tag, number, part, state (fitted, removed, taken, left), fitted_on, removed_on, supply, lot, donor
    (the unit it came from), to (the unit that got it), service, note, given_through (of a part of rubber that is
    fitted: the last day that its material is given, from fitting on), age (past what its rubber is given, or age
    unknown: inspect).
    """
    from collection.store.book import open_book
    from collection.views.fitted_rubber import ages_of_parts
    from collection.views.parts import LEFT, parts_of
    from collection.views.units import find_unit, unit_on

    with face.view() as conn:
        unit = unit_on(conn, find_unit(conn, tag).id, face.today)
        rows, form = parts_of(conn, unit), open_book(conn).settings.date_form
        ages = ages_of_parts(conn, unit.id, face.today)
    shown = [row for row in rows if mode != "table" or row.state != LEFT]
    left = [row.part for row in rows if row.state == LEFT]
    known = f"{unit.tag} has no part on record; it has those it was built with."
    made = [part_object(unit.tag, row, ages.get(row.id)) for row in shown]
    emit(made, _columns(form, mode), mode, empty="" if left else known)
    if mode == "table" and (left or unit.standing == "donor"):
        say(f"Left on {unit.tag}, as far as the book knows: {', '.join(left) or 'nothing'}.")


@part_group.command("fit")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("part")
@click.option(
    "--from", "supply", default="", metavar="SUPPLY[/LOT]", help="The supply, or a lot of it, it comes out of."
)
@click.option("--donor", default="", metavar="TAG", help="The unit it is taken out of, as it sits there now.")
@click.option("--own-of", default="", metavar="TAG", help="The unit whose own part it is, which lay loose.")
@click.option("--on", default="", metavar="DATE", help="Day it was fitted (else today).")
@click.option("--note", default="", metavar="TEXT", help="Anything else.")
@click.option("--anyway", default="", metavar="REASON", help="Why a rule of the shelf is not kept.")
@click.option("--past-date-anyway", is_flag=True, help="It came from a lot past its date all the same.")
@output_options
@click.pass_obj
def fit_command(
    face: Face,
    /,
    tag: str,
    part: str,
    supply: str,
    donor: str,
    own_of: str,
    mode: Mode,
    **told: Any,
) -> None:
    """Fit a part into a unit, outside a service or in its open one.

    \b
    spindlebook part fit D1 belt --from "belt 5 mm/L-7"
    spindlebook part fit D1 mechanism --donor D7
    spindlebook part fit D7 mechanism --own-of D1

    What was in its place is removed on that day. A mechanism takes its speed and alignment along: what was read while
    it sat in the donor is shown with the unit it is in now. One piece is booked out of the drawer.

    Keys of --json: those of part list.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.acts.parts import fit
    from collection.acts.service_given import GivenPart

    _caution(face, (tag, donor, own_of), mode, supply)
    given = GivenPart(part, supply=supply, donor=donor, own_of=own_of)
    done = fit(face.engine(), tag, given, **told, today=face.today, now=face.now)
    _show(face, done, mode)


@part_group.command("remove")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("part")
@click.option("--number", type=Whole(min=1), help="Its number in: spindlebook part list TAG")
@click.option("--on", default="", metavar="DATE", help="Day it was removed (else today).")
@click.option("--reason", required=True, metavar="TEXT", help="Why.")
@output_options
@click.pass_obj
def remove_command(face: Face, /, tag: str, part: str, mode: Mode, **told: Any) -> None:
    """Remove a part from a unit without fitting another.

    Keys of --json: those of part list.
    """
    from collection.acts.parts import remove

    _caution(face, (tag,), mode)
    _show(face, remove(face.engine(), tag, part, **told, today=face.today, now=face.now), mode)


@part_group.command("edit")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("part")
@click.option("--number", type=Whole(min=1), help="Its number in: spindlebook part list TAG")
@click.option("--fitted-on", metavar="DATE", help="The day it was fitted.")
@click.option("--removed-on", metavar="DATE", help='The day it was removed; "" if it is still fitted.')
@click.option("--note", metavar="TEXT", help="What is noted of it.")
@click.option("--reason", required=True, metavar="TEXT", help="Why it is changed; the history keeps it.")
@output_options
@click.pass_obj
def edit_command(face: Face, /, tag: str, part: str, mode: Mode, **told: Any) -> None:
    """Put right on which day a part was fitted or removed.

    What made room for it on the wrong day follows it. A use in the drawer stays on its day; a wrong source is taken
    back with: spindlebook undo

    Keys of --json: those of part list.
    """
    if told["fitted_on"] is None and told["removed_on"] is None and told["note"] is None:
        raise click.UsageError("Give --fitted-on, --removed-on or --note.")
    from collection.acts.parts import edit

    _show(face, edit(face.engine(), tag, part, **told, today=face.today, now=face.now), mode)


def part_object(tag: str, row: PartRow, given: tuple[date | None, str] | None = None) -> dict[str, Any]:
    """Return a part as a program reads it, with what a person reads of where it is from and where it went.

    given: of a part of rubber, through which day it is given, and what is to be said of it.
    """
    made = {key: value or None for key, value in row._asdict().items()}
    lot = row.lot and f"lot {row.lot}"
    donor = row.donor and ("its own" if row.donor == tag else f"unit {row.donor}")
    source = ", ".join(filter(None, (row.supply, lot, donor)))
    through, age = given or (None, "")
    more = {"given_through": through, "age": age or None}
    return {"tag": tag, "source": source, "went": row.to and f"to {row.to}", **made, **more}


def _caution(face: Face, tags: tuple[str, ...], mode: Mode, supply: str = "") -> None:
    """Say before the work what stands before opening a supply unit, and before fitting what a supply is."""
    from collection.acts.service_supplies import supply_and_lot
    from collection.analysis.donor_parts import MAINS_CAUTION, has_mains
    from collection.views.supply_card import cautions_of
    from collection.views.units import find_unit, unit_on

    if mode != "table":
        return
    with face.view() as conn:
        units = [unit_on(conn, find_unit(conn, tag).id, face.today) for tag in tags if tag]
        cautions = cautions_of(conn, supply_and_lot(conn, supply)[0]) if supply else []
    if any(has_mains(unit.kind) for unit in units):
        say(MAINS_CAUTION, "")
    if cautions:
        say(*(f"Caution: {caution}" for caution in cautions), "")


def _show(face: Face, done: PartDone, mode: Mode) -> None:
    from collection.store.book import open_book
    from collection.views.fitted_rubber import ages_of_parts
    from collection.views.units import find_unit

    with face.view() as conn:
        form = open_book(conn).settings.date_form
        ages = ages_of_parts(conn, find_unit(conn, done.tag).id, face.today)
    made = part_object(done.tag, done.part, ages.get(done.part.id))
    if mode != "table":
        emit([made], _columns(form, mode), mode)
        return
    days = [f"fitted {show_day(done.part.fitted_on, form)}"]
    if done.part.removed_on:
        days.append(f"removed {show_day(done.part.removed_on, form)}")
    source = f", from {made['source']}" if made["source"] else ""
    say(f"{done.tag}: {done.part.part}{source}, {', '.join(days)}.", *(f"Doubtful: {doubt}" for doubt in done.doubts))


def _columns(form: str, mode: Mode) -> list[Column]:
    if mode != "table":
        return [Column(key) for key in KEYS]

    def day(text: Any) -> str:
        return show_day(text, form) if text else ""

    return [
        Column("number", "no"),
        Column("part"),
        Column("state"),
        Column("fitted_on", "fitted", day),
        Column("removed_on", "removed", day),
        Column("source", "from"),
        Column("age"),
        Column("went", "gone"),
        Column("service"),
        Column("note"),
    ]
