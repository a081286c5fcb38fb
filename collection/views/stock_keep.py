"""What the projection of a supply found, in JSON's own values, under a digest of what it was given."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from hashlib import sha256
from typing import Any

from collection.analysis.stock_plan.found import Candidate, LeadFound, PlanFound, Range, RunOut
from collection.analysis.stock_plan.given import SupplyGiven


def digest(given: SupplyGiven) -> str:
    """Return a name for what is given: equal ones have it in common, and find the same."""
    return sha256(repr(given).encode()).hexdigest()


def plain(found: PlanFound) -> dict[str, Any]:
    """Return what was found in JSON's own values; `from_plain` brings it back to the last bit."""
    return {each.name: getattr(found, each.name) for each in fields(found)}


def from_plain(kept: Mapping[str, Any]) -> PlanFound:
    """Return what `plain` wrote."""
    known = dict(kept)
    unplanned, lead = kept["unplanned"], kept["lead"]
    return PlanFound(
        **known
        | {
            "planned": Range(*kept["planned"]),
            "unplanned": None if unplanned is None else Range(*unplanned),
            "run_out": RunOut(*kept["run_out"]),
            "lead": None if lead is None else LeadFound(*lead),
            "candidates": tuple(Candidate(*one) for one in kept["candidates"]),
            "held_up": tuple(kept["held_up"]),
            "waste": tuple(kept["waste"]),
            "overdue": tuple(kept["overdue"]),
        }
    )
