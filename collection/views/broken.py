"""What a check of the book names."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Broken:
    """One broken row: the rule, the table, its row number inside the book (None: the whole) and what is wrong."""

    rule: str
    table: str
    row: int | None
    says: str
