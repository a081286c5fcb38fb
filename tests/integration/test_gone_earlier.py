"""The day from which on a unit is gone is put right by an earlier one, as nothing shows it here after that."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.units import enter
from collection.errors import Refused
from collection.store.engine import reading
from collection.views.units import find_unit, unit_on
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

TIMES: dict[str, Any] = {"today": TODAY, "now": NOW}


def test_what_is_gone_may_be_told_to_have_left_before(engine: Engine) -> None:
    """That it stands gone later is no sign of it here; the day on which it was moved still is."""
    with shelf(engine) as made:
        made.location(made.unit("D1"), "shelf A", "2026-02-10")
    enter(engine, "D1", standing="gone", reason="sold", on="2026-02-20", **TIMES)

    with pytest.raises(Refused, match="D1 was here on 2026-02-10, after 2026-02-09: moved"):
        enter(engine, "D1", standing="gone", reason="sold", on="2026-02-09", **TIMES)
    enter(engine, "D1", standing="gone", reason="sold", on="2026-02-10", **TIMES)

    with reading(engine) as conn:
        unit = find_unit(conn, "D1").id
        stood = [unit_on(conn, unit, TODAY.replace(month=2, day=day)).standing for day in (9, 10, 20)]
    assert ["ready", "gone", "gone"] == stood
