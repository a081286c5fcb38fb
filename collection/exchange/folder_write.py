"""Write the book as the folder of CSV files that can be brought in again: UTF-8 with a mark, RFC 4180, CRLF.

What a spreadsheet would run as a formula is led by an apostrophe, which bringing in takes off again.
"""

from __future__ import annotations

import csv
import os
import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

from sqlalchemy.engine import Connection

from collection.errors import Refused
from collection.exchange.no_formula import guarded
from collection.views.folder.form import FORMS, KEY, FileForm
from collection.views.folder.rows import folder_rows


def write_folder(
    conn: Connection, folder: Path, *, today: date, tick: Callable[[int, int], None] | None = None
) -> dict[str, int]:
    """Write one file for everything the book has, and return the rows of each.

    The folder is made beside its place and renamed when it is whole. Raises Refused where something stands there.
    """
    _must_be_free(folder)
    folder.parent.mkdir(parents=True, exist_ok=True)
    aside = folder.parent / f".{folder.name}.{os.getpid()}.new"
    shutil.rmtree(aside, ignore_errors=True)  # of a killed process that had the same number
    aside.mkdir()
    try:
        written: dict[str, int] = {}
        for number, form in enumerate(FORMS.values()):
            rows = _write_file(conn, aside / form.file, form, today)
            if rows:
                written[form.file] = rows
            if tick:
                tick(number + 1, len(FORMS))
        if folder.exists():
            folder.rmdir()  # empty, or this fails
        aside.rename(folder)
    finally:
        shutil.rmtree(aside, ignore_errors=True)
    return written


def _must_be_free(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise Refused(f'"{folder}" is a file; it is left as it is.', "Name a folder that is not there yet.")
    if folder.is_dir() and any(folder.iterdir()):
        raise Refused(f'"{folder}" is not empty; nothing is overwritten.', "Name a folder that is not there yet.")


def _write_file(conn: Connection, path: Path, form: FileForm, today: date) -> int:
    """Write the rows of one file, and no file where there are none."""
    count = 0
    with path.open("w", encoding="utf-8-sig", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\r\n")
        writer.writerow((*form.columns, KEY))
        for _id, key, *cells in folder_rows(conn, form.file, today):
            writer.writerow((*map(guarded, cells), key))
            count += 1
        stream.flush()
        os.fsync(stream.fileno())
    if not count:
        path.unlink()
    return count
