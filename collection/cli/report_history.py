"""report unit-history: all that was read and done on a unit, to go with it."""

from __future__ import annotations

import click

from collection.cli.face import Face, cache_folder
from collection.cli.past import past_options
from collection.cli.report_page import PageTo, page_options
from collection.cli.tags import complete_tag


@click.command("unit-history")
@click.argument("tag", shell_complete=complete_tag)
@click.option("--no-prices", is_flag=True, help="Leave out what was paid and what it is worth.")
@click.option("--no-people", is_flag=True, help="Leave out owners, borrowers and whoever else is named.")
@past_options
@page_options
@click.pass_obj
def history_report_command(face: Face, tag: str, no_prices: bool, no_people: bool, page: PageTo) -> None:
    """Print all that was read and done on a unit, to go with it when it is sold or lent.

    \b
    spindlebook report unit-history D5 --to d5.pdf
    spindlebook report unit-history D5 --no-prices --no-people --to sold.html

    Where the unit is kept stands nowhere on it. With --no-people each name that the book knows is taken out of notes
    and findings too; read it through before it goes out.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.cli.kept import kept_rechecks
    from collection.exchange.pictures import pictures_of_unit
    from collection.exchange.report_history import PICTURE_PX, Shown, history_places
    from collection.exchange.report_page import foot
    from collection.quantity import show_day
    from collection.store.book import open_book
    from collection.store.cache import Cache
    from collection.views.drift import unit_drift
    from collection.views.unit_history import unit_history

    with face.view() as conn:
        book = open_book(conn)
        settings = book.settings
        history = unit_history(conn, tag, face.today, kept_rechecks(face, conn, settings.risk))
        unit = history.card.unit
        series = unit_drift(conn, unit.id, face.today, None, settings.risk)
        pictures = pictures_of_unit(conn, Cache(cache_folder(), book.key), unit.id, PICTURE_PX)
    shown = Shown(settings.date_form, face.today, prices=not no_prices, people=not no_people)
    places = history_places(history, series, pictures, shown)
    style = foot(f"{unit.tag}, history, {show_day(face.today.isoformat(), settings.date_form)}")
    page.write(face, "unit-history", places, about=unit.tag, style=style)
