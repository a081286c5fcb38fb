"""What a book goes by, in words: what was set, else what is usual."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from collection.analysis.bench_days import show_weekdays
from collection.analysis.recheck import show_risk
from collection.quantity import Money
from collection.store.book import BookSettings

USUAL_BACKUP_DAYS = 14  # common practice, no source
USUAL_HOLDING = 0.10  # of the value of what is held, a year; common practice, no source
_NOT_SET = "not set"


def show_setting(name: str, settings: BookSettings) -> str:
    """Return what counts of a setting, in words: "10 %", "Saturday and Sunday", "not set"."""
    return _SHOW[name](settings)


def _bench_days(settings: BookSettings) -> str:
    return show_weekdays(settings.bench_weekdays) if settings.bench_weekdays else _NOT_SET


def _bench_minutes(settings: BookSettings) -> str:
    return _NOT_SET if settings.bench_minutes is None else f"{settings.bench_minutes} a day"


def _order_cost(settings: BookSettings) -> str:
    return f"{Money(settings.order_cost_minor or 0, settings.currency).text} {settings.currency}"


def _holding(settings: BookSettings) -> str:
    return show_risk(USUAL_HOLDING if settings.holding_rate is None else settings.holding_rate) + " a year"


def _backup_days(settings: BookSettings) -> str:
    days = USUAL_BACKUP_DAYS if settings.backup_days is None else settings.backup_days
    return "never" if days == 0 else "1 day" if days == 1 else f"{days} days"


_SHOW: Mapping[str, Callable[[BookSettings], str]] = {
    "accepted risk": lambda settings: show_risk(settings.risk),
    "bench days": _bench_days,
    "bench minutes": _bench_minutes,
    "order cost": _order_cost,
    "holding": _holding,
    "safety months": lambda settings: f"{settings.safety_months} months" if settings.safety_months else _NOT_SET,
    "backup days": _backup_days,
}
