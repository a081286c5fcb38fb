"""A page into its file: as it is, or as PDF; written aside, named when it is whole, and never over another unasked."""

from __future__ import annotations

import re
import unicodedata
from pathlib import Path
from tempfile import TemporaryDirectory

from collection.errors import Refused
from collection.exchange.new_file import new_file, refuse_place
from collection.exchange.report_pdf import find_browser, print_pdf

_ENDINGS = (".html", ".pdf")


def plain_name(text: str) -> str:
    """Return a text as a part of a file's name that every system takes: "order-to-gannet-row-spares"."""
    letters = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().casefold()
    return re.sub(r"[^a-z0-9]+", "-", letters).strip("-")[:60]


def refuse_file(file: Path, *, browser: str = "", replace: bool = False) -> None:
    """Refuse beforehand what save_page would refuse: an ending, a file that is there, no folder, no browser."""
    if file.suffix.lower() not in _ENDINGS:
        raise Refused(f"{file.name} is no .html and no .pdf file.", "Type --to FILE.html or --to FILE.pdf.")
    refuse_place(file, replace=replace, another="another by --to FILE")
    if file.suffix.lower() == ".pdf":
        find_browser(browser)


def save_page(page: str, file: Path, *, browser: str = "", replace: bool = False) -> None:
    """Write a page into an .html file, or print it into a .pdf file.

    browser: the program that prints, where the person names one. replace: whether a file of the name is written over.
    Raises Refused as refuse_file does, and for a place that cannot be written.
    """
    refuse_file(file, browser=browser, replace=replace)
    with new_file(file, replace=replace) as aside:
        if file.suffix.lower() == ".pdf":
            _print(page, aside, find_browser(browser))
        else:
            aside.write_bytes(page.encode("utf-8", "replace"))


def _print(page: str, file: Path, browser: str) -> None:
    """Print beside the place of the file: some browsers are let into no folder but the person's own."""
    with TemporaryDirectory(prefix="print-", dir=file.parent, ignore_cleanup_errors=True) as folder:
        source, made = Path(folder) / "page.html", Path(folder) / "page.pdf"
        source.write_bytes(page.encode("utf-8", "replace"))
        print_pdf(source, made, browser, Path(folder) / "profile")
        file.write_bytes(made.read_bytes())  # into the file for its owner only: browsers let everyone read theirs
