"""What the page of a receipt is given: who brought what, why, as it came, and until when it stays."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from collection.quantity import show_day
from collection.views.entries import Entry


def receipt_places(entries: Sequence[Entry], book: str, form: str) -> dict[str, Any]:
    """Return what the template of the receipt may name.

    entries: of one person, at least one. book: its name, who took the things. form: how it writes days.
    """
    first, sender = entries[0], entries[0].sender
    numbers = ", ".join(dict.fromkeys(each.entry_number for each in entries if each.entry_number))
    lines = (*sender.address.splitlines(), sender.phone, sender.email) if sender else ()
    return_by = {each.return_by for each in entries}
    until = show_day(first.return_by, form) if first.return_by and len(return_by) == 1 else ""
    facts = (
        ("came on", ", ".join(dict.fromkeys(show_day(each.arrived_on, form) for each in entries))),
        ("for", "; ".join(dict.fromkeys(each.reason for each in entries if each.reason))),
        ("goes back by", until),
    )
    return {
        "title": f"Receipt {numbers}".strip(),
        "sender": {"name": sender.name if sender else "", "contact": [line for line in lines if line.strip()]},
        "receiver": {"name": book, "contact": []},
        "facts": [(name, text) for name, text in facts if text],
        "return_by": until,
        "came": [_came(each, form, single=len(return_by) == 1) for each in entries],
    }


def _came(entry: Entry, form: str, *, single: bool) -> dict[str, str]:
    """Return one unit; where the days to go back differ, each says its own."""
    unit = entry.unit
    back = f"goes back by {show_day(entry.return_by, form)}" if entry.return_by and not single else ""
    return {
        "tag": unit.tag,
        "model": f"{unit.maker} {unit.model}".strip(),
        "kind": unit.kind,
        "serial": unit.serial,
        "marks": entry.marks,
        "contents": "; ".join(filter(None, (entry.contents, back))),
        "damage": entry.damage or "no damage noted",
    }
