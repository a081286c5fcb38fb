"""What the page of the emergency list is given: cautions, whom to call, what to carry out in which order."""

from __future__ import annotations

from typing import Any

from collection.views.emergency import CAUTIONS, Carried, Emergency

_BLANK = ("fire brigade, police", "key holder", "electrician")


def emergency_places(found: Emergency, first: int | None) -> dict[str, Any]:
    """Return what the template of the emergency list may name. first: how many units are shown, None for all.

    It hangs where others read it: no sum and no owner stands on it.
    """
    shown = found.carried[:first]
    more = len(found.carried) - len(shown)
    rest = (
        f"{more} more {_units(more)} here" if more else "",
        f"{found.elsewhere} {_units(found.elsewhere)} on loan, away or missing and not on this list"
        if found.elsewhere
        else "",
    )
    said = "; ".join(filter(None, rest))
    return {
        "title": "Emergency list",
        "cautions": CAUTIONS,
        "contacts": [each._asdict() | {"rank": each.rank or ""} for each in found.contacts],
        "blanks": _BLANK,
        "policies": [{"name": each.name, "insurer": each.insurer} for each in found.policies],
        "carried": [_carried(each) for each in shown],
        "rest": f"{said}." if said else "",
    }


def _units(number: int) -> str:
    return "unit is" if number == 1 else "units are"


def _carried(each: Carried) -> dict[str, Any]:
    unit = each.unit
    return {
        "place": each.place,
        "tag": unit.tag,
        "model": f"{unit.maker} {unit.model}".strip(),
        "kind": unit.kind,
        "serial": unit.serial,
        "marks": each.marks,
        "where": each.where or "not known",
        "mind": each.mind,
        "why": f"rank {each.rank}" if each.rank else "borrowed" if each.borrowed_from else "",
    }
