"""What a book goes by can be set, taken back, and stays within its rule."""

from __future__ import annotations

import pytest
from sqlalchemy.engine import Engine

from collection.acts.settings import set_accepted_risk
from collection.acts.undo import undo
from collection.errors import Refused
from collection.store.book import open_book
from collection.store.engine import fetch, reading
from collection.views.verify import verify
from tests.support.times import NOW, TODAY


def accepted(engine: Engine) -> tuple[float | None, float]:
    """Return what is set, and the risk that counts."""
    with reading(engine) as connection:
        settings = open_book(connection).settings
    return settings.accepted_risk, settings.risk


def test_an_accepted_risk_counts_from_when_it_is_set_until_it_is_taken_back(engine: Engine) -> None:
    """10 % unless set; the journal has the act, and the book keeps its rules."""
    assert accepted(engine) == (None, 0.1)

    assert set_accepted_risk(engine, 0.05, today=TODAY, now=NOW) == (0.1, 0.05)
    assert accepted(engine) == (0.05, 0.05)
    with reading(engine) as connection:
        said = fetch(connection, "SELECT summary FROM seal ORDER BY id DESC LIMIT 1")
        assert said == [("the book: accepted risk 10 % -> 5 %",)]
        assert verify(connection).broken == []

    undo(engine, None, today=TODAY, now=NOW)
    assert accepted(engine) == (None, 0.1)


def test_a_risk_out_of_range_or_set_already_writes_nothing(engine: Engine) -> None:
    """0.1 % and 50 % are taken; below, above and the same again leave no act."""
    for risk in (0.001, 0.5):
        set_accepted_risk(engine, risk, today=TODAY, now=NOW)
    with reading(engine) as connection:
        acts = fetch(connection, "SELECT count(*) FROM act")

    for risk in (0.0009, 0.5001):
        with pytest.raises(Refused, match="outside"):
            set_accepted_risk(engine, risk, today=TODAY, now=NOW)
    set_accepted_risk(engine, 0.5, today=TODAY, now=NOW)

    assert accepted(engine) == (0.5, 0.5)
    with reading(engine) as connection:
        assert fetch(connection, "SELECT count(*) FROM act") == acts
