"""The rows of loans as lists print them: one unit of one loan each."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from collection.cli.face import Face
from collection.cli.show import Column
from collection.views.custody_rows import loan_row

if TYPE_CHECKING:
    from collection.quantity import Money
    from collection.views.loans import LoanRow

MORE = "more"  # the key of what stands below a row, of no column
_TERMS = "terms"


def loan_object(row: LoanRow, unsafe: str = "") -> dict[str, Any]:
    """Return a row under the keys of loan list, with what stands below it; unsafe: as of `loan_row`."""
    below = [*_along(row), *([f"not safe: {unsafe}"] if unsafe else [])]
    return loan_row(row, unsafe) | {MORE: below, _TERMS: _terms(row)}


def loan_objects(rows: Iterable[LoanRow]) -> list[dict[str, Any]]:
    """Return the rows of what was just lent or taken back, as `terms_once` does."""
    return terms_once([loan_object(row) for row in rows])


def terms_once(rows: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Put what is of a loan as a whole below the first of its units alone: a deposit told twice looks like two."""
    told: set[str] = set()
    found = []
    for row in rows:
        below = [row[_TERMS]] if row[_TERMS] and row["loan"] not in told else []
        found.append({**row, MORE: [*row[MORE], *below]})
        told.add(row["loan"])
    return found


def way(direction: str) -> str:
    """Return the word for what is borrowed, nothing for what is lent."""
    return "borrowed" if direction == "in" else ""


def _along(row: LoanRow) -> Iterator[str]:
    """Yield what goes along with a unit, and what of that is missing."""
    if row.along:
        yield f"along: {row.along}" + (f"; missing: {row.along_missing}" if row.along_missing else "")


def _terms(row: LoanRow) -> str:
    """Return what a loan is for, and what was left as deposit."""
    deposit = f"deposit {sum_words(row.deposit)}" if row.deposit else ""
    if row.deposit_back:
        deposit += f", {row.deposit_back.text} went back"
    return "; ".join(text for text in (row.purpose, deposit) if text)


def day_form(face: Face) -> str:
    """Return how the book writes days."""
    from collection.store.book import open_book

    with face.view() as conn:
        return open_book(conn).settings.date_form


def shown_day(form: str) -> Callable[[str | None], str]:
    """Return how a day text is written for a person, nothing for None."""
    from collection.quantity import show_day

    return lambda value: show_day(value, form) if value else ""


def loan_columns(form: str, *, back: bool) -> list[Column]:
    """Return the columns of loans; back: of those that may be back. What has no room stands below each row (MORE)."""
    day = shown_day(form)
    programs = (
        "along", "purpose", "deposit", "currency", "condition_out", "condition_back", "along_missing", "cover",
        "agreement", "issued_by", "taken_by", "deposit_back_on", "deposit_back", "unsafe",
    )  # fmt: skip
    return [
        Column("loan"),
        Column("direction", "way", way),
        Column("tag"),
        Column("person"),
        Column("out_on", "out", day),
        Column("due_on", "due", day),
        Column("back_on", "back", day, in_table=back),
        Column("days_over", "days over", lambda days: str(days) if days > 0 else ""),
        *(Column(key, in_table=False) for key in programs),
    ]


def sum_words(money: Money | None) -> str:
    """Return a sum with its currency, nothing for None."""
    return f"{money.text} {money.currency}" if money else ""
