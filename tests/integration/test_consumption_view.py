"""What work takes and what units take, from the book."""

from __future__ import annotations

import pytest
from sqlalchemy.engine import Engine

from collection.store.engine import reading
from collection.views.consumption import consumption
from collection.views.unit_consumption import units_use
from tests.support.drawer import Drawer
from tests.support.shelf import shelf
from tests.support.times import TODAY

SWAB = "foam swab, lint-free"


@pytest.fixture
def swabs(engine: Engine) -> Drawer:
    """Return the drawer of a book in which D1 and D2 had their heads cleaned, D1 twice, four swabs each time."""
    drawer = Drawer(engine, SWAB)
    drawer.receive("100", "A", price="5.00", on="2024-01-01")
    with shelf(engine) as made:
        common = {"supply_id": made.named("supply", SWAB), "lot_id": 1, "kind": "use", "entered_in": "piece"}
        common |= {"basis": "measured", "planned": 1, "procedure_id": made.procedure("clean head"), "used_past_date": 0}
        first, second = made.unit("D1"), made.unit("D2")
        for unit, day, steps in ((first, "2024-06-01", 4), (first, "2025-06-01", 5), (second, "2025-07-01", 3)):
            service = made.service(unit, day, "clean head", minutes=30)
            made.work.append(
                "movement",
                steps=-steps,
                entered=str(steps),
                occurred_on=day,
                service_id=service,
                unit_id=unit,
                **common,
            )
    return drawer


def test_what_a_procedure_really_takes_stands_beside_its_sheet(swabs: Drawer) -> None:
    """Three uses that were told: their mean, and what the sheet has."""
    with reading(swabs.engine) as connection:
        (row,) = consumption(connection, TODAY, SWAB)
    assert (SWAB, "clean head", 2, 3, 0) == (row.supply.name, row.procedure, row.sheet, row.weighed, row.by_sheet)
    assert row.taken is not None
    assert row.taken.mean == pytest.approx(4.0)
    assert row.spread == pytest.approx(1.0)


def test_what_units_take_adds_up_by_unit_and_by_year(swabs: Drawer) -> None:
    """Twelve swabs of a hundred at 5.00; the years of a unit sum to its whole."""
    with reading(swabs.engine) as connection:
        whole = units_use(connection, TODAY)
        years = units_use(connection, TODAY, by_year=True)
        one = units_use(connection, TODAY, "D2")
    assert [("D1", 2, 60, 45), ("D2", 1, 30, 15)] == [
        (row.unit.tag, row.services, row.minutes, row.cost) for row in whole.rows
    ]
    assert ["D2"] == [row.unit.tag for row in one.rows]
    for row in whole.rows:
        mine = [each for each in years.rows if each.unit.tag == row.unit.tag]
        assert (row.services, row.cost) == (sum(each.services for each in mine), sum(each.cost for each in mine))
        assert row.a_year(row.services) == pytest.approx(row.services * 365.25 / row.days)


def test_a_book_without_any_use_has_no_rows(engine: Engine) -> None:
    """Nothing is made up."""
    with reading(engine) as connection:
        assert [] == consumption(connection, TODAY)
        assert ((), None) == units_use(connection, TODAY)[:2]
