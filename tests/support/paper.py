"""Paper for tests: pages and workbooks turned into PDF by programs of their own, counted, read back, made a picture.

Chromium prints pages, LibreOffice opens workbooks and CSV files, poppler makes pictures of a PDF; .ci/run installs
them. A test that needs one is skipped on a machine without it, and fails where CI is set: half a check must not look
like a whole one.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from collection.exchange.report_file import save_page

if TYPE_CHECKING:
    from PIL.Image import Image

_BROWSERS = ("chromium", "chromium-browser", "google-chrome")
_SECONDS = 120
_POINTS_AN_INCH = 72  # ISO 32000-1, 8.3.2.3: the unit of default user space; from memory
_MM_AN_INCH = 25.4


def browser() -> str:
    """Return the browser that prints; without one the test is skipped, or fails in CI."""
    return _program("a browser of the Chromium family", _BROWSERS)


def pdf_of_page(html: str, file: Path) -> Path:
    """Print a page, complete in one text, into a new PDF; return it."""
    save_page(html, file, browser=browser())
    return file


def texts_of(pdf: Path) -> list[str]:
    """Return the text of each page of a PDF, blanks and line ends as one blank."""
    from pypdf import PdfReader

    return [" ".join(page.extract_text().split()) for page in PdfReader(pdf).pages]


def sizes_of(pdf: Path) -> list[tuple[int, int]]:
    """Return width and height of each page in whole mm: A4 is (210, 297), Letter (216, 279)."""
    from pypdf import PdfReader

    boxes = [page.mediabox for page in PdfReader(pdf).pages]
    return [(_mm(float(box.width)), _mm(float(box.height))) for box in boxes]


def pictures_of(pdf: Path, folder: Path, *, dots: int = 150) -> list[Image]:
    """Return each page of a PDF as a picture of so many dots an inch; their files are left in a folder."""
    from PIL import Image

    program = _program("poppler's pdftoppm", ("pdftoppm",))
    folder.mkdir(exist_ok=True)
    _run(program, "-r", str(dots), "-png", str(pdf), str(folder / pdf.stem))
    pictures = []
    for file in sorted(folder.glob(f"{pdf.stem}-*.png")):
        with Image.open(file) as picture:
            pictures.append(picture.convert("RGB"))
    return pictures


def opened_by_office(files: Sequence[Path], kind: str, folder: Path, *, reading: str = "") -> list[Path]:
    """Let LibreOffice open files and save each as another kind ("pdf", "xlsx") into a folder; return what it made.

    All in one run, for its start takes seconds. reading: its words for how CSV files are read ("Text - txt - csv ...").
    """
    folder.mkdir(exist_ok=True)
    home = f"-env:UserInstallation={(folder / '.office').absolute().as_uri()}"
    filters = [f"--infilter={reading}"] if reading else []
    office(home, *filters, "--convert-to", kind, "--outdir", str(folder), *map(str, files))
    made = [folder / f"{file.stem}.{kind.partition(':')[0]}" for file in files]
    assert all(file.is_file() for file in made), [file.name for file in made if not file.is_file()]
    return made


def office(*words: str) -> None:
    """Run LibreOffice without a window; without it the test is skipped, or fails in CI."""
    _run(_program("LibreOffice", ("soffice", "libreoffice")), "--headless", *words)


def _program(what: str, names: Sequence[str]) -> str:
    found = next(filter(None, map(shutil.which, names)), None)
    if found is None and os.environ.get("CI"):
        pytest.fail(f"there is no {what} on this machine; .ci/run installs it")
    if found is None:
        pytest.skip(f"there is no {what} on this machine")
    return found


def _run(*words: str) -> None:
    done = subprocess.run(words, capture_output=True, timeout=_SECONDS, check=False)
    assert 0 == done.returncode, done.stderr.decode("utf-8", "replace")[-500:]


def _mm(points: float) -> int:
    return round(points / _POINTS_AN_INCH * _MM_AN_INCH)
