"""What the page of a disposal is given: what goes to whom for good, in what condition, with lines to sign."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from collection.quantity import show_day
from collection.views.exits import Leaving


def disposal_places(leaving: Sequence[Leaving], book: str, form: str) -> dict[str, Any]:
    """Return what the template of a disposal may name.

    leaving: units that went to one person, at least one. book: its name, who gives. form: how it writes days.
    """
    receiver = leaving[0].receiver
    lines = (*receiver.address.splitlines(), receiver.phone, receiver.email) if receiver else ()
    told = [each.told for each in leaving]
    facts = (
        ("left on", ", ".join(dict.fromkeys(show_day(each.left_on, form) for each in told))),
        ("how", ", ".join(dict.fromkeys(each.how for each in told))),
        ("decided by", ", ".join(dict.fromkeys(each.authority for each in told if each.authority))),
    )
    return {
        "title": f"Handed over: {', '.join(each.tag for each in told)}",
        "giver": {"name": book, "contact": []},
        "receiver": {"name": receiver.name if receiver else "", "contact": [line for line in lines if line.strip()]},
        "facts": [(name, text) for name, text in facts if text],
        "prices": any(each.price for each in told),
        "went": [_went(each) for each in leaving],
    }


def _went(each: Leaving) -> dict[str, str]:
    unit, price = each.unit, each.told.price
    return {
        "tag": unit.tag,
        "model": f"{unit.maker} {unit.model}".strip(),
        "kind": unit.kind,
        "serial": unit.serial,
        "marks": each.marks,
        "accessories": each.accessories,
        "condition": each.condition,
        "price": f"{price.text} {price.currency}" if price else "",
    }
