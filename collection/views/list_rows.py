"""The rows of lists by the names under which programs are told them, whatever form they take: JSON, CSV, a DataFrame.

Amounts are exact numbers in the unit beside them, days are dates or ISO text, money is exact text; None is not known.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collection.analysis.stock_plan.found import Range
    from collection.views.consumption import ProcedureUse
    from collection.views.due import DueView
    from collection.views.intervals import IntervalRow
    from collection.views.media import MediumRow
    from collection.views.stock import StockRow as LotRow
    from collection.views.stock_rows import StockRow
    from collection.views.unit_consumption import UnitUse
    from collection.views.wanted import WantedPart

WANTED_KEYS = ("tag", "part", "supply", "pieces", "wanted_on", "got_on", "dropped_on", "reason", "note")


def due_rows(view: DueView, guided: Mapping[int, str]) -> Iterator[dict[str, Any]]:
    """Yield a row for each unit that is due. guided: what an open guided service of a unit says, by the unit's id."""
    for row in view.due.rows:
        unit = view.units[row.unit_id]
        yield {
            "tag": row.tag,
            "model": unit.model,
            "location": unit.location or None,
            "standing": unit.standing or None,
            "due": row.due,
            "days_over": row.days_over,
            "procedures": [item.procedure for item in row.items],
            "why": [reason for item in row.items for reason in item.reasons],
            "note": "; ".join(filter(None, (row.note, guided.get(row.unit_id)))) or None,
        }


def lot_row(row: LotRow, today: date) -> dict[str, Any]:
    """Return the row of what is in the drawer: one lot, or a supply of which there is none."""
    supply, held = row.supply, row.held
    lot, steps = (held.lot, held.steps) if held else (None, 0)
    value = held.value if held else None
    return {
        "supply": supply.name,
        "lot": lot.name if lot else None,
        "quantity": steps * supply.step,
        "measured_in": supply.measured_in,
        "received_on": lot.received_on if lot else None,
        "expires_on": lot.expires_on if lot else None,
        "opened_on": held.opened_on if held else None,
        "usable_through": held.usable.through if held else None,
        "rests_on": held.usable.because if held else None,
        "state": list(row.state),
        "location": ", ".join(held.places) or None if held else None,
        "value": value.text if value else None,
        "currency": value.currency if value else None,
        "then": held.usable.what_then(today) or None if held else None,
        "after_inspection": held.usable.after_inspection if held else None,
    }


def reorder_row(row: StockRow) -> dict[str, Any]:
    """Return the row of a supply on the list of what to buy; `parcel_by` is told by the order that carries it."""
    from collection.analysis.stock_plan.words import told_chance

    supply, cost = row.supply, row.cost
    planned, unplanned = _in_units(row, row.planned), _in_units(row, row.unplanned)
    return {
        "supply": supply.name,
        "state": row.state,
        "order_by": row.order_by,
        "packs": row.packs,
        "quantity": row.steps * supply.step,
        "supplier": row.supplier,
        "cost": cost.text if cost else None,
        "currency": cost.currency if cost else None,
        "chance_short": None if row.chance_short is None else told_chance(row.chance_short),
        "on_hand": row.on_hand * supply.step,
        "rests_on": list(row.rests_on),
        "measured_in": supply.measured_in,
        "shipping": row.shipping.text if row.shipping else None,
        "needed_by": row.needed_by,
        "on_order": row.on_order * supply.step,
        "planned": planned[0],
        "planned_low": planned[1],
        "planned_high": planned[2],
        "unplanned": unplanned[0],
        "unplanned_low": unplanned[1],
        "unplanned_high": unplanned[2],
        "held_up": [f"{job.tag}: {job.work} {job.on.isoformat()}" for job in row.held_up],
        "wanted": list(row.wanted),
        "ask": row.ask or None,
        "parcel_by": None,
    }


def _in_units(row: StockRow, known: Range | None) -> tuple[float | None, float | None, float | None]:
    """Return a mean and its range in the unit of the supply, to four digits after the point."""
    if known is None:
        return None, None, None
    mean, low, high = (round(each * float(row.supply.step), 4) for each in known)
    return mean, low, high


def use_row(found: ProcedureUse) -> dict[str, Any]:
    """Return the row of what a procedure takes of a supply; `procedure` is None for uses that nobody planned."""
    step, taken = float(found.supply.step), found.taken

    def amount(steps: float | None) -> float | None:
        return None if steps is None else round(steps * step, 9)

    return {
        "supply": found.supply.name,
        "procedure": found.procedure or None,
        "measured_in": found.supply.measured_in,
        "sheet": amount(found.sheet),
        "chance": found.chance,
        "mean": None if taken is None else amount(taken.mean),
        "mean_low": None if taken is None else amount(taken.low),
        "mean_high": None if taken is None else amount(taken.high),
        "spread": amount(found.spread),
        "ratio": None if taken is None else taken.ratio,
        "says": None if taken is None else taken.says,
        "weighed": found.weighed,
        "from_counts": found.from_counts,
        "by_sheet": found.by_sheet,
        "services": found.services,
        "taken_in": found.took_any,
        "a_year": found.a_year,
    }


def unit_use_row(found: UnitUse, currency: str) -> dict[str, Any]:
    """Return the row of what a unit took in supplies, minutes and belts; money in the book's currency."""
    from collection.quantity import Money

    def money(minor: float | None) -> Money | None:
        return None if minor is None else Money(round(minor), currency)

    each = found.minutes_a_service
    return {
        "tag": found.unit.tag,
        "model": found.unit.model,
        "year": found.year,
        "days": found.days,
        "services": found.services,
        "minutes": found.minutes if found.timed else None,
        "timed": found.timed,
        "cost": money(found.known_cost),
        "currency": currency,
        "priced": found.priced,
        "uses": found.uses,
        "belts": found.belts,
        "services_a_year": _rounded(found.a_year(found.services)),
        "minutes_a_service": _rounded(each),
        "minutes_a_year": _rounded(found.a_year(None if each is None else each * found.services)),
        "cost_a_service": money(found.cost_a_service),
        "cost_a_year": money(found.a_year(found.known_cost)),
        "belts_a_year": _rounded(found.a_year(found.belts)),
        "eats_belts": found.eats,
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def interval_row(row: IntervalRow) -> dict[str, Any]:
    """Return the row of an interval that is judged by how units came in, with the line to type where it may change."""
    from dataclasses import asdict

    from collection.views.intervals import edit_line

    return asdict(row) | {"class": row.class_name, "edit": edit_line(row) if row.months != row.every_months else None}


def wanted_row(row: WantedPart) -> dict[str, Any]:
    """Return the row of a part that a unit waits for, or waited for."""
    return {key: None if getattr(row, key) == "" else getattr(row, key) for key in WANTED_KEYS}


def medium_row(row: MediumRow) -> dict[str, Any]:
    """Return the row of a disk that units are read, cleaned or tried with."""
    last = row.last
    texts = ("role", "size", "unit", "condition", "from_date")
    later = ("check_every_months", "check_due", "retired_on", "retired_reason", "note")
    return (
        {"medium": row.name}
        | {key: getattr(row, key) or None for key in texts}
        | {"uses": row.uses, "most_uses": row.most_uses, "left": row.left, "last_used": row.last_used or None}
        | {"checked_on": last.checked_on if last else None, "result": last.result if last else None}
        | {key: getattr(row, key) or None for key in later}
    )
