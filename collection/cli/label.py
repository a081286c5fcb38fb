"""label: sheets of labels to print, with a code that a reader decodes and the tag that a person reads."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click

from collection.analysis.label_sheet import label_sheet, parse_grid, parse_lengths, parse_size
from collection.cli.face import Face
from collection.cli.option_reader import option_reader
from collection.cli.report_page import PageTo, page_options
from collection.cli.tags import complete_tag
from collection.cli.whole import Whole
from collection.errors import Refused

if TYPE_CHECKING:
    from collection.exchange.label_page import Label
    from collection.views.unit_labels import Labelled

T = TypeVar("T")


def _read(parse: Callable[[str], T]) -> Callable[[click.Context, click.Parameter, str | None], T | None]:
    """Return what reads an option by a parser."""
    return option_reader(lambda _ctx, _param, value: parse(value))


@click.command("label")
@click.argument("tags", nargs=-1, metavar="TAG...", shell_complete=complete_tag)
@click.option("--serviced", is_flag=True, help="Say when it was serviced and what is due, to hang on the unit.")
@click.option("--standing", default="", metavar="WORD", help="Instead of tags: units standing so.")
@click.option("--location", default="", metavar="NAME", help="Instead of tags: units there, or in a place inside it.")
@click.option("--owner", default="", metavar="NAME", help="Instead of tags: units of this person.")
@click.option("--kind", default="", metavar="WORD", help="Instead of tags: units of this kind.")
@click.option("--model", default="", metavar="NAME", help="Instead of tags: units of this model.")
@click.option("--sheet", "grid", metavar="NxN", callback=_read(parse_grid), help="Labels across by labels down.")
@click.option("--size", metavar="WxH", callback=_read(parse_size), help="Width and height of a label in mm.")
@click.option(
    "--margins",
    metavar="XxY",
    callback=_read(lambda text: parse_lengths(text, "--margins")),
    help="mm left of the first label and above it (else in the middle of the paper).",
)
@click.option(
    "--gap",
    metavar="XxY",
    callback=_read(lambda text: parse_lengths(text, "--gap")),
    help="mm between labels across and down.",
)
@click.option("--first", type=Whole(min=1), default=1, metavar="N", help="The first label that is free.")
@click.option("--outline", is_flag=True, help="A thin line round each label, to cut along.")
@page_options
@click.pass_obj
def label_command(
    face: Face,
    /,
    page: PageTo,
    tags: Sequence[str],
    serviced: bool,
    grid: tuple[int, int] | None,
    size: tuple[float, float] | None,
    margins: tuple[float, float] | None,
    gap: tuple[float, float] | None,
    first: int,
    outline: bool,
    **wanted: str,
) -> None:
    """Write labels for units as sheets to print.

    Each has a QR code that holds the tag and nothing else, the tag to read, then model, serial number and the name of
    the book. Sheets are told in millimetres; without a word they are 3 x 8 labels of 70 x 37 mm on A4, and
    3 x 10 of 66.7 x 25.4 mm on Letter. Print at 100 %, without fitting to the page.

    \b
    spindlebook label D1 D2 D3 --to labels.pdf
    spindlebook label --location attic --sheet 4x10 --size 48.5x25.4 --first 5
    spindlebook label D5 --serviced --to tag.html
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.exchange.label_page import label_places

    if bool(tags) == any(wanted.values()):
        raise click.UsageError("Name the units by TAG..., or choose them by --location NAME or the like: one of both.")
    sheet = label_sheet(page.paper, grid, size, margins, gap)
    labels = _labels(face, tags, wanted, serviced=serviced)
    page.write(face, "label-sheet", label_places(labels, sheet, first=first, outline=outline))


def _labels(face: Face, tags: Sequence[str], chosen: dict[str, Any], *, serviced: bool) -> list[Label]:
    """Return what stands on each label. Raises Refused where no unit is chosen."""
    from collection.cli.kept import kept_rechecks
    from collection.exchange.label_page import Label
    from collection.store.book import open_book
    from collection.views.unit_labels import labelled
    from collection.views.unit_list import Wanted

    with face.view() as connection:
        settings = open_book(connection).settings
        rechecks = kept_rechecks(face, connection, settings.risk) if serviced else None
        units = labelled(connection, face.today, tags, Wanted(**chosen), rechecks)
    if not units:
        raise Refused("No unit is chosen so.", "To see what there is: spindlebook unit list")
    if serviced:
        return [Label(each.unit.tag, _tag_words(each, settings.date_form)) for each in units]
    return [Label(each.unit.tag, _words(each, settings.name or "")) for each in units]


def _words(each: Labelled, book: str) -> tuple[str, ...]:
    unit = each.unit
    return f"{unit.maker} {unit.model}".strip(), unit.serial and f"serial {unit.serial}", book


def _tag_words(each: Labelled, form: str) -> tuple[str, ...]:
    """Return when a unit was serviced, when the next work is due, and what it is."""
    from collection.quantity import show_day

    done = f"serviced {show_day(each.serviced_on, form)}" if each.serviced_on else "no service recorded"
    if each.due is None:
        return (done, "nothing due") if each.serviced_on else (done,)
    more = f" and {len(each.procedures) - 1} more" if len(each.procedures) > 1 else ""
    return done, f"due {show_day(each.due.isoformat(), form)}", f"{each.procedures[0]}{more}"
