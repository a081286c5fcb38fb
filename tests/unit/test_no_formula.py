"""Texts go into CSV and workbooks so that nothing is run, and come back as they were."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from collection.exchange.no_formula import guarded, sheet_text, unguarded
from collection.exchange.workbook_read import read_workbook
from tests.support.hostile_texts import FORMULAS, HOSTILE_TEXTS, LOOK_GUARDED, runs, seen_by

_NASTY = st.text(st.sampled_from("=+-@\uff1d\uff0d'\";\t\r\n\u00a0 ,1.05ax_|&<\x07"), max_size=12)


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        ("=1+1", "'=1+1"),
        ("\uff0d1", "'\uff0d1"),
        (" @x", "' @x"),
        ("'=1", "''=1"),
        ("a;=1", "a;'=1"),
        ('a;"=1', "a;'\"=1"),
        ("rails\n- heads", "rails\n'- heads"),
        ("-5", "-5"),
        ("-5.0", "-5.0"),
        ("-5.", "'-5."),
        ("-5 V", "'-5 V"),
        ("a;-5;b", "a;'-5;b"),
        ("a;5;b", "a;5;b"),
        ("300-600", "300-600"),
        ("'quoted'", "'quoted'"),
        ("", ""),
    ],
)
def test_an_apostrophe_goes_before_what_would_run_and_nothing_else(text: str, cell: str) -> None:
    """Formulas at the beginning and where another separator would begin a cell; numbers and ranges stay as they are."""
    assert (cell, text) == (guarded(text), unguarded(cell))


def written(text: str) -> str:
    """Return a line of CSV with a text between two others."""
    line = io.StringIO(newline="")
    csv.writer(line).writerow(["a", guarded(text), "b"])
    return line.getvalue()


@pytest.mark.parametrize("text", HOSTILE_TEXTS)
def test_no_program_runs_a_hostile_text_whatever_separates_its_cells(text: str) -> None:
    """Read with a comma, a semicolon and a tab; the comma gives the very text back."""
    line = written(text)
    assert not [cell for separator in ",;\t" for cell in runs(seen_by(separator, line))]
    assert text == unguarded(seen_by(",", line)[1])


def test_the_hostile_texts_would_run_without_a_guard() -> None:
    """Else the test above could not fail."""
    unguarded_lines = ['a,"' + text.replace('"', '""') + '",b' for text in FORMULAS]
    assert all(runs([cell for sep in ",;\t" for cell in seen_by(sep, line)]) for line in unguarded_lines)


@given(_NASTY)
def test_what_is_guarded_comes_back_as_it_was(text: str) -> None:
    """Whatever quotes, separators, line ends and apostrophes it is made of, and nothing in it runs."""
    line = written(text)
    assert text == unguarded(guarded(text)) == unguarded(seen_by(",", line)[1])
    assert not [cell for separator in ",;\t" for cell in runs(seen_by(separator, line))]


def test_texts_that_look_guarded_keep_their_own_apostrophe() -> None:
    """They come back with it; without the guard they would lose it."""
    assert list(LOOK_GUARDED) == [unguarded(guarded(text)) for text in LOOK_GUARDED]
    assert ["'=1+1", "''=1+1"] == [unguarded(guarded(text)) for text in LOOK_GUARDED[:2]]


def test_a_workbook_holds_hostile_texts_as_texts(tmp_path: Path) -> None:
    """Each cell is a text to openpyxl, and our reader gives it back character by character."""
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("texts")
    for text in HOSTILE_TEXTS:
        cell = openpyxl.cell.WriteOnlyCell(sheet, sheet_text(text))
        cell.data_type = "s"
        sheet.append([cell])
    book.save(tmp_path / "texts.xlsx")

    kinds = {row[0].data_type for row in openpyxl.load_workbook(tmp_path / "texts.xlsx")["texts"].iter_rows()}
    assert {"s"} == kinds
    read = [cells[0].text for _, cells in read_workbook(tmp_path / "texts.xlsx").sheets[0].rows]
    assert list(HOSTILE_TEXTS) == read


def test_a_text_that_begins_with_a_null_is_guarded_too() -> None:
    """A program that drops the null would see the formula behind it begin."""
    assert guarded("\0=1+1") == "'\0=1+1"
    assert unguarded("'\0=1+1") == "\0=1+1"
