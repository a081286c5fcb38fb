"""A book with a large drawer: units that are serviced every year, and supplies that all of their services take."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from collection.acts.start import start_book
from collection.store.book import BookSettings
from collection.store.engine import open_engine
from tests.support.shelf import Shelf, shelf
from tests.support.times import NOW, TODAY

UNITS = 24
YEARS = 4


def write_big_drawer(book: Path, supplies: int) -> None:
    """Write a book of UNITS units with YEARS years of services and so many counted supplies with what they took.

    Each supply has two lots, two offers of one supplier, an amount on the sheet of one procedure, a use in each fifth
    service, and every other one a use that nobody planned: enough for the supplies to teach one another.
    """
    start_book(str(book), BookSettings(), today=TODAY, now=NOW)
    engine = open_engine(str(book))
    with shelf(engine) as made:
        units = [made.unit(f"D{number}") for number in range(1, UNITS + 1)]
        services = [
            (made.service(unit, day, "clean head"), unit, day)
            for place, unit in enumerate(units)
            for year in range(YEARS)
            for day in ((TODAY - timedelta(days=365 * year + 13 * place + 20)).isoformat(),)
        ]
        supplier = made.named("supplier", "Nordlager", lead_days=14, shipping_minor=450, currency="EUR")
        for number in range(supplies):
            _supply(made, number, supplier, services[number % 5 :: 5])
    engine.dispose()


def _supply(made: Shelf, number: int, supplier: int, services: list[tuple[int, int, str]]) -> None:
    supply = made.named(
        "supply", f"supply {number}", kind="lubricant", measured_in="g", smallest_step="0.1", tracked="count",
        shelf_life_months=60, open_life_months=24,
    )  # fmt: skip
    procedure = made.procedure("clean head")
    made.work.insert("amount", procedure_id=procedure, supply_id=supply, steps=30, entered="3 g")
    for pack, price, least in ((500, 900, 1), (500, 780, 4)):
        made.work.insert(
            "offer", supplier_id=supplier, supply_id=supply, pack_steps=pack, entered=f"{pack / 10:g} g",
            price_minor=price, currency="EUR", from_packs=least,
        )  # fmt: skip
    first, second = (
        made.work.insert("lot", supply_id=supply, name=name, name_folded=name, received_on=day)
        for name, day in (("a", "2022-01-01"), ("b", "2025-06-01"))
    )
    common = {"supply_id": supply, "entered_in": "g", "basis": "measured", "used_past_date": 0}
    for lot, day in ((first, "2022-01-01"), (second, "2025-06-01")):
        made.work.append("movement", lot_id=lot, kind="receive", steps=700, entered="70", occurred_on=day, **common)
    if number % 2:
        made.work.append(
            "movement", lot_id=first, kind="use", steps=-10, entered="1", occurred_on="2024-06-01", planned=0, **common
        )
    for place, (service, unit, day) in enumerate(services):
        steps = 20 + (number * 7 + place * 11) % 25
        made.work.append(
            "movement", lot_id=first if day < "2025-06-01" else second, kind="use", steps=-steps,
            entered=f"{steps / 10:g}", occurred_on=day, planned=1, service_id=service, procedure_id=procedure,
            unit_id=unit, **common,
        )  # fmt: skip
