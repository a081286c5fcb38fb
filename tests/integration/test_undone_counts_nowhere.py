"""Undoing an act brings back what every view said before it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from sqlalchemy.engine import Connection, Engine

from collection.acts.undo import undo
from collection.analysis.stock_plan.plan import plan_supply
from collection.errors import Refused
from collection.store.engine import fetch, reading
from collection.views.adjustments import adjustments_of
from collection.views.arrivals import arrivals_of
from collection.views.attachments import attachments_of
from collection.views.card import card_of
from collection.views.damage import damage_list
from collection.views.due import due_view
from collection.views.emergency import emergency
from collection.views.entries import entry_list
from collection.views.exits import exit_list
from collection.views.faults import fault_list
from collection.views.findings import measurements
from collection.views.folder.form import FORMS
from collection.views.folder.rows import folder_rows
from collection.views.lead_times import lead_times
from collection.views.loans import loan_list
from collection.views.measuring import find_measurement, instruments_for, spell_point
from collection.views.movements import history_of
from collection.views.needs import needs_of_due_work, sheet_amounts
from collection.views.offer_list import offer_list
from collection.views.order_list import order_list
from collection.views.orders import offers, order_lines, suppliers
from collection.views.people import person_list
from collection.views.places import location_names
from collection.views.procedure_rules import procedure_rules
from collection.views.procedures import procedure_list, supply_cautions
from collection.views.reading_list import readings_of
from collection.views.service_report import service_report
from collection.views.services import open_service_of, tasks_of
from collection.views.sheets import sheet_amounts as amounts_of_tasks
from collection.views.shelves import shelf_of
from collection.views.stock import stock
from collection.views.stock_plan import stock_plan
from collection.views.supplies import find_supply, lot_list, own_lives, supply_list
from collection.views.unit_list import Wanted, listed_units
from collection.views.units import find_unit, unit_ids, unit_on
from collection.views.worth import cost_of, valuations_of, worth_list
from tests.support.books import named
from tests.support.shelf import Shelf, shelf
from tests.support.times import NOW, TODAY

SWAB = "foam swab, lint-free"
DAY = "2026-02-01"


def _unit(conn: Connection) -> Any:
    return unit_on(conn, find_unit(conn, "D1").id, TODAY)


def _service(conn: Connection) -> int:
    return int(fetch(conn, "SELECT id FROM service WHERE name = 'S1'")[0][0])


def _by_alias(conn: Connection) -> object:
    try:
        return find_unit(conn, "X1")
    except Refused as refused:
        return str(refused)


VIEWS: dict[str, Callable[[Connection], object]] = {
    "alias": _by_alias,
    "card": lambda conn: card_of(conn, "D1", TODAY),
    "due": lambda conn: due_view(conn, TODAY, 400),
    "procedures": lambda conn: (procedure_rules(conn), procedure_list(conn)),
    "faults": fault_list,
    "measurements": measurements,
    "loans": lambda conn: loan_list(conn, TODAY, closed_too=True),
    "instruments": lambda conn: instruments_for(conn, find_measurement(conn, "spindle speed")),
    "points": lambda conn: spell_point(conn, _unit(conn), find_measurement(conn, "radial alignment"), "HEAD0"),
    "movements": lambda conn: history_of(conn, find_supply(conn, SWAB)),
    "needs": lambda conn: needs_of_due_work(conn, TODAY, 400),
    "amounts": sheet_amounts,
    "sheet": lambda conn: amounts_of_tasks(conn, procedure_list(conn), _unit(conn).id),
    "offers": offers,
    "orders": order_lines,
    "orders under way": lambda conn: order_list(conn, TODAY),
    "lead times": lead_times,
    "offers listed": offer_list,
    "suppliers": suppliers,
    "people": person_list,
    "locations": location_names,
    "cautions": supply_cautions,
    "readings": lambda conn: readings_of(conn, _unit(conn)),
    "reorder": lambda conn: stock_plan(conn, TODAY, plan=plan_supply),
    "service": lambda conn: service_report(conn, _service(conn), TODAY),
    "open service": lambda conn: open_service_of(conn, _unit(conn).id),
    "tasks": lambda conn: tasks_of(conn, _service(conn)),
    "shelf": lambda conn: shelf_of(conn, find_supply(conn, SWAB)).shelf.stock(),
    "stock": lambda conn: stock(conn, TODAY),
    "supplies": supply_list,
    "lots": lot_list,
    "shelf lives": own_lives,
    "arrivals": lambda conn: arrivals_of(conn, _unit(conn).id),
    "entries": lambda conn: entry_list(conn, TODAY),
    "damage": damage_list,
    "exits": lambda conn: exit_list(conn, TODAY),
    "emergency": lambda conn: emergency(conn, TODAY),
    "screws": lambda conn: adjustments_of(conn, _unit(conn).id),
    "photos": lambda conn: attachments_of(conn, _unit(conn).id),
    "worth": lambda conn: worth_list(conn, TODAY, Wanted()),
    "valuations": lambda conn: valuations_of(conn, _unit(conn).id),
    "cost": lambda conn: cost_of(conn, _unit(conn).id, TODAY),
    "units": lambda conn: listed_units(conn, TODAY, Wanted()),
    "tags": unit_ids,
}


def _seen(engine: Engine) -> dict[str, str]:
    """Return what every view says, and the rows of every file of the folder."""
    with reading(engine) as conn:
        said = {name: repr(view(conn)) for name, view in VIEWS.items()}
        return said | {file: repr(list(folder_rows(conn, file, TODAY))) for file in FORMS}


def _first(made: Shelf) -> tuple[int, int, int, int]:
    """Write a unit with a service and a reading, and a supply on order."""
    unit = made.unit("D1")
    service = made.service(unit, "2026-01-01", "clean head")
    made.reading(made.series(unit), "2026-01-01", 300.0)
    supplier = made.named("supplier", "Gannet Row Spares", lead_days=14)
    swab = made.named("supply", SWAB)
    _order(made, supplier, swab)
    return unit, service, supplier, swab


def _order(made: Shelf, supplier: int, supply: int) -> int:
    name = f"o-{made.work.next_id('purchase_order')}"
    order = made.work.append(
        "purchase_order", name=name, name_folded=name, supplier_id=supplier, ordered_on="2026-02-20"
    )
    return made.work.append("order_line", order_id=order, supply_id=supply, packs=2, pack_steps=50)


def _equipment(made: Shelf, unit: int, service: int, swab: int) -> None:
    work = made.work
    work.insert("unit_alias", unit_id=unit, alias="X1", alias_folded="x1")
    other = made.unit("D2", "VX-6", serial="7", serial_folded="7")
    made.owner(unit, "Ilva")
    made.location(unit, "shelf A")
    made.standing(unit, "in use", DAY)
    made.lend(other, DAY, "2026-04-01")
    work.insert("pairing", drive_id=unit, supply_unit_id=made.unit("P1"), from_date=DAY)
    work.insert("fitted_part", unit_id=unit, part="pad", fitted_on=DAY, supply_id=swab, service_id=service)
    work.append("valuation", unit_id=unit, valued_on=DAY, amount_minor=1, currency="EUR", basis="market")
    work.insert("arrival", unit_id=unit, arrived_on=DAY)
    work.insert("damage", **named("DL1"), unit_id=unit, kind="damage", found_on=DAY, what="dented")
    work.insert("unit_exit", unit_id=unit, left_on=DAY, how="scrapped", reason="worn")
    turned = {"screw": "trimmer", "direction": "clockwise", "turns": 0.5, "entered": "0.5"}
    work.append("adjustment", unit_id=unit, done_on=DAY, **turned)
    page = work.append("attachment_content", sha256="0" * 64, size=1, content=b"x")
    work.insert("attachment", content_id=page, unit_id=unit, title="front", media_type="image/png")
    work.insert("policy", name="P", name_folded="p", from_date=DAY)


def _maintenance(made: Shelf, unit: int, service: int, swab: int) -> None:
    work = made.work
    made.task(service, "dust out", DAY)
    work.insert("service", name="S open", unit_id=unit, opened_on=DAY)
    made.procedure("polish case", every_months=1)
    work.append("baseline", unit_id=unit, procedure_id=made.procedure("polish case"), last_done="2025-01-01")
    work.insert("amount", procedure_id=made.procedure("dust out"), supply_id=swab, steps=7, entered="7")
    work.insert("fault", unit_id=unit, noticed_on=DAY, symptom="read errors")
    work.append("hour_reading", unit_id=unit, read_on=DAY, hours=1.0, reset=0)
    made.reading(made.series(unit), DAY, 310.0, "as left", service)
    made.reading(made.series(unit, "radial alignment", "head 0"), DAY, 1.0)
    made.named("measurement", "hum", measured_in="mV")
    work.insert(
        "instrument_use", instrument_id=made.named("instrument", "disk B"), measurement_id=1, reference=1, from_date=DAY
    )
    work.insert("limit_range", unit_id=unit, measurement_id=1, point="", upper=299.0)


def _supplies(made: Shelf, supplier: int, service: int, swab: int, line: int) -> None:
    work = made.work
    work.append("order_event", line_id=line, kind="arrived", happened_on="2026-02-27", packs=1)
    order = fetch(work.conn, "SELECT order_id FROM order_line WHERE id = :id", id=line)[0][0]
    work.append("order_promise", order_id=order, told_on="2026-02-21", expected_on="2026-03-20")
    _order(made, supplier, made.named("supply", "lint-free cloth"))
    price = {"pack_steps": 50, "entered": "50", "price_minor": 100, "currency": "EUR", "from_packs": 1}
    work.insert("offer", supplier_id=supplier, supply_id=swab, **price)
    made.named("supplier", "Sable Lane Belts")
    lot = work.insert("lot", supply_id=swab, name="L1", name_folded="l1", received_on=DAY)
    common = {"supply_id": swab, "entered": "9", "occurred_on": DAY, "used_past_date": 0}
    work.append("movement", kind="receive", lot_id=lot, steps=9, **common)
    work.append("movement", kind="use", lot_id=lot, steps=-2, service_id=service, basis="count", **common)
    work.append("movement", kind="count", lot_id=lot, steps=6, **common)
    work.append("lot_inspection", lot_id=lot, inspected_on=DAY, result="pass", good_through="2027-01-01")
    made.named("supply", "paper", kind="cloth", measured_in="piece", smallest_step="1", tracked="count")
    work.insert("supply_caution", kind="cloth", caution="Dry it flat.")
    work.insert("shelf_life", what="polymer", name="new", name_folded="new", months=1)


def test_no_view_tells_of_what_was_undone(engine: Engine) -> None:
    """One act writes to every subject; each view changes, and says again what it said once the act is undone."""
    with shelf(engine) as made:
        unit, service, supplier, swab = _first(made)
    before = _seen(engine)
    with shelf(engine) as made:
        _equipment(made, unit, service, swab)
        _maintenance(made, unit, service, swab)
        _supplies(made, supplier, service, swab, line=1)
    changed = _seen(engine)
    undo(engine, None, today=TODAY, now=NOW)

    after = _seen(engine)

    assert [] == [name for name in before if before[name] != after[name]]
    assert [] == [name for name in before if before[name] == changed[name]]
