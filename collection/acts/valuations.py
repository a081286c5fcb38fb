"""Valuations of units: added and never overwritten; a later one, or an undo, sets a wrong one right."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy.engine import Engine

from collection.acts.amounts import currency_given, price_given
from collection.acts.days import past_day
from collection.acts.texts import refuse_texts
from collection.acts.work import open_work
from collection.analysis.worth import basis_word
from collection.store.book import open_book
from collection.views.people import find_person
from collection.views.units import find_unit
from collection.views.worth import Valued, valuations_of


def add_valuation(
    engine: Engine,
    tag: str,
    amount: str,
    currency: str = "",
    *,
    basis: str,
    on: str = "",
    by: str = "",
    evidence: str = "",
    today: date,
    now: datetime,
) -> list[Valued]:
    """Add a valuation of a unit; currency "" is the book's own, the day may be known to its month or year only.

    Returns all valuations of the unit, the one that counts first. Raises Refused for a sum below zero, a basis that
    is none, a day that has not come, and an unknown person.
    """
    refuse_texts(note=evidence)
    with open_work(engine, "value add", today=today, now=now) as work:
        unit = find_unit(work.conn, tag)
        day = past_day(on, today, "--on")
        code = currency_given(currency, open_book(work.conn).settings.currency)
        sum_ = price_given("A value", amount, code)
        work.append(
            "valuation",
            unit_id=unit.id,
            valued_on=day,
            amount_minor=sum_.minor,
            currency=sum_.currency,
            basis=basis_word(basis),
            by_id=find_person(work.conn, by).id if by else None,
            evidence=evidence.strip() or None,
        )
        listed = valuations_of(work.conn, unit.id)
        work.commit(f"{unit.tag}: valued at {sum_.text} {sum_.currency}")
    return listed
