"""report insurance: the schedule of insured contents, as a page and as a workbook."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from collection.cli.face import Face, cache_folder
from collection.cli.report_page import PageTo, page_options
from collection.cli.show import note, progress, say

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
@click.option("--on", default="", metavar="DATE", help="As of the end of a past day, as the book stood then.")
@click.option("--as-known-now", is_flag=True, help="With --on: by what the book knows now of that day.")
@click.option(
    "--valued-within",
    "months",
    type=click.IntRange(1, 600),
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
@page_options
@click.pass_obj
def insurance_command(
    face: Face,
    /,
    page: PageTo,
    workbook: Path | None,
    on: str,
    as_known_now: bool,
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
    spindlebook report insurance --on 2025-06-30 --no-prices

    Every thing stands on it once with what it is worth (value add), of what basis and day, and what is lent or borrowed
    apart; sums are per currency. Things that make up a tenth of the sum get a page each, with their pictures.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.exchange.insurance_rows import Leave
    from collection.exchange.insurance_told import told_of

    if as_known_now and not on:
        raise click.UsageError("--as-known-now goes with --on DATE.")
    if workbook is not None:
        from collection.exchange.insurance_workbook import refuse_workbook

        refuse_workbook(workbook, replace=page.replace)
    leave = Leave(no_prices, no_owners, no_borrowers, no_photos)
    day, known = _day(face, on, as_known_now)
    with face.view() as conn, _knowing(conn, day, now=as_known_now or day == face.today) as then:
        from collection.views.insurance import schedule

        plan = schedule(then, day, months)
        pictures = _Pictures(then, conn, left_out=no_photos)
        if workbook is not None:
            _write_workbook(plan, leave, known, pictures, workbook, replace=page.replace)
        if workbook is None or page.to is not None:
            _write_page(face, plan, leave, known, pictures, page, _least(least, plan))
    note(*told_of(plan, leave, known).notes)


class _Pictures:
    """What is attached to units, as it was when `then` was the book; the bytes are in `conn`."""

    def __init__(self, then: Connection, conn: Connection, *, left_out: bool) -> None:
        from collection.store.book import open_book
        from collection.store.cache import Cache

        self._then, self._conn, self._left_out = then, conn, left_out
        self._cache = Cache(cache_folder(), open_book(conn).key)

    def small(self, box_px: int) -> dict[int | None, bytes]:
        """Return the first picture of each unit that has one."""
        from collection.exchange.pictures import lead_pictures

        if self._left_out:
            return {}
        with progress("pictures made small") as tick:
            found = lead_pictures(self._then, self._cache, box_px, contents=self._conn, tick=tick)
        return {unit: picture.jpeg for unit, picture in found.items() if picture.jpeg}

    def of_unit(self, unit_id: int, box_px: int) -> list[Picture]:
        """Return what is attached to a unit."""
        from collection.exchange.pictures import pictures_of_unit

        if self._left_out:
            return []
        return pictures_of_unit(self._then, self._cache, unit_id, box_px, contents=self._conn)


def _day(face: Face, on: str, as_known_now: bool) -> tuple[date, str]:
    """Return the day that is asked for, and by what knowledge, in words. Raises Refused for one that has not come."""
    from collection.acts.days import day_given

    day = day_given(on, face.today)
    then = on and day != face.today and not as_known_now
    return day, "what the book knew at the end of that day" if then else "what the book knows now"


@contextmanager
def _knowing(conn: Connection, day: date, *, now: bool) -> Iterator[Connection]:
    """Yield the book as it is, or as it stood when a day ended where the book is."""
    if now:
        yield conn
        return
    from collection.store.past import another_day, end_of

    with another_day(conn, known_until=end_of(conn, day), day=None) as then:
        yield then


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
