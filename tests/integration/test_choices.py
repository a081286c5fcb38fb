"""The names offered for filling in a form are those of the book."""

from pathlib import Path

from openpyxl import load_workbook
from sqlalchemy.engine import Engine

from collection.store.engine import reading
from collection.views.choices import choices
from tests.support.books import act, named
from tests.support.cli import run_cli


def test_a_form_offers_the_names_of_the_book(engine: Engine) -> None:
    """What the book has been given since it was started is among them."""
    with act(engine) as work:
        work.insert("location", **named("attic, left"))
        work.commit("a place")
    with reading(engine) as connection:
        offered = choices(connection)

    assert offered["locations"] == ["attic, left"]
    assert "clean head" in offered["procedures"]
    assert "spindle speed" in offered["measurements"]


def test_the_template_offers_the_names_of_the_book_in_use(sqlite_book: Path, tmp_path: Path) -> None:
    """A person fills in the words that the book knows, so that the import needs no question."""
    assert run_cli(["location", "add", "attic, left"], db=sqlite_book).code == 0

    assert run_cli(["import", "--template", str(tmp_path / "mine.xlsx")], db=sqlite_book).code == 0

    hidden = load_workbook(tmp_path / "mine.xlsx")["choices"]
    words = {cell for row in hidden.iter_rows(values_only=True) for cell in row}
    assert "attic, left" in words
