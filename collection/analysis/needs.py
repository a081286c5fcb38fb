"""What due work will take out of the drawer, and when.

Each due procedure of each unit is one job; a procedure that comes back every so many months is done again that long
after the day it is planned for. A job takes what the procedure's sheet says. Where the sheet says that an amount is
used only sometimes, the expected amount counts: it is summed up over the jobs and rounded up to whole steps, so that
ten jobs of one chance in two take five pieces and not ten.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date
from fractions import Fraction
from math import ceil
from typing import NamedTuple

from collection.analysis.months import add_months
from collection.analysis.netting import Need
from collection.analysis.schedule import DueUnit, tag_order
from collection.errors import fold
from collection.quantity import parse_day


class SheetAmount(NamedTuple):
    """What one procedure takes of one supply each time, in steps.

    chance: how often it takes it at all, 0 to 1. fits: the models that the supply fits, folded; empty for all.
    """

    procedure_id: int
    supply_id: int
    steps: int
    chance: Fraction
    fits: frozenset[str] = frozenset()


class Job(NamedTuple):
    """One procedure to be done on one unit on a day."""

    on: date
    tag: str
    procedure_id: int
    procedure: str
    models: frozenset[str] = frozenset()
    unit_id: int = 0


def models_of(fits: str | None) -> frozenset[str]:
    """Return the models of a text like "VK 410; Velkari VK 480", folded."""
    return frozenset(fold(part) for part in (fits or "").split(";") if part.strip())


def names_of_model(maker: str, model: str) -> frozenset[str]:
    """Return the folded names under which a list of models may have a model: with its maker or without."""
    return frozenset((fold(model), fold(f"{maker} {model}")))


def jobs(
    rows: Iterable[DueUnit],
    every_months: Mapping[int, int | None],
    loans_due: Mapping[int, str],
    models: Mapping[int, frozenset[str]],
    today: date,
    until: date,
) -> list[Job]:
    """Return the jobs from `today` to `until`, by day, then by tag.

    every_months: by procedure id. loans_due: the (partial) day on which a unit on loan is due back, by unit id; its
    work waits until then. models: the names of a unit's model, by unit id. Overdue work counts today.
    """
    found = []
    for row in rows:
        back = loans_due.get(row.unit_id, "")
        earliest = max(today, parse_day(back).first) if back else today
        for item in row.items:
            if item.procedure_id is None:
                continue
            on, months = max(item.due, earliest), every_months.get(item.procedure_id)
            while on <= until:
                fits = models.get(row.unit_id, frozenset())
                found.append(Job(on, row.tag, item.procedure_id, item.procedure, fits, row.unit_id))
                if months is None:
                    break
                on = add_months(on, months)
    return sorted(found, key=lambda job: (job.on, tag_order(job.tag)))


def needs(work: Iterable[Job], amounts: Iterable[SheetAmount]) -> dict[int, list[Need]]:
    """Return what the jobs take of each supply, in their order; a job that takes nothing yet is left out.

    A supply that fits certain models is taken only for units of those.
    """
    sheets: defaultdict[int, list[SheetAmount]] = defaultdict(list)
    for amount in amounts:
        sheets[amount.procedure_id].append(amount)
    expected: defaultdict[int, Fraction] = defaultdict(Fraction)
    found: defaultdict[int, list[Need]] = defaultdict(list)
    for job in work:
        for amount in sheets[job.procedure_id]:
            if amount.fits and amount.fits.isdisjoint(job.models):
                continue
            before = expected[amount.supply_id]
            after = expected[amount.supply_id] = before + amount.steps * amount.chance
            steps = ceil(after) - ceil(before)
            if steps:
                found[amount.supply_id].append(Need(job.on, steps, f"{job.tag}: {job.procedure}"))
    return dict(found)
