"""What the page of a round sheet is given: one line for each unit, in the order in which a round asks for them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any, NamedTuple

GRADES = "pass / marginal / fail"


class SheetLine(NamedTuple):
    """One unit of a round sheet, all as shown; "" for what is not known."""

    tag: str
    place: str
    last: str
    last_on: str
    limit: str


def round_places(
    title: str,
    head: Mapping[str, str],
    lines: Sequence[SheetLine],
    *,
    measured_in: str,
    cautions: Sequence[str],
    left_out: Sequence[str],
    command: str,
) -> dict[str, Any]:
    """Return what the template of the round sheet may name.

    title: what the round is of. head: more of it, by label; "" is a line to write on. measured_in: of the value;
    "graded", or "" where only done or not done is told. left_out: units that are not visited, in words. command: what
    asks in this order.
    """
    grouped = [
        {"place": place or "no location", "lines": [line._asdict() for line in group]}
        for place, group in groupby(lines, key=lambda line: line.place)
    ]
    graded = measured_in == "graded"
    return {
        "title": title,
        "head": list(head.items()),
        "places": grouped,
        "units": len(lines),
        "box": GRADES if graded else measured_in or "done",
        "done": not measured_in,
        "limits": any(line.limit for line in lines),
        "cautions": list(cautions),
        "left_out": list(left_out),
        "command": command,
    }
