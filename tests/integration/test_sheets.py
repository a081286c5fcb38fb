"""What a service books by the sheets of its procedures."""

from __future__ import annotations

import pytest
from sqlalchemy.engine import Engine

from collection.acts.service_given import GivenService
from collection.acts.service_record import record_service
from collection.store.engine import fetch, reading
from collection.views.service_report import service_report
from collection.views.supplies import find_supply
from tests.support.bench import set_up_bench
from tests.support.books import act
from tests.support.times import NOW, TODAY


@pytest.mark.parametrize(("chance", "booked"), [(None, 1), (1.0, 1), (0.99, 0), (0.0, 0)])
def test_the_sheet_books_only_what_is_always_used(engine: Engine, chance: float | None, booked: int) -> None:
    """A chance below one, and none at all too, is left open."""
    set_up_bench(engine, TODAY, NOW)
    with act(engine) as work:
        cloth = find_supply(work.conn, "lint-free cloth").id
        ((amount,),) = fetch(work.conn, "SELECT id FROM amount WHERE supply_id = :s AND chance = 0.5", s=cloth)
        work.update("amount", amount, chance=chance)
        work.commit("another chance")

    given = GivenService(did=("replace belt",), by_the_sheet=True, outcome="on the bench")
    done = record_service(engine, "D1", given, today=TODAY, now=NOW)

    with reading(engine) as conn:
        used = service_report(conn, done.service_id, TODAY).used
    assert booked == sum(row.supply.name == "lint-free cloth" for row in used)
    assert bool(done.notes) != bool(booked)
