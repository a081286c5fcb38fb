"""What the book teaches about the use of its supplies: the ledger read once for all of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from datetime import date

from sqlalchemy.engine import Connection

from collection.analysis.stock_plan.given import AmountGiven, UnplannedGiven
from collection.analysis.uses import NO_PRIOR, RestsOn, SupplyLearnt
from collection.views.needs import sheet_amounts
from collection.views.supplies import Supply, supply_list


def learnt(conn: Connection, today: date, foreseen: Collection[int] | None = None) -> dict[int, SupplyLearnt]:
    """Return what the ledger up to `today` teaches about every supply tracked by count, by supply id.

    foreseen: ids of the procedures that a schedule foresees; left out, those with months, running hours or a time
    unused. A use that the sheet of such a procedure has is planned work and no unplanned event.
    """
    amounts: defaultdict[int, dict[int | None, AmountGiven]] = defaultdict(dict)
    pieces = {supply.id: piece_steps(supply) for supply in supply_list(conn) if supply.tracked == "count"}
    for each in sheet_amounts(conn):
        if each.supply_id in pieces:
            amounts[each.supply_id][each.procedure_id] = AmountGiven(
                each.steps or None, chance=float(each.chance), piece=pieces[each.supply_id]
            )
    rests = RestsOn(
        0, 0, 0, spread_known=False, events=0, since=None, unit_months=0, units=0, prior=NO_PRIOR, class_name=""
    )
    nothing = UnplannedGiven(0, 0.0, 0.0, 0.0, 0.0, 0)
    return {supply: SupplyLearnt(amounts[supply], nothing, (0.0, 0.0), None, rests) for supply in pieces}


def piece_steps(supply: Supply) -> int:
    """Return how many steps one piece has; 0 for what is weighed or poured."""
    return round(1 / supply.step) if supply.measured_in == "piece" else 0
