"""What the page of the shopping list is given: the rows of the reorder list, by the order that carries them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

_UNSURE = "do not know"


def shopping_places(rows: Sequence[Mapping[str, Any]], until: str, totals: Sequence[str]) -> dict[str, Any]:
    """Return what the template of the shopping list may name.

    rows: as the reorder list has them; one with a `group` begins a parcel. until: how far the work ahead was looked
    at, as shown. totals: of all that is to be ordered, by currency.
    """
    groups: list[dict[str, Any]] = []
    for row in rows:
        if row.get("group"):
            groups.append({"title": row["group"], "to_buy": bool(row.get("sheet")), "lines": []})
        groups[-1]["lines"].append(_line(row))
    return {
        "title": "Shopping list",
        "until": until,
        "groups": [group for group in groups if group["to_buy"]],
        "unsure": [_line(row) for row in rows if row.get("state") == _UNSURE and not row.get("sheet")],
        "totals": list(totals),
    }


def _line(row: Mapping[str, Any]) -> dict[str, Any]:
    rests_on = "rests on: "
    return {
        "supply": row["name"],
        "buy": row.get("buy") or "",
        "price": row.get("price") or "",
        "there": row.get("there") or "",
        "state": row.get("what") or "",
        "why": [text for text in _texts(row.get("under")) if not text.startswith(rests_on)],
    }


def _texts(value: Any) -> list[str]:
    return [value] if isinstance(value, str) else list(value or ())
