"""The history of a unit and what its page is given, on both databases."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.errors import Refused
from collection.exchange.report_history import Shown, history_places
from collection.store.engine import reading
from collection.views.unit_history import UnitHistory, unit_history
from tests.support.shelf import Shelf, shelf
from tests.support.times import TODAY

ALPHA, WOOL = "Ada Quill", {"kind": "spare", "measured_in": "piece", "smallest_step": "1", "tracked": "count"}


def history(engine: Engine, tag: str = "D1") -> UnitHistory:
    """Return the history of a unit."""
    with reading(engine) as conn:
        return unit_history(conn, tag, TODAY)


def _fill(made: Shelf) -> None:
    """Write a unit with a service, readings, a fault, a loan and a valuation, Ada Quill in every corner of it."""
    ada = made.person(ALPHA)
    unit = made.unit(
        "D1", acquired_on="2019", acquired_from_id=ada, price_minor=2500, currency="EUR", note="ask ada QUILL"
    )
    made.owner(unit, ALPHA)
    made.location(unit, "secret shelf")
    service = made.service(
        unit, "2025-05-01", "clean head", closed_on="2025-05-03", findings="Ada Quill says: dust", by_id=ada
    )
    speed = made.series(unit)
    made.reading(speed, "2025-05-01", 310.0, "as found", service)
    made.reading(speed, "2025-05-03", 300.0, "as left", service)
    told = {
        "supply_id": made.named("supply", "wool", **WOOL),
        "occurred_on": "2025-05-01",
        "entered": "2",
        "used_past_date": 0,
        "service_id": service,
    }
    made.work.append("movement", kind="use", steps=-2, **told)
    wrong = made.work.append("movement", kind="use", steps=-7, **told)
    made.work.append("movement", kind="reverse", steps=7, reverses_id=wrong, **told)
    made.work.insert("fault", unit_id=unit, symptom="squeal heard by Ada Quill", noticed_on="2025-04-01")
    made.lend(unit, "2025-06-01", "2025-07-01", back_on="2025-06-20")
    looked = {"unit_id": unit, "checked_on": "2025-06-20", "by_id": ada}
    made.work.append("condition_check", occasion="loan back", condition="scratched, says Ada Quill", **looked)
    made.work.append("safety_check", result="pass", rule="form 3", good_through="2027-06-20", **looked)
    made.work.append(
        "valuation", unit_id=unit, amount_minor=9000, currency="EUR", basis="market", valued_on="2025-08-03", by_id=ada
    )


def texts(places: Any) -> str:
    """Return all texts of a page but its pictures."""
    if isinstance(places, str):
        return "" if places.startswith("data:") else places
    if isinstance(places, dict):
        return "\n".join(map(texts, places.values()))
    return "\n".join(map(texts, places)) if isinstance(places, list | tuple) else str(places)


def test_each_service_tells_what_was_found_and_left_and_taken(engine: Engine) -> None:
    """What was outside its limit as found is marked; a use that was taken back is not told."""
    with shelf(engine) as made:
        _fill(made)
    (service,) = history_places(history(engine), [], [], Shown("iso", TODAY))["services"]
    assert ("2025-05-01", "to 2025-05-03", ALPHA) == (service["day"], service["until"], service["by"])
    assert [{"what": "spindle speed", "found": "310 r/min", "left": "300 r/min", "out": True}] == service["readings"]
    assert service["used"] == "2 pieces of wool"


def test_each_check_tells_what_was_found_by_whom_and_by_which_rule(engine: Engine) -> None:
    """Condition and electrical safety, on a page for who gets the unit."""
    with shelf(engine) as made:
        _fill(made)
    places = history_places(history(engine), [], [], Shown("iso", TODAY))
    assert [("2025-06-20", "loan back", "scratched, says Ada Quill", ALPHA)] == [
        tuple(row.values()) for row in places["checks"]
    ]
    assert [("2025-06-20", "pass", "form 3", "2027-06-20", ALPHA)] == [tuple(row.values()) for row in places["safety"]]


def test_prices_and_people_stay_out_when_asked_and_the_place_always(engine: Engine) -> None:
    """Every price and every name that the book knows is gone, from free text and whatever its case too."""
    with shelf(engine) as made:
        _fill(made)
    found = history(engine)
    everything = texts(history_places(found, [], [], Shown("iso", TODAY)))
    nothing = texts(history_places(found, [], [], Shown("iso", TODAY, prices=False, people=False)))
    for word in (ALPHA, "ada QUILL", "Ilva", "25.00 EUR", "90.00 EUR"):
        assert word in everything
        assert word not in nothing
    assert "(name left out) says: dust" in nothing
    assert "secret shelf" not in everything
    assert "squeal heard by" in nothing


def test_unit_without_a_word_has_a_page_and_no_unit_has_none(engine: Engine) -> None:
    """A new unit gives empty lists; a tag that nothing has is refused."""
    with shelf(engine) as made:
        made.unit("D1")
    places = history_places(history(engine), [], [], Shown("iso", TODAY))
    assert not any(places[key] for key in ("last", "services", "faults", "parts", "loans", "worth", "readings"))
    with pytest.raises(Refused, match='"D12"'):
        history(engine, "D12")
