"""The rows of loans as lists print them: one unit of one loan each."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from collection.cli.face import Face
from collection.cli.show import Column

if TYPE_CHECKING:
    from collection.quantity import Money
    from collection.views.loans import LoanRow

_TEXTS = (
    "loan", "direction", "tag", "person", "out_on", "due_on", "back_on", "purpose", "condition_out", "condition_back",
    "along", "along_missing", "cover", "agreement", "issued_by", "taken_by", "deposit_back_on",
)  # fmt: skip
MORE = "more"  # the key of what stands below a row, of no column


def loan_object(row: LoanRow) -> dict[str, Any]:
    """Return a row under the keys of loan list; None for what is not told."""
    texts = {key: getattr(row, key) or None for key in _TEXTS}
    back = row.deposit_back and row.deposit_back.text
    money = {"deposit": row.deposit and row.deposit.text, "currency": row.deposit and row.deposit.currency}
    return texts | money | {"deposit_back": back, "days_over": row.days_over, MORE: list(_more(row))}


def _more(row: LoanRow) -> Iterator[str]:
    """Yield what stands below a row in a table: what goes along, what it is for, what was left as deposit."""
    if row.along:
        yield f"along: {row.along}" + (f"; missing: {row.along_missing}" if row.along_missing else "")
    deposit = f"deposit {sum_words(row.deposit)}" if row.deposit else ""
    if row.deposit_back:
        deposit += f", {row.deposit_back.text} went back"
    terms = "; ".join(text for text in (row.purpose, deposit) if text)
    if terms:
        yield terms


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
        "agreement", "issued_by", "taken_by", "deposit_back_on", "deposit_back",
    )  # fmt: skip
    return [
        Column("loan"),
        Column("direction", "way", lambda way: "borrowed" if way == "in" else ""),
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
