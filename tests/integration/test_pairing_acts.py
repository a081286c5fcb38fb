"""Which supply unit feeds which drive, on both databases."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.pairings import add_pairing, end_pairing
from collection.acts.units import add_unit
from collection.errors import Refused
from collection.store.engine import reading
from collection.views.pairings import pairing_list
from tests.support.bench import set_up_bench
from tests.support.times import NOW, TODAY

AT: Any = {"today": TODAY, "now": NOW}


def test_a_drive_is_fed_by_one_supply_unit_at_a_time(engine: Engine) -> None:
    """Another one ends the first on its day; days in the wrong order and what feeds no drive are refused."""
    set_up_bench(engine, TODAY, NOW)
    add_unit(engine, "P2", {"model": "PS-2"}, **AT)
    add_pairing(engine, "D1", "P1", on="2026-01-10", **AT)

    for pair, on, says in (
        (("D1", "P1"), "", "is fed by P1 since 2026-01-10 already"),
        (("D1", "D2"), "", "D2 is a drive: it feeds no drive"),
        (("P1", "P1"), "", "P1 does not feed itself"),
        (("D1", "P2"), "2026-01-09", "since 2026-01-10, after 2026-01-09"),
    ):
        with pytest.raises(Refused, match=says):
            add_pairing(engine, *pair, on=on, **AT)
    paired = add_pairing(engine, "d1", "P2", on="2026-02-01", **AT)
    assert paired.ended is not None
    assert ("P1", "2026-02-01") == (paired.ended.supply_unit, paired.ended.to_date)

    assert "2026-02-01" == end_pairing(engine, "D1", on="2026-02-01", **AT).to_date
    with pytest.raises(Refused, match="fed by no supply unit"):
        end_pairing(engine, "D1", **AT)
    with reading(engine) as conn:
        assert [("P1", "2026-02-01"), ("P2", "2026-02-01")] == [
            (row.supply_unit, row.to_date) for row in pairing_list(conn)
        ]
