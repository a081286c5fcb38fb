"""A book's own settings, and what a new one needs before its first act."""

from dataclasses import dataclass, fields

from sqlalchemy.engine import Connection

from collection.store.engine import fetch


@dataclass(frozen=True)
class BookSettings:
    """What ``start`` asks: all that dates, money and mains-driven strobes depend on; and what is set later.

    accepted_risk: the chance of being outside limits by which rechecks are set. bench_weekdays: days of the week on
    which there is work at the bench ("sat,sun"), bench_minutes: minutes of such a day. order_cost_minor: what placing
    an order is worth to its owner, in the book's currency. holding_rate: what a year of holding stock costs, as a part
    of its value. backup_days: above how many days the last backup is old, 0 for never. safety_months: for how many
    months an electrical safety check is good that names no last day. None until one is set.
    """

    time_zone: str = "UTC"
    currency: str = "EUR"
    mains_volts: int = 230
    mains_hertz: int = 50
    date_form: str = "iso"
    name: str | None = None
    accepted_risk: float | None = None
    bench_weekdays: str | None = None
    bench_minutes: int | None = None
    order_cost_minor: int | None = None
    holding_rate: float | None = None
    backup_days: int | None = None
    safety_months: int | None = None

    @property
    def risk(self) -> float:
        """The risk that counts: the one that was set, else the usual one."""
        from collection.analysis.recheck import USUAL_RISK

        return USUAL_RISK if self.accepted_risk is None else self.accepted_risk


_SETTINGS = tuple(each.name for each in fields(BookSettings))


@dataclass(frozen=True)
class Book:
    """The book that is open."""

    key: str
    settings: BookSettings
    made_by: str


def open_book(connection: Connection) -> Book:
    """The book's id and settings."""
    key, made_by, *settings = fetch(connection, f"SELECT key, made_by, {', '.join(_SETTINGS)} FROM book")[0]
    return Book(str(key), BookSettings(*settings), str(made_by))
