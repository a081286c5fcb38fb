"""report year: the year of a collection on two pages."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face, cache_folder
from collection.cli.past import past_options
from collection.cli.report_page import PageTo, page_options
from collection.cli.whole import Whole

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from collection.exchange.pictures import Picture
    from collection.store.cache import Cache


@click.command("year")
@click.argument("year", required=False, type=Whole(1900, 9999))
@past_options
@page_options
@click.pass_obj
def year_command(face: Face, year: int | None, page: PageTo) -> None:
    """Print the year of a collection in figures and pictures.

    \b
    spindlebook report year --to year.pdf
    spindlebook report year 2024 --to 2024.html

    Without YEAR it is the last one that is over; of this year it tells what was so far. Units and how they stood,
    services, how units came in, what is likely to leave its limits, what was taken and paid, loans in numbers. Nobody
    is named on it.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.exchange.report_year import year_places
    from collection.store.book import open_book
    from collection.store.cache import Cache
    from collection.views.recheck import is_fitted
    from collection.views.units import unit_list
    from collection.views.year import year_of

    wanted = year or face.today.year - 1
    with face.view() as conn:
        book = open_book(conn)
        told = year_of(conn, wanted, face.today)
        recent = wanted >= face.today.year - 1 and is_fitted(conn)
        drift = _drift(face, conn, book.settings.risk) if recent else []
        photos = _photos(conn, Cache(cache_folder(), book.key), str(wanted))
        models = {unit.tag: f"{unit.maker} {unit.model}".strip() for unit in unit_list(conn, face.today)}
    page.write(face, "year", year_places(told, drift, photos, book.settings.date_form, models), about=str(wanted))


def _drift(face: Face, conn: Connection, risk: float) -> list[dict[str, Any]]:
    """Return the drift of the fleet under the keys of `drift --json`, the worst first, kept or not."""
    import json

    from collection.cli.drift import as_line
    from collection.cli.kept_drift import drift_lines

    return [json.loads(line) for line in drift_lines(face, conn, None, None, risk, as_line)]


def _photos(conn: Connection, cache: Cache, year: str) -> list[tuple[str, Picture]]:
    """Return a photo taken in a year of each of a few units, with their tags."""
    from collection.exchange.pictures import pictures_of_unit
    from collection.exchange.report_year import PHOTOS, PICTURE_PX
    from collection.views.attachments import attachments_by_unit

    found: list[tuple[str, Picture]] = []
    for unit, listed in attachments_by_unit(conn).items():
        if any(each.taken_on.startswith(year) for each in listed) and len(found) < PHOTOS:
            shown = pictures_of_unit(conn, cache, unit, PICTURE_PX)
            found += [(listed[0].tag, each) for each in shown if each.jpeg and each.taken_on.startswith(year)][:1]
    return found
