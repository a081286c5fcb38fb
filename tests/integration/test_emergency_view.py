"""What is carried out first, and who is called, on a book."""

from __future__ import annotations

from typing import Any

from sqlalchemy.engine import Engine

from collection.acts.forget import forget_person
from collection.acts.records import edit_person
from collection.acts.valuations import add_valuation
from collection.store.engine import reading
from collection.views.emergency import emergency
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

TIMES: dict[str, Any] = {"today": TODAY, "now": NOW}


def test_what_is_carried_out_stands_in_the_order_of_rank_then_borrowed_then_worth(engine: Engine) -> None:
    """Other currencies come after the book's own, what is not valued last; what is not here is left out and counted.

    What was given back today is no longer borrowed, what comes tomorrow not yet.
    """
    with shelf(engine) as made:
        units = {tag: made.unit(tag) for tag in ("D1", "D2", "D3", "D4", "D5", "D6", "D7", "D8", "D9", "D10")}
        made.work.update("unit", units["D10"], rescue_rank=2, rescue_note="two people")
        made.work.update("unit", units["D9"], rescue_rank=1)
        made.location(units["D10"], "shelf A")
        shelf_a, room = made.named("location", "shelf A"), made.named("location", "room")
        made.work.update("location", shelf_a, inside_id=room)
        made.standing(units["D1"], "missing", "2026-01-01")
        for tag, direction, name, out_on, back_on in (
            ("D7", "in", "L1", "2026-03-01", None), ("D8", "out", "L2", "2026-01-01", None),
            ("D6", "in", "L3", "2026-01-01", "2026-03-01"), ("D5", "in", "L4", "2026-03-02", None),
        ):  # fmt: skip
            loan = made.work.insert(
                "loan", name=name, direction=direction, person_id=made.person("Ada Quill"), out_on=out_on,
                due_on="2026-09-01",
            )  # fmt: skip
            made.work.insert("loan_item", loan_id=loan, unit_id=units[tag], back_on=back_on)
    for tag, amount, currency in (("D2", "10", "EUR"), ("D3", "10.01", "EUR"), ("D4", "500", "USD")):
        add_valuation(engine, tag, amount, currency, basis="market", **TIMES)

    with reading(engine) as conn:
        found = emergency(conn, TODAY)
        there = emergency(conn, TODAY, "room")

    assert ["D9", "D10", "D7", "D3", "D2", "D4", "D5", "D6"] == [each.unit.tag for each in found.carried]
    assert ["rank 1", "rank 2", "borrowed from Ada Quill", "worth 10.01 EUR"] == [
        each.why for each in found.carried[:4]
    ]
    assert ("shelf A, room", "two people") == (found.carried[1].where, found.carried[1].mind)
    assert 2 == found.elsewhere
    assert ["D10"] == [each.unit.tag for each in there.carried]


def test_people_are_called_by_their_rank_and_forgotten_ones_never(engine: Engine) -> None:
    """Keepers without a rank come last, by name; others only with one."""
    with shelf(engine) as made:
        for name, role in (("Ida Keep", "keeper"), ("Bo Keep", "keeper"), ("Ada Quill", "member"), ("Cy", "member")):
            made.named("person", name, role=role, salt="salt")
        made.unit("D1")
    edit_person(engine, "Ada Quill", {"call_rank": "1", "phone": "555"}, **TIMES)
    with reading(engine) as conn:
        called = [(each.name, each.phone, each.rank) for each in emergency(conn, TODAY).contacts]
    forget_person(engine, "Ada Quill", reason="left", **TIMES)

    assert [("Ada Quill", "555", 1), ("Bo Keep", "", None), ("Ida Keep", "", None)] == called
    with reading(engine) as conn:
        assert ["Bo Keep", "Ida Keep"] == [each.name for each in emergency(conn, TODAY).contacts]
