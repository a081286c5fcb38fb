"""What all reports on paper share: the options that say into which file, on which paper and by whose template."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps
from pathlib import Path
from typing import Any, NamedTuple

import click

from collection.cli.face import Face
from collection.cli.show import say

SIZES = ("A4", "Letter")


class PageTo(NamedTuple):
    """Where a report goes, as it was typed. to: the file; None for one in the present folder that the report names."""

    to: Path | None
    paper: str
    report_dir: Path | None
    browser: str
    replace: bool

    def write(self, face: Face, name: str, places: Mapping[str, Any], *, about: str = "", style: str = "") -> Path:
        """Fill the report in and write it; say where it is, and return its file.

        name: of the report's folder. places: what its template is given besides the name of the book and the day.
        about: what a file without a name of its own is named after, beside the report and the day. style: see render.
        """
        from collection.exchange.report_file import plain_name, save_page
        from collection.exchange.report_page import render
        from collection.quantity import show_day
        from collection.store.book import open_book

        with face.view() as conn:
            settings = open_book(conn).settings
        day = show_day(face.today.isoformat(), settings.date_form)
        if face.looks_back:
            day += f", as known on {show_day((face.known_on or face.present).isoformat(), settings.date_form)}"
        whose = {"book": settings.name or "", "day": day}
        page = render(name, {**whose, **places}, self.report_dir, paper=self.paper, style=style)
        file = self.to or Path(f"{plain_name(f'{name} {about} {face.today.isoformat()}')}.html")
        save_page(page, file, browser=self.browser, replace=self.replace)
        say(f"Written to {file}." + ("" if file.suffix.lower() == ".pdf" else " A browser shows and prints it."))
        return file


def page_options(command: Callable[..., None]) -> Callable[..., None]:
    """Add the options of a page to a command, which receives them as `page`; a file that cannot be is refused first."""

    @wraps(command)
    def with_page(
        *args: Any, to: Path | None, paper: str, report_dir: Path | None, browser: str, replace: bool, **told: Any
    ) -> None:
        if to is not None:
            from collection.exchange.report_file import refuse_file

            refuse_file(to, browser=browser, replace=replace)
        command(*args, page=PageTo(to, paper, report_dir, browser, replace), **told)

    options = (
        click.option(
            "--to",
            metavar="FILE",
            type=click.Path(path_type=Path),
            help="The file: .html or .pdf (else a page in this folder).",
        ),
        click.option(
            "--paper",
            type=click.Choice(SIZES, case_sensitive=False),
            default="A4",
            metavar="A4|Letter",
            help="The size of the paper (else A4).",
        ),
        click.option(
            "--report-dir",
            metavar="FOLDER",
            type=click.Path(path_type=Path),
            help="Your own copy of the report (see report copy).",
        ),
        click.option("--browser", metavar="PROGRAM", default="", help="The browser that makes a PDF."),
        click.option("--replace", is_flag=True, help="Write over a file of the name."),
    )
    found: Callable[..., None] = with_page
    for option in reversed(options):
        found = option(found)
    return found
