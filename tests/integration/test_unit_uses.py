"""Who used units, when, for what, and what came of it."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.units import enter
from collection.acts.who import engine_of
from collection.errors import Expected
from collection.store.engine import reading
from collection.views.unit_uses import Use, uses
from collection.views.units import find_unit
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

TIMES: dict[str, Any] = {"today": TODAY, "now": NOW}


def test_a_use_lasts_until_another_standing_and_tells_what_came_of_it(engine: Engine) -> None:
    """Faults of its span and the standing after it; a loan has the borrower, the purpose and how it came back."""
    with shelf(engine) as made:
        unit, other = made.unit("D1"), made.unit("D2")
        made.named("person", "Ida Keep", role="keeper", salt="salt")
        loan = made.work.insert(
            "loan", name="L1", direction="out", person_id=made.person("Ada Quill"), out_on="2026-01-01",
            due_on="2026-02-01", purpose="a fair",
        )  # fmt: skip
        made.work.insert("loan_item", loan_id=loan, unit_id=other, back_on="2026-01-20", condition_back="whole")
        for day, symptom in (
            ("2026-01-31", "before"), ("2026-02-01", "hums"), ("2026-02-20", "skips"), ("2026-02-21", "later"),
        ):  # fmt: skip
            made.work.insert("fault", unit_id=unit, noticed_on=day, symptom=symptom, no_fault_found=0)
        made.work.insert(
            "fault", unit_id=other, noticed_on="2026-01-20", symptom="slow", no_fault_found=0, loan_id=loan
        )
    told: dict[str, Any] = {"reason": "reads disks"} | TIMES
    enter(engine, "D1", standing="in use", by="Ada Quill", on="2026-02-01", **told)
    enter(engine, "D1", standing="on the bench", on="2026-02-20", **TIMES)
    enter(engine_of(engine, "Ida Keep"), "D1", standing="in use", on="2026-03-01", **told)
    with pytest.raises(Expected, match='no person "Nobody"'):
        enter(engine, "D2", standing="in use", by="Nobody", **told)

    with reading(engine) as conn:
        found, of_one = uses(conn), uses(conn, find_unit(conn, "D2").id)

    on_loan = Use("D2", "on loan", "2026-01-01", "2026-01-20", "Ada Quill", "a fair", "whole; slow")
    assert [
        Use("D1", "in use", "2026-03-01", "", "Ida Keep", "reads disks", ""),
        Use("D1", "in use", "2026-02-01", "2026-02-20", "Ada Quill", "reads disks", "hums; skips; on the bench"),
        on_loan,
    ] == found
    assert [on_loan] == of_one
