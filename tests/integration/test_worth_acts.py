"""What units are worth by their valuations, and what one has cost, on a book."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.service_given import GivenPart, GivenService
from collection.acts.service_record import record_service
from collection.acts.undo import undo
from collection.acts.valuations import add_valuation
from collection.errors import Expected
from collection.quantity import Money
from collection.schema.columns import LONG
from collection.store.engine import reading
from collection.views.card import card_of
from collection.views.unit_list import Wanted
from collection.views.units import find_unit
from collection.views.worth import Cost, cost_of, worth_list
from tests.support.books import digest
from tests.support.drawer import Drawer
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

TIMES: dict[str, Any] = {"today": TODAY, "now": NOW}


def worths(engine: Engine, **wanted: str) -> dict[str, tuple[str, str, str] | None]:
    """Return amount, currency and basis of every unit wanted."""
    with reading(engine) as conn:
        listed = worth_list(conn, TODAY, Wanted(**wanted))
    return {
        each.unit.tag: each.valued and (each.valued.amount.text, each.valued.amount.currency, each.valued.basis)
        for each in listed
    }


def cost(engine: Engine) -> Cost:
    """Return what D1 has cost."""
    with reading(engine) as conn:
        return cost_of(conn, find_unit(conn, "D1").id, TODAY)


def value(engine: Engine, amount: str, **told: Any) -> None:
    """Value D1, at the market unless told otherwise."""
    add_valuation(engine, "D1", amount, **{"basis": "market"} | TIMES | told)


def test_the_latest_valuation_counts_and_none_is_lost(engine: Engine) -> None:
    """By its day, then by entry; an earlier day changes nothing, an undone one gives way; the card says the same."""
    with shelf(engine) as made:
        made.unit("D1")
        made.person("Anna Lerk")

    said = []
    for amount, on in (("100", "2025"), ("80", "2024-12-31"), ("90.5", "2026-03-01"), ("91", "2026-03-01")):
        value(engine, amount, on=on, by="anna lerk", evidence="two sold")
        said.append(worths(engine)["D1"])
    undo(engine, None, **TIMES)
    said.append(worths(engine)["D1"])

    assert [("100.00", "EUR", "market")] * 2 + [(each, "EUR", "market") for each in ("90.50", "91.00", "90.50")] == said
    with reading(engine) as conn:
        worth = card_of(conn, "D1", TODAY).worth
        assert worth
        assert (Money(9050, "EUR"), "Anna Lerk") == (worth.amount, worth.by)


def test_units_are_listed_with_what_is_known_of_their_worth(engine: Engine) -> None:
    """A valuation, else the model's replacement value, else nothing; gone units are not there; owners filter."""
    with shelf(engine) as made:
        made.model("VX-9", replacement_minor=7000, currency="USD")
        made.owner(made.unit("D1"), "Anna Lerk")
        made.unit("D2", "VX-9")
        made.unit("D3")
        made.unit("D4", "VX-9", standing="gone")
    value(engine, "0", currency="jpy", basis="Replacement")

    model = ("70.00", "USD", "replacement value of the model")
    assert {"D1": ("0", "JPY", "replacement"), "D2": model, "D3": None} == worths(engine)
    assert ["D1"] == list(worths(engine, owner="anna lerk"))


REFUSED = [
    ({"amount": "-0.01"}, "below zero"),
    ({"amount": "1.001"}, "too many digits"),
    ({"amount": "much"}, "much"),
    ({"currency": "EURO"}, "is not the code of a currency"),
    ({"basis": "guess"}, '"guess" is none'),
    ({"on": "2026-03-02"}, "has not come yet"),
    ({"by": "Nobody"}, 'no person "Nobody"'),
    ({"evidence": "x" * (LONG + 1)}, f"{LONG + 1} characters"),
]


def test_what_is_no_valuation_changes_nothing(engine: Engine) -> None:
    """Each refusal names the value that was seen."""
    with shelf(engine) as made:
        made.unit("D1")
    before = digest(engine)

    for told, said in REFUSED:
        with pytest.raises(Expected, match=said):
            value(engine, **{"amount": "1"} | told)

    assert before == digest(engine)


def test_a_unit_has_cost_its_price_and_what_its_lots_cost_by_currency(engine: Engine) -> None:
    """Three for 1.00, used elsewhere, here, and here but taken back; an unknown price is counted, not guessed."""
    with shelf(engine) as made:
        d1 = made.unit("D1", price_minor=4500, currency="EUR")
        made.unit("D2")
        made.service(d1, "2026-01-10", minutes=25)
        made.service(d1, "2026-02-10")
    grease, belt = Drawer(engine).add(), Drawer(engine, "belt 5 mm").add(kind="belt", measured_in="piece", step="1")
    grease.receive("0.3 g", "A", price="1.00")
    grease.receive("1 g", "B")
    grease.receive("1 g", "C", price="7", currency="USD")
    belt.receive("3", "K", price="10.00", on="2026-01-01")

    for quantity, lot, tag in (
        ("0.1", "A", "D2"),
        ("0.1", "A", "D1"),
        ("0.1", "A", "D1"),
        ("0.5", "B", "D1"),
        ("0.5", "C", "D1"),
    ):
        grease.use(quantity, lot=lot, tag=tag)
    grease.reverse(6)
    given = GivenService(on="2026-02-28", parts=(GivenPart("belt", supply="belt 5 mm"),), minutes=15)
    record_service(engine, "D1", given, **TIMES)

    found = cost(engine)
    assert ((Money(33, "EUR"), Money(350, "USD")), (2, 3)) == (found.supplies, found.supplies_priced)
    assert ((Money(333, "EUR"),), (1, 1), 0) == (found.parts, found.parts_priced, found.donated)
    assert (40, 2, 3) == (found.minutes, found.timed, found.services)
    assert (Money(4866, "EUR"), Money(350, "USD")) == found.total


def test_of_a_unit_without_a_price_and_without_work_nothing_is_made_up(engine: Engine) -> None:
    """No sum, no minutes, no row of zeros."""
    with shelf(engine) as made:
        made.unit("D1")

    found = cost(engine)
    assert (None, (), (), (0, 0), 0, 0) == (
        found.paid,
        found.supplies,
        found.total,
        found.parts_priced,
        found.timed,
        found.donated,
    )
