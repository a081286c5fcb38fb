"""What the page of due work is given: the rows of the due list, as they are read on paper."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from collection.quantity import show_day


def due_places(rows: Sequence[Mapping[str, Any]], below: Sequence[str], form: str) -> dict[str, Any]:
    """Return what the template of the due list may name.

    rows: those of the due list, as its --json has them. below: the lines under it. form: how the book writes days.
    """
    lines = [_line(row, form) for row in rows]
    groups = (
        ("Overdue", [line for line in lines if line["over"] > 0]),
        ("Due", [line for line in lines if line["over"] <= 0]),
    )
    return {
        "title": "Due work",
        "groups": [{"title": title, "lines": listed} for title, listed in groups if listed],
        "below": list(below),
    }


def _line(row: Mapping[str, Any], form: str) -> dict[str, Any]:
    return {
        "tag": row["tag"],
        "model": row["model"],
        "place": row["location"] or "",
        "standing": row["standing"] or "",
        "due": show_day(row["due"], form),
        "over": row["days_over"],
        "work": list(row["procedures"]),
        "why": list(row["why"]),
        "note": row["note"] or "",
    }
