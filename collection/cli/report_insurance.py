"""report insurance: the schedule of insured contents, as a page and as a workbook."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from collection.cli.face import Face, cache_folder
from collection.cli.past import past_options
from collection.cli.report_page import PageTo, page_options
from collection.cli.show import note, progress, say
from collection.cli.whole import Whole

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from collection.exchange.insurance_rows import Leave
    from collection.exchange.pictures import Picture
    from collection.quantity import Money
    from collection.views.insurance import Schedule

_USUAL_MONTHS = 12


@click.command("insurance")
@click.option(
    "--workbook",
    metavar="FILE.xlsx",
    type=click.Path(path_type=Path),
    help="Write a workbook, and a page only by --to.",
)
@click.option(
    "--valued-within",
    "months",
    type=Whole(1, 600),
    default=_USUAL_MONTHS,
    show_default=True,
    metavar="MONTHS",
    help="Older values are out of date.",
)
@click.option("--page-from", "least", default="", metavar="SUM", help="Things from this sum on get a page each.")
@click.option("--no-prices", is_flag=True, help="Leave out what was paid, and to whom.")
@click.option("--no-owners", is_flag=True, help="Leave out whose things are, and who lent them.")
@click.option("--no-borrowers", is_flag=True, help="Leave out who has what is lent.")
@click.option("--no-photos", is_flag=True, help="Leave out pictures.")
@past_options
@page_options
@click.pass_obj
def insurance_command(
    face: Face,
    /,
    page: PageTo,
    workbook: Path | None,
    months: int,
    least: str,
    no_prices: bool,
    no_owners: bool,
    no_borrowers: bool,
    no_photos: bool,
) -> None:
    """Write the schedule of contents for an insurer, and say whether the sum insured is enough.

    \b
    spindlebook report insurance
    spindlebook report insurance --workbook insured.xlsx --to insured.pdf
    spindlebook report insurance --known-on 2025-06-30 --no-prices

    Every thing stands on it once with what it is worth (value add), of what basis and day, and what is lent or borrowed
    apart; sums are per currency. Things that make up a tenth of the sum get a page each, with their pictures.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.exchange.insurance_rows import Leave
    from collection.exchange.insurance_told import told_of

    if workbook is not None:
        from collection.exchange.insurance_workbook import refuse_workbook

        refuse_workbook(workbook, replace=page.replace)
    leave = Leave(no_prices, no_owners, no_borrowers, no_photos)
    known = _known(face)
    with face.view() as conn:
        from collection.views.insurance import schedule

        plan = schedule(conn, face.today, months)
        pictures = _Pictures(conn, left_out=no_photos)
        if workbook is not None:
            _write_workbook(plan, leave, known, pictures, workbook, replace=page.replace)
        if workbook is None or page.to is not None:
            _write_page(face, plan, leave, known, pictures, page, _least(least, plan))
    note(*told_of(plan, leave, known).notes)


class _Pictures:
    """What is attached to units, as `conn` sees the book."""

    def __init__(self, conn: Connection, *, left_out: bool) -> None:
        from collection.store.book import open_book
        from collection.store.cache import Cache

        self._conn, self._left_out = conn, left_out
        self._cache = Cache(cache_folder(), open_book(conn).key)

    def small(self, box_px: int) -> dict[int | None, bytes]:
        """Return the first picture of each unit that has one."""
        from collection.exchange.pictures import lead_pictures

        if self._left_out:
            return {}
        with progress("pictures made small") as tick:
            found = lead_pictures(self._conn, self._cache, box_px, tick=tick)
        return {unit: picture.jpeg for unit, picture in found.items() if picture.jpeg}

    def of_unit(self, unit_id: int, box_px: int) -> list[Picture]:
        """Return what is attached to a unit."""
        from collection.exchange.pictures import pictures_of_unit

        if self._left_out:
            return []
        return pictures_of_unit(self._conn, self._cache, unit_id, box_px)


def _known(face: Face) -> str:
    """Return by what knowledge the schedule is made, in words."""
    then = face.known_on is not None and face.known_on != face.present
    if not then:
        return "what the book knows now"
    if face.known_on == face.today:
        return "what the book knew at the end of that day"
    return f"what the book knew at the end of {face.known_on}"


def _write_workbook(
    plan: Schedule, leave: Leave, known: str, pictures: _Pictures, file: Path, *, replace: bool
) -> None:
    from collection.exchange.insurance_items import PHOTO_PX
    from collection.exchange.insurance_workbook import save_workbook, workbook

    save_workbook(workbook(plan, leave, pictures.small(PHOTO_PX), known=known), file, replace=replace)
    say(f"Written to {file}.")


def _write_page(
    face: Face, plan: Schedule, leave: Leave, known: str, pictures: _Pictures, page: PageTo, least: Money | None
) -> None:
    from collection.exchange.insurance_page import LARGE_PX, REPORT, SMALL_PX, places
    from collection.views.insurance import worth_a_page

    dear = [item.unit.id for item in worth_a_page(plan, least) if item.unit]
    large: dict[int | None, list[Picture]] = {unit: pictures.of_unit(unit, LARGE_PX) for unit in dear}
    page.write(face, REPORT, places(plan, leave, known=known, small=pictures.small(SMALL_PX), large=large))


def _least(text: str, plan: Schedule) -> Money | None:
    """Return the sum from which on things get a page, in the currency of the book unless it names one."""
    if not text:
        return None
    from collection.acts.amounts import sum_given

    return sum_given("A sum", text, plan.settings.currency)
