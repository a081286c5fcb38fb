"""report loan-slip: what is signed when a unit is lent, and when it comes back."""

from __future__ import annotations

import click

from collection.cli.face import Face, cache_folder
from collection.cli.report_page import PageTo, page_options
from collection.cli.tags import complete_tag

_PIXELS = 480  # 31 mm on paper at 390 dots an inch


@click.command("loan-slip")
@click.argument("tags", nargs=-1, required=True, metavar="TAG|LOAN...", shell_complete=complete_tag)
@page_options
@click.pass_obj
def loan_slip_command(face: Face, tags: tuple[str, ...], page: PageTo) -> None:
    """Print what both sides sign when units are lent.

    \b
    spindlebook report loan-slip D4 --to slip.pdf

    TAG is a unit that is out: its loan with all units in it is printed. LOAN is the name of any loan, as in
    spindlebook loan list --all.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.exchange.pictures import pictures_of_unit
    from collection.exchange.report_loan import loan_places
    from collection.store.book import open_book
    from collection.store.cache import Cache
    from collection.views.loan_slip import loan_slips

    with face.view() as conn:
        book = open_book(conn)
        slips = loan_slips(conn, tags, face.today)
        cache = Cache(cache_folder(), book.key)
        units = {item.unit.id for slip in slips for item in slip.items}
        shown = {unit_id: pictures_of_unit(conn, cache, unit_id, _PIXELS) for unit_id in units}
    pictures = {unit_id: each.jpeg for unit_id, listed in shown.items() for each in reversed(listed) if each.jpeg}
    places = loan_places(slips, book.settings.name or "", book.settings.date_form, pictures)
    page.write(face, "loan-slip", places, about="-".join(slip.loan for slip in slips))
