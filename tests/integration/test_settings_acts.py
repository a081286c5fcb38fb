"""What a book goes by can be set, taken back, and stays within its rule."""

from __future__ import annotations

import pytest
from sqlalchemy.engine import Engine

from collection.acts.settings import set_book
from collection.acts.undo import undo
from collection.errors import Refused
from collection.store.book import BookSettings, open_book
from collection.store.engine import fetch, reading
from collection.views.verify import verify
from tests.support.books import digest
from tests.support.times import NOW, TODAY

BENCH = {"bench days": "Sunday; sat", "bench minutes": "240", "order cost": "2.50", "holding": "5 %"}


def settings_of(engine: Engine) -> BookSettings:
    """Return what counts in the book."""
    with reading(engine) as connection:
        return open_book(connection).settings


def put(engine: Engine, **given: str) -> list[tuple[str, str, str]]:
    """Set by names in which a blank is written as a line below."""
    told = {name.replace("_", " "): text for name, text in given.items()}
    return [(each.name, each.before, each.after) for each in set_book(engine, told, today=TODAY, now=NOW)]


def test_an_accepted_risk_counts_from_when_it_is_set_until_it_is_taken_back(engine: Engine) -> None:
    """10 % unless set; the journal has the act, and the book keeps its rules."""
    assert (settings_of(engine).accepted_risk, settings_of(engine).risk) == (None, 0.1)

    assert put(engine, accepted_risk="5%") == [("accepted risk", "10 %", "5 %")]
    assert settings_of(engine).risk == 0.05
    with reading(engine) as connection:
        said = fetch(connection, "SELECT summary FROM seal ORDER BY id DESC LIMIT 1")
        assert said == [("the book: accepted risk 10 % -> 5 %",)]
        assert verify(connection).broken == []

    undo(engine, None, today=TODAY, now=NOW)
    assert (settings_of(engine).accepted_risk, settings_of(engine).risk) == (None, 0.1)


def test_what_the_stock_plan_goes_by_is_set_in_one_act_and_taken_away_by_nothing(engine: Engine) -> None:
    """Days stand from Monday on, sums in minor units, parts of a value as such; an empty text leaves nothing."""
    told = set_book(engine, BENCH, today=TODAY, now=NOW)
    kept = settings_of(engine)

    assert (kept.bench_weekdays, kept.bench_minutes, kept.order_cost_minor, kept.holding_rate) == (
        "sat,sun", 240, 250, 0.05,
    )  # fmt: skip
    assert [each.after for each in told] == ["Saturday and Sunday", "240 a day", "2.50 EUR", "5 % a year"]

    set_book(engine, dict.fromkeys(BENCH, ""), today=TODAY, now=NOW)
    assert settings_of(engine) == BookSettings(name=kept.name)


@pytest.mark.parametrize(
    ("name", "least", "most", "below", "above"),
    [
        ("accepted risk", "0.1%", "50%", "0.09%", "50.1%"),
        ("bench minutes", "1", "1440", "0", "1441"),
        ("holding", "0%", "100%", "-0.1%", "100.1%"),
    ],
)
def test_a_setting_out_of_range_or_set_already_writes_nothing(
    engine: Engine, name: str, least: str, most: str, below: str, above: str
) -> None:
    """Both ends are taken; below, above and the same again leave no act."""
    for text in (least, most):
        set_book(engine, {name: text}, today=TODAY, now=NOW)
    before = digest(engine)

    for text in (below, above):
        with pytest.raises(Refused):
            set_book(engine, {name: text}, today=TODAY, now=NOW)
    set_book(engine, {name: most}, today=TODAY, now=NOW)

    assert digest(engine) == before


@pytest.mark.parametrize("given", [{"bench days": "sat, sum"}, {"bench days": ","}, {"order cost": "-0.01"}])
def test_what_is_no_day_or_below_nothing_is_refused_and_nothing_is_set(engine: Engine, given: dict[str, str]) -> None:
    """Not even what stands beside it."""
    with pytest.raises(Refused):
        set_book(engine, {"bench minutes": "60", **given}, today=TODAY, now=NOW)

    assert settings_of(engine).bench_minutes is None
