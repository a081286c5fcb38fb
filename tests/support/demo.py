"""The demo on a fixed day, and how tests look things up in its tables."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from functools import cache

from collection.analysis.fleet import Tables, Truth
from collection.exchange.demo_folder import demo_tables
from collection.store.seed import reference_rows

Row = dict[str, str]

DEMO_DAY = date(2026, 3, 1)


@cache
def demo() -> tuple[Tables, Truth]:
    """Return the demo's rows and their truth; nobody may write to them."""
    return demo_tables(DEMO_DAY)


def units_in_role(role: str) -> list[str]:
    """Return the tags of the units that are there to show one thing."""
    return [tag for tag, played in demo()[1]["roles"].items() if played == role]


def one_in_role(role: str) -> str:
    """Return the tag of the only unit that shows one thing."""
    (tag,) = units_in_role(role)
    return tag


def texts_in(tables: Tables, file: str, name: str) -> set[str]:
    """Return every text that stands in a column."""
    return {row[name] for row in tables[file]}


def listed(text: str) -> list[str]:
    """Return the parts of a list separated by semicolons."""
    return [part.strip() for part in text.split(";") if part.strip()]


def all_days(tables: Tables) -> Iterator[tuple[str, str, str]]:
    """Yield file, column and text of every cell that holds a day."""
    for file, rows in tables.items():
        for row in rows:
            for name, text in row.items():
                if text and (name.endswith(("_on", "_date")) or name == "made"):
                    yield file, name, text


def all_supplies(tables: Tables) -> dict[str, Row]:
    """Return the supplies that the demo can use: its own and those of the reference data."""
    return {row["supply"]: row for row in [*reference_rows("supplies"), *tables["supplies.csv"]]}


def left_in_lots(tables: Tables) -> dict[tuple[str, str], Decimal]:
    """Replay receipts, uses and counts by day; no lot may fall below zero, no count lie above the book."""
    left = {(row["supply"], row["lot"]): Decimal(row["quantity"]) for row in tables["lots.csv"]}
    received = {(row["supply"], row["lot"]): row["received_on"] for row in tables["lots.csv"]}
    events = [(row["used_on"], 0, row) for row in tables["uses.csv"] if row["what"] != "short"]
    events += [(row["counted_on"], 1, row) for row in tables["counts.csv"]]
    for day, counted, row in sorted(events, key=lambda event: event[:2]):
        lot = row["supply"], row["lot"]
        assert received[lot] <= day
        after = Decimal(row["quantity"]) if counted else left[lot] - Decimal(row["quantity"])
        assert 0 <= after <= left[lot], (day, row)
        left[lot] = after
    return left
