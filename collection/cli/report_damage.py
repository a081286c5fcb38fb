"""report damage: a damage or loss for an owner and an insurer."""

from __future__ import annotations

import click

from collection.cli.face import Face, cache_folder
from collection.cli.report_page import PageTo, page_options

_PIXELS = 1000  # 85 mm at 300 dots an inch


@click.command("damage")
@click.argument("name")
@page_options
@click.pass_obj
def damage_report_command(face: Face, name: str, page: PageTo) -> None:
    """Print a damage or loss for the owner and the insurer.

    \b
    spindlebook report damage DL1 --to dl1.pdf

    NAME is its reference number, as damage list shows it. What is not told yet stands before
    the signature, pictures come last.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.exchange.pictures import pictures_of_unit
    from collection.exchange.report_damage import damage_places
    from collection.store.book import open_book
    from collection.store.cache import Cache
    from collection.views.damage_case import damage_case

    with face.view() as conn:
        book = open_book(conn)
        case = damage_case(conn, name, face.today)
        pictures = pictures_of_unit(conn, Cache(cache_folder(), book.key), case.unit.id, _PIXELS)
    page.write(face, "damage", damage_places(case, book.settings.date_form, pictures), about=case.damage.name)
