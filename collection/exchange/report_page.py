"""Reports as pages: a folder of templates filled in, complete in one file, that loads nothing from anywhere.

A report is a folder in reports/ with page.html (a jinja2 template) and style.css. What it does not have itself it takes
from reports/paper, which all reports share. A person's own folder stands before both: each file in it is taken in the
place of ours. Templates run in jinja2's sandbox with every text escaped, and a place that nobody filled is a mistake.
"""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from collection.errors import Expected, Refused, nearest
from collection.exchange.new_file import cannot_write
from collection.store.shipped import shipped

if TYPE_CHECKING:
    from jinja2 import FileSystemLoader
    from jinja2.sandbox import ImmutableSandboxedEnvironment

SHARED = "paper"
PAGE, STYLE = "page.html", "style.css"
_SHARED_STYLE = "paper.css"
# Content Security Policy Level 3, sections 6.1 and 6.3: nothing is fetched, run, sent or framed; pictures and fonts
# come out of the page itself.
_POLICY = (
    "default-src 'none'; img-src data:; font-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
)
_META = f'\n<meta charset="utf-8">\n<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
_HEAD = re.compile(r"<head(?:\s[^>]*)?>", re.IGNORECASE)
# What the expressions of a template can raise beside jinja2's own errors; a file that is no UTF-8 is a ValueError.
_IN_TEMPLATES = (ArithmeticError, AttributeError, LookupError, OSError, RecursionError, TypeError, ValueError)
_UNKNOWN = re.compile(r"'(\w+)' is undefined")


def render(
    name: str, places: Mapping[str, Any], report_dir: Path | None = None, *, paper: str = "A4", style: str = ""
) -> str:
    """Return the page of a report, complete in one file.

    name: of the report's folder. places: what its template may name. report_dir: a person's own folder, whose
    page.html and style.css come before ours. paper: "A4" or "Letter". style: further lines of CSS, made by the program
    (sizes in mm that only a run knows); no text of the book may stand in it.
    Raises Refused for a mistake in a template, naming file, line and what is wrong, and for a folder without a report.
    """
    from jinja2 import TemplateError
    from markupsafe import Markup

    environment, loader = _environment(name, report_dir)
    styles = _style(SHARED, _SHARED_STYLE, report_dir), _style(name, STYLE, report_dir)
    css = "\n".join((f"@page {{ size: {paper}; }}", *styles, style)).strip()
    try:
        page = environment.get_template(PAGE).render({**places, "style": Markup(css), "paper": paper})  # noqa: S704
    except Expected:
        raise
    except (TemplateError, *_IN_TEMPLATES) as error:
        raise _mistake(error, loader, places) from error
    return _closed(page, name, report_dir)


def data_uri(content: bytes, kind: str) -> str:
    """Return bytes as the address of a picture inside the page, for <img src="{{ ... }}">. kind: like "image/jpeg"."""
    return f"data:{kind};base64,{b64encode(content).decode('ascii')}"


def foot(text: str, page: str = "") -> str:
    """Return the CSS that writes a text at the foot of every page, or of the pages of one name (CSS: page).

    Of the text only letters and digits of ASCII stand in it as they are (CSS Syntax Level 3, section 4.3.7: escapes).
    """
    safe = "".join(each if each.isascii() and each.isalnum() else f"\\{ord(each):06x}" for each in text)
    return f'@page {page} {{ @bottom-left {{ content: "{safe}"; font: 8pt sans-serif; color: #444; }} }}'


def copy_report(name: str, folder: Path) -> list[Path]:
    """Copy the files of a report, and those that all share, into a new folder to be changed; return them.

    Raises Refused for a report that is not there and for a folder that is.
    """
    known = report_names()
    if name not in known:
        near = nearest(name, known) or known
        raise Refused(f"There is no report {name!r}.", f"There are: {', '.join(near)}.")
    if folder.exists():
        raise Refused(f"{folder} is there already; nothing is overwritten.", "Name a folder that is not there yet.")
    shared = [file for file in shipped("reports", SHARED).iterdir() if file.suffix != ".md"]
    files = sorted((*shared, *shipped("reports", name).iterdir()))
    try:
        folder.mkdir(parents=True)
        for file in files:
            (folder / file.name).write_bytes(file.read_bytes())
    except OSError as error:
        raise cannot_write(folder, error) from None
    return sorted(folder / file.name for file in files)


def report_names() -> list[str]:
    """Return the names of the reports that travel with the program."""
    folders = shipped("reports").iterdir()
    return sorted(each.name for each in folders if each.is_dir() and each.name != SHARED and (each / PAGE).is_file())


def _environment(name: str, report_dir: Path | None) -> tuple[ImmutableSandboxedEnvironment, FileSystemLoader]:
    from jinja2 import FileSystemLoader, StrictUndefined
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    ours = [shipped("reports", name), shipped("reports", SHARED)]
    if report_dir is not None:
        _refuse_no_report(report_dir)
    loader = FileSystemLoader([report_dir, *ours] if report_dir is not None else ours)
    environment = ImmutableSandboxedEnvironment(
        loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    del environment.filters["safe"]  # a page escapes everything; what is no text comes as a picture
    return environment, loader


def _refuse_no_report(folder: Path) -> None:
    if not folder.is_dir():
        raise Refused(f"There is no folder {folder}.", "To get one to change: spindlebook report copy NAME FOLDER")
    if not any((folder / file).is_file() for file in (PAGE, STYLE, _SHARED_STYLE)):
        raise Refused(f"{folder} has no {PAGE} and no {STYLE}.", "Name the folder in which they stand themselves.")


def _style(name: str, called: str, report_dir: Path | None) -> str:
    """Return a stylesheet; a person's own comes in the place of ours. Refused for one that would end the style."""
    own = report_dir / called if report_dir is not None else None
    file = own if own is not None and own.is_file() else shipped("reports", name) / called
    if not file.is_file():
        return ""
    try:
        css = file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise Refused(f"{file} cannot be read: {error}.", "Save it as UTF-8 text.") from None
    if "</" in css:
        line = css[: css.index("</")].count("\n") + 1
        raise Refused(f'{file}, line {line}: "</" would end the stylesheet.', "Leave it out.")
    return css


def _closed(page: str, name: str, report_dir: Path | None) -> str:
    """Return the page with the policy that lets it load nothing, first in its head."""
    head = _HEAD.search(page)
    if head is None:
        file = (report_dir or shipped("reports", name)) / PAGE
        raise Refused(f"{file} makes a page without <head>.", 'Let it begin with {% extends "paper.html" %}.')
    return page[: head.end()] + _META + page[head.end() :]


def _mistake(error: Exception, loader: FileSystemLoader, places: Mapping[str, Any]) -> Refused:
    """Return what is wrong with a template: its file, its line, and the words of what could not be done."""
    from jinja2 import TemplateNotFound, TemplateSyntaxError

    if isinstance(error, TemplateNotFound):
        where = _where(error, loader)
        return Refused(
            f"{where or 'The report'}: there is no template {error.name!r}.",
            f"Beside the report's own files there are: {', '.join(_shared_templates())}.",
        )
    if isinstance(error, TemplateSyntaxError):
        file = error.filename or error.name or PAGE
        return Refused(f"{file}, line {error.lineno}: {_sentence(error.message or '')}", "Put it right, then repeat.")
    where = _where(error, loader) or "The template"
    return Refused(f"{where}: {_sentence(str(error))}", _hint(str(error), places))


def _where(error: Exception, loader: FileSystemLoader) -> str:
    """Return "FILE, line N" of the innermost line of a template that the error came from, or ""."""
    from traceback import extract_tb

    folders = [str(folder) for folder in loader.searchpath]
    lines = [frame for frame in extract_tb(error.__traceback__) if frame.filename.endswith(".html")]
    lines = [frame for frame in lines if any(frame.filename.startswith(folder) for folder in folders)]
    return f"{lines[-1].filename}, line {lines[-1].lineno}" if lines else ""


def _sentence(text: str) -> str:
    return text.rstrip(".") + "."


def _hint(says: str, places: Mapping[str, Any]) -> str:
    unknown = _UNKNOWN.search(says)
    if unknown is None:
        return "Put it right, then repeat."
    near = nearest(unknown[1], places)
    return f"Did you mean {' or '.join(near)}?" if near else f"The page is given: {', '.join(sorted(places))}."


def _shared_templates() -> list[str]:
    return sorted(file.name for file in shipped("reports", SHARED).glob("*.html"))
