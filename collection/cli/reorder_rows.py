"""The rows of the reorder list: one object for a program, with what a person reads of it beside its keys."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING, Any

from collection.analysis.stock_plan.found import FINE, ORDER_BY, UNKNOWN
from collection.analysis.stock_plan.words import SELDOM, Scale, chance_words, packs_words
from collection.cli.show import json_line
from collection.views.list_rows import reorder_row
from collection.views.stock_groups import (
    NO_DAY,
    NOTHING,
    PARCEL,
    SHOPPING,
    Group,
    goods_of,
    groups_of,
    price_of_pack,
    total_cost,
)

if TYPE_CHECKING:
    from collection.quantity import Money
    from collection.views.stock_rows import StockList, StockRow
    from collection.views.wanted import WantedPart

_OFFER = "an offer"  # how the question for one begins; below the list it is asked for all at once
ORDER, SHOP = "order", "shopping"  # the sheets on which a row may stand
ShowDay = Callable[[date | None], str]
_HEADINGS = {
    NO_DAY: "No day to order by can be told yet",
    SHOPPING: "Shopping list: nobody in the book offers these",
    NOTHING: "Nothing to order yet",
}


def day_in(form: str) -> ShowDay:
    """Return what shows a day in the book's form, nothing for None."""
    from collection.quantity import show_day

    return lambda value: "" if value is None else show_day(value.isoformat(), form)


def month_in(form: str) -> ShowDay:
    """Return what shows the month of a day in the book's form, nothing for None."""
    from collection.quantity import show_day

    return lambda value: "" if value is None else show_day(value.isoformat()[:7], form)


def stock_lines_of(found: StockList, day: ShowDay) -> list[str]:
    """Return the list as lines of JSON: what is told of the whole list, then one for each row in its order."""
    groups = groups_of(found)
    facts = {
        "until": found.until,
        "until_shown": day(found.until),
        "no_history": found.no_history,
        "not_listed": found.not_listed,
        "unoffered": any(group.what == SHOPPING and group.rows for group in groups),
        "total": [f"{each.text} {each.currency}" for each in total_cost(groups)],
    }
    rows = [row for group in groups for row in _group_rows(group, found, day)]
    return [json_line(each) for each in (facts, *rows)]


def _group_rows(group: Group, found: StockList, day: ShowDay) -> list[dict[str, Any]]:
    rows = [_object(row, day) | {"under": _under(row, day, offered=group.what != SHOPPING)} for row in group.rows]
    if group.what == SHOPPING:
        rows += [_loose(part) for part in found.loose]
    rows[0]["group"] = _heading(group, day)
    sheet = {PARCEL: ORDER, SHOPPING: SHOP}.get(group.what, "")
    for row in rows:
        row["sheet"] = sheet
        if group.parcel is not None:
            row["parcel_by"] = group.parcel.order_by or found.today
    if group.parcel is not None:
        rows[0]["parcel_shipping"], rows[0]["parcel_cost"] = group.parcel.shipping.text, group.parcel.cost.text
    return rows


def _heading(group: Group, day: ShowDay) -> str:
    """Return what stands above a group: of a parcel who gets the order, by when, and what it costs."""
    parcel = group.parcel
    if parcel is None:
        return _HEADINGS[group.what]
    by = f"Order by {day(parcel.order_by)}" if parcel.order_by else "Order now"
    cost = f"{parcel.cost.text} {parcel.cost.currency}"
    shipping = f", {parcel.shipping.text} of it shipping" if parcel.shipping.minor else ""
    return f"{by} from {parcel.supplier}: {cost}{shipping}"


# --- one row -----------------------------------------------------------------------------------------------


def _object(row: StockRow, day: ShowDay) -> dict[str, Any]:
    goods, each = goods_of(row), price_of_pack(row)
    return reorder_row(row) | {
        "name": row.supply.name,
        "what": what_to_do(row, day),
        "buy": buy_words(row),
        "price": _shown(goods),
        "there": _there(row),
        "takes": _takes(row),
        "group": "",
        "pack": _pack(row),
        "each": each.text if each else "",
        "goods": goods.text if goods else "",
    }


def _loose(part: WantedPart) -> dict[str, Any]:
    """Return the row of a wanted part that is no supply of the book: nobody can say more than who wants it."""
    return {
        "state": "order now",
        "held_up": [],
        "rests_on": ["it is no supply of the book: with one there would be offers and a day to order by"],
        "wanted": [f"{part.tag}: {part.part}"],
        "name": part.part,
        "what": "order now",
        "buy": f"{part.pieces} piece" + ("s" if part.pieces > 1 else ""),
        "under": f"wanted for {part.tag}; it is no supply of the book",
        "group": "",
        "pack": f"{part.pieces} piece" + ("s" if part.pieces > 1 else ""),
    }


def scale_of(row: StockRow) -> Scale:
    """Return how amounts of the supply are told."""
    return Scale(float(row.supply.step), row.supply.measured_in)


def what_to_do(row: StockRow, day: ShowDay) -> str:
    """Return the state, with its day."""
    if row.state == ORDER_BY:
        return f"order by {day(row.order_by)}"
    return row.state


def _pack(row: StockRow) -> str:
    """Return what one pack holds, or the whole amount where nobody knows of packs; "" where none is counted."""
    if not row.steps:
        return ""
    return row.supply.show(row.steps // row.packs if row.packs else row.steps)


def buy_words(row: StockRow) -> str:
    """Return how much to buy: "2 packs of 50 g", "7 pieces" where nobody offers it."""
    if not row.steps:
        return packs_words(row.packs)
    if not row.packs:
        return row.supply.show(row.steps)
    return f"{packs_words(row.packs)} of {_pack(row)}"


def _shown(money: Money | None) -> str:
    return f"{money.text} {money.currency}" if money else ""


def _there(row: StockRow) -> str:
    if row.plan is None:
        return "by the pack"
    from collection.quantity import show_number

    if not row.on_order:
        return row.supply.show(row.on_hand)
    return f"{show_number(row.on_hand * row.supply.step)} + {row.supply.show(row.on_order)} coming"


def _takes(row: StockRow) -> str:
    """Return what planned and other use take together, on average."""
    if row.planned is None:
        return ""
    more = row.unplanned.mean if row.unplanned else 0.0
    if row.planned.mean + more <= 0:
        return "nothing known"
    return scale_of(row).amount(row.planned.mean + more).replace("less than ", "<")


def _under(row: StockRow, day: ShowDay, *, offered: bool) -> list[str]:
    """Return what stands below a row: what would help, the risk, what would be held up, who waits, what it rests on."""
    said = [f"would help most: {row.ask}"] if row.ask and (offered or not row.ask.startswith(_OFFER)) else []
    said += _doubts(row)
    if row.state != FINE:
        said += _risk(row, day)
        if row.held_up:
            more = f" and {len(row.held_up) - 1} more" if len(row.held_up) > 1 else ""
            first = row.held_up[0]
            said.append(f"waits without it: {first.tag}: {first.work} {day(first.on)}{more}")
    if row.wanted:
        said.append(f"wanted for {', '.join(row.wanted)}")
    if row.state != FINE and row.in_short:
        said.append(f"rests on: {row.in_short}")
    return said


def _doubts(row: StockRow) -> list[str]:
    """Return what is wrong in the book or with an order, whatever the state."""
    if row.plan is None:
        return []
    said = [
        f'order "{order.line.order}" of {order.line.supplier} is overdue and not counted on: ask them'
        for order in row.plan.orders
        if order.overdue
    ]
    if row.plan.found.entries_missing and not row.ask.startswith("a count"):
        said.append("entries are missing: please count")
    return said


def _risk(row: StockRow, day: ShowDay) -> list[str]:
    """Return the chance of running short, where it is worth a line."""
    if row.chance_short is None or row.plan is None:
        return []
    if row.state == UNKNOWN and not row.steps:
        return []  # nothing is known of its use, so no chance says anything
    if row.state == UNKNOWN:
        return [f"{chance_words(row.chance_short)} of running short by {day(row.plan.until)}"]
    if row.chance_short < SELDOM:
        return []
    return [f"{chance_words(row.chance_short)} of running short before an order placed today comes"]
