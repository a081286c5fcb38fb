"""Pages in files: what is refused beforehand, what is never written over, and who prints a PDF."""

from __future__ import annotations

import os
import shutil
import stat
from pathlib import Path

import pytest

from collection.errors import Refused
from collection.exchange.report_file import plain_name, refuse_file, save_page

# A browser that writes the words it was called with into the file that it should print.
ECHO = '#!/bin/sh\nfor word; do case "$word" in --print-to-pdf=*) echo "$@" > "${word#*=}";; esac; done\n'


def browser(folder: Path, script: str) -> str:
    """Return a program that stands for a browser."""
    file = folder / "browser"
    file.write_text(script, encoding="utf-8")
    file.chmod(file.stat().st_mode | stat.S_IXUSR)
    return str(file)


def test_a_page_is_never_written_over_another_unasked(tmp_path: Path) -> None:
    """Only with --replace, and nothing but the page is left in the folder."""
    file = tmp_path / "due.html"
    save_page("<p>one µ</p>", file)
    with pytest.raises(Refused, match=r"due\.html is there already\. Name another by --to FILE, or add --replace"):
        save_page("two", file)
    kept = file.read_text(encoding="utf-8")
    save_page("two", file, replace=True)

    assert ("<p>one µ</p>", "two") == (kept, file.read_text(encoding="utf-8"))
    assert [file] == list(tmp_path.iterdir())


def test_what_cannot_be_written_is_refused_before_the_work(tmp_path: Path) -> None:
    """Another ending, a folder that is missing, a folder in the place of the file."""
    (tmp_path / "folder.html").mkdir()
    for file, words in (
        (tmp_path / "due.txt", r"due\.txt is no \.html and no \.pdf file\. Type --to FILE\.html"),
        (tmp_path / "nowhere" / "due.html", "There is no folder .*nowhere"),
        (tmp_path / "folder.html", r"folder\.html is a folder"),
    ):
        with pytest.raises(Refused, match=words):
            refuse_file(file)


def test_without_a_browser_a_pdf_is_refused_with_what_to_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The page itself can always be written and printed by hand."""
    monkeypatch.setattr(shutil, "which", lambda name: None)

    with pytest.raises(Refused, match=r"A PDF is made by a browser .* none was found\. Write a page \(--to"):
        refuse_file(tmp_path / "due.pdf")
    with pytest.raises(Refused, match="There is no program /no/such"):
        refuse_file(tmp_path / "due.pdf", browser="/no/such")
    refuse_file(tmp_path / "due.html")


@pytest.mark.skipif(os.name == "nt", reason="the stand-in for a browser is a shell script")
def test_the_browser_is_told_to_print_without_lines_of_its_own_and_without_a_net(tmp_path: Path) -> None:
    """It gets the page as a file in a folder that is gone afterwards, and no name leads it to a host."""
    (tmp_path / "out").mkdir()
    file = tmp_path / "out" / "due.pdf"
    save_page("<p>page</p>", file, browser=browser(tmp_path, ECHO))
    words = file.read_text(encoding="utf-8")

    assert "--headless" in words
    assert "--no-pdf-header-footer" in words
    assert "--host-resolver-rules=MAP * ~NOTFOUND" in words
    assert f"file://{tmp_path}/out/print-" in words
    assert [file] == list((tmp_path / "out").iterdir())


@pytest.mark.skipif(os.name == "nt", reason="the stand-in for a browser is a shell script")
def test_a_pdf_is_for_its_owner_only_whatever_the_browser_allows(tmp_path: Path) -> None:
    """As a page is: names and what things are worth stand on it, also where it is written over one that was open."""
    open_to_all = browser(tmp_path, ECHO.replace(";;", '; chmod 644 "${word#*=}";;'))
    file = tmp_path / "insured.pdf"
    save_page("<p>one</p>", file, browser=open_to_all)
    first = stat.S_IMODE(file.stat().st_mode)
    file.chmod(0o644)
    save_page("<p>two</p>", file, browser=open_to_all, replace=True)

    assert [first, stat.S_IMODE(file.stat().st_mode)] == [0o600, 0o600]


@pytest.mark.skipif(os.name == "nt", reason="the stand-in for a browser is a shell script")
def test_a_browser_that_prints_nothing_leaves_nothing(tmp_path: Path) -> None:
    """Its last line on standard error is passed on."""
    broken = browser(tmp_path, "#!/bin/sh\necho 'no display' >&2\nexit 1\n")

    with pytest.raises(Refused, match=r"browser printed nothing: no display Write a page \(--to FILE\.html\)"):
        save_page("page", tmp_path / "due.pdf", browser=broken)
    assert [tmp_path / "browser"] == list(tmp_path.iterdir())
    assert shutil.which(broken)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("loan-slip ../../etc/passwd 2026-03-01", "loan-slip-etc-passwd-2026-03-01"),
        ("Ünit №7: CON.", "unit-no7-con"),
        ("x" * 90, "x" * 60),
    ],
)
def test_a_name_of_the_book_becomes_a_plain_part_of_a_file_name(text: str, name: str) -> None:
    """No path, no sign that a system reads, no more than 60 characters."""
    assert name == plain_name(text)
