"""Setting what a book goes by, after it was started."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any, NamedTuple

from sqlalchemy.engine import Engine

from collection.acts.amounts import price_given
from collection.acts.inspections import months_given
from collection.acts.work import open_work
from collection.analysis.bench_days import parse_weekdays
from collection.analysis.recheck import parse_risk, show_risk
from collection.errors import Refused
from collection.store.book import BookSettings, open_book
from collection.store.engine import fetch
from collection.views.book_settings import show_setting

_DAY_MINUTES = 24 * 60
_MOST_BACKUP_DAYS = 3650


class Changed(NamedTuple):
    """A setting that was told, and in words what counted before and what counts now."""

    name: str
    before: str
    after: str


class _Setting(NamedTuple):
    """The column in which a setting is kept, and how a text of it is read."""

    column: str
    read: Callable[[str, BookSettings], Any]


def set_book(engine: Engine, given: Mapping[str, str], *, today: date, now: datetime) -> list[Changed]:
    """Set what was given by name; an empty text goes back to the usual, or to nothing where there is no usual.

    given: accepted risk ("10%"), bench days ("sat,sun"), bench minutes ("240"), order cost ("2.50", in the book's
    currency), holding ("10%" of the value of what is held, a year), backup days ("14"), safety months
    ("24"). Returns a row for each; where all of them count already, nothing is written. Raises Refused for a value that
    no book can have.
    """
    with open_work(engine, "book set", today=today, now=now) as work:
        before = open_book(work.conn).settings
        columns = {
            _SETTINGS[name].column: _SETTINGS[name].read(text.strip(), before) if text.strip() else None
            for name, text in given.items()
        }
        after = BookSettings(**before.__dict__ | columns)
        told = [Changed(name, show_setting(name, before), show_setting(name, after)) for name in given]
        changed = [each for each in told if each.before != each.after]
        if changed:
            differing = {_SETTINGS[each.name].column: columns[_SETTINGS[each.name].column] for each in changed}
            work.update("book", fetch(work.conn, "SELECT id FROM book")[0][0], **differing)
            work.commit("the book: " + ", ".join(f"{name} {old} -> {new}" for name, old, new in changed))
    return told


def _minutes(text: str, _settings: BookSettings) -> int:
    if not (text.isascii() and text.isdigit()) or not 1 <= int(text[:5]) <= _DAY_MINUTES:
        raise Refused(
            f'"{text}" minutes of bench work in a day: whole minutes, 1 to {_DAY_MINUTES}.', "Type it as 240."
        )
    return int(text)


def _order_cost(text: str, settings: BookSettings) -> int:
    return price_given("An order cost", text.removesuffix(settings.currency).strip(), settings.currency).minor


def _holding(text: str, _settings: BookSettings) -> float:
    try:
        rate = float(text.removesuffix("%")) / (100 if text.endswith("%") else 1)
    except ValueError:
        raise Refused(f'"{text}" is no part of a value.', "Type it as 10%.") from None
    if not 0 <= rate <= 1:
        raise Refused(f"A holding cost of {show_risk(rate)} a year is outside 0 to 100 %.", "Type it as 10%.")
    return rate


def _backup_days(text: str, _settings: BookSettings) -> int:
    if not (text.isascii() and text.isdigit()) or int(text[:5]) > _MOST_BACKUP_DAYS:
        raise Refused(
            f'"{text}" days to the next backup: whole days, 0 (never) to {_MOST_BACKUP_DAYS}.', "Type it as 14."
        )
    return int(text)


_SETTINGS: Mapping[str, _Setting] = {
    "accepted risk": _Setting("accepted_risk", lambda text, _: parse_risk(text)),
    "bench days": _Setting("bench_weekdays", lambda text, _: parse_weekdays(text)),
    "bench minutes": _Setting("bench_minutes", _minutes),
    "order cost": _Setting("order_cost_minor", _order_cost),
    "holding": _Setting("holding_rate", _holding),
    "backup days": _Setting("backup_days", _backup_days),
    "safety months": _Setting("safety_months", lambda text, _: months_given(text, "--safety-months")),
}
