"""report bench-sheet: what to do on a unit, to print before it is opened."""

from __future__ import annotations

import click

from collection.cli.face import Face
from collection.cli.report_page import PageTo, page_options
from collection.cli.tags import complete_procedure, complete_tag


@click.command("bench-sheet")
@click.argument("tags", nargs=-1, required=True, metavar="TAG...", shell_complete=complete_tag)
@click.option(
    "--do",
    "asked",
    multiple=True,
    metavar="PROCEDURE",
    shell_complete=complete_procedure,
    help="Work that is not due, too; may be repeated.",
)
@page_options
@click.pass_obj
def bench_sheet_command(face: Face, tags: tuple[str, ...], asked: tuple[str, ...], page: PageTo) -> None:
    """Print the work on a unit, with boxes to fill in.

    \b
    spindlebook report bench-sheet D5 --to d5.pdf
    spindlebook report bench-sheet D5 D8 --do "replace belt"

    On it stand what is due within 30 days, rechecks by drift too; steps with their cautions before them; and readings
    beside their limits. Filled in, it is typed in the same order by
    spindlebook service record TAG.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.cli.kept import kept_rechecks
    from collection.exchange.report_bench import bench_feet, bench_places
    from collection.quantity import show_day
    from collection.store.book import open_book
    from collection.views.bench_sheet import bench_sheet

    with face.view() as conn:
        settings = open_book(conn).settings
        rechecks = kept_rechecks(face, conn, settings.risk)
        sheets = [bench_sheet(conn, tag, face.today, rechecks, asked) for tag in dict.fromkeys(tags)]
    style = bench_feet(sheets, show_day(face.today.isoformat(), settings.date_form))
    page.write(face, "bench-sheet", bench_places(sheets, settings.date_form), about="-".join(tags), style=style)
