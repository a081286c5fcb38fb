"""The names that a person chooses from when filling in a form."""

from __future__ import annotations

from typing import TypedDict

from sqlalchemy.engine import Connection

from collection.store.engine import fetch


class Choices(TypedDict):
    """Names of the book, in the order of the alphabet."""

    measurements: list[str]
    procedures: list[str]
    supplies: list[str]
    locations: list[str]


def choices(conn: Connection) -> Choices:
    """Return the names that the book has."""

    def names(table: str) -> list[str]:
        return [row[0] for row in fetch(conn, f"SELECT name FROM {table} WHERE void = 0 ORDER BY name_folded")]

    return Choices(
        measurements=names("measurement"),
        procedures=names("procedure"),
        supplies=names("supply"),
        locations=names("location"),
    )
