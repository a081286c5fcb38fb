"""What a command knows of its surroundings: which book, which day, and how to open a view on it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection, Engine

    from collection.store.cache import Cache

_FOLDER = "spindlebook"
_BOOK = "book.sqlite3"


def data_folder() -> Path:
    """Return the platform's folder for the books of this person; it may not exist yet."""
    import platformdirs

    return platformdirs.user_data_path(_FOLDER, appauthor=False)


def default_location() -> str:
    """Return the file that is the book when nobody named one."""
    return str(data_folder() / _BOOK)


def cache_folder() -> Path:
    """Return the platform's folder for results that may be deleted at any time; it may not exist yet."""
    import platformdirs

    return platformdirs.user_cache_path(_FOLDER, appauthor=False)


def state_folder() -> Path:
    """Return the platform's folder for the log of this person; it may not exist yet."""
    import platformdirs

    return platformdirs.user_state_path(_FOLDER, appauthor=False)


@dataclass
class Face:
    """What every command is handed: `db` as the person gave it, the day, the instant, how to print.

    frozen: whether the clock stands still, as --today asks.
    who: the name of the person whose acts they are; "" when nobody is named.
    as_of: the day of which a list tells, known_on: the day at whose end what it tells was known; None for the present.
    """

    db: str | None
    today: date
    now: datetime
    color: bool
    debug: bool
    frozen: bool = False
    who: str = ""
    as_of: date | None = None
    known_on: date | None = None
    _engine: Engine | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        """Keep the day that it is, whatever day a list tells of."""
        self.present = self.today

    @property
    def location(self) -> str:
        """The file or database URL in use: what the person named, else one file in the data folder."""
        return self.db or default_location()

    def instant(self) -> datetime:
        """Return the present instant, for commands that stay open for hours; `now` is that of their beginning."""
        return self.now if self.frozen else datetime.now(UTC)

    def engine(self) -> Engine:
        """Return the engine of the book in use, on which acts are those of `who`; opening it checks nothing yet."""
        if self._engine is None:
            from collection.store.engine import open_engine

            self._engine = open_engine(self.location)
            if not self.frozen:
                from collection.acts.clock import by_clock

                self._engine = by_clock(self._engine)
            if self.who:
                from collection.acts.who import engine_of

                self._engine = engine_of(self._engine, self.who)
        return self._engine

    @contextmanager
    def view(self) -> Iterator[Connection]:
        """Open a connection that cannot write and sees one snapshot of the book, or of that of another day.

        Raises NoBook, and Refused for a day before the book began.
        """
        from collection.store.engine import reading

        with reading(self.engine()) as connection:
            if not self.looks_back:
                yield connection
                return
            from collection.errors import Refused
            from collection.store.past import another_day, end_of

            known = end_of(connection, self.known_on) if self.known_on else None
            with another_day(connection, known_until=known, day=self.as_of) as then:
                try:
                    yield then
                except Refused as refusal:  # what is not there may be there today
                    day = f"As of {self.as_of}" if self.as_of else f"As known on {self.known_on}"
                    raise Refused(f"{day}: {refusal.what}", refusal.hint) from None

    @property
    def looks_back(self) -> bool:
        """Whether a list of another day is asked for."""
        return bool(self.as_of or self.known_on)

    def look_back(self, *, as_of: date | None = None, known_on: date | None = None) -> None:
        """Take another day for today: that of which a list tells, else that at whose end it was known.

        Raises Refused for a day of which nothing was known yet.
        """
        self.as_of, self.known_on = as_of or self.as_of, known_on or self.known_on
        if self.as_of and self.known_on and self.known_on < self.as_of:
            from collection.errors import Refused

            known, told = self.known_on.isoformat(), self.as_of.isoformat()
            raise Refused(f"--known-on {known} is before --as-of {told}.", "Type a later --known-on, or leave it out.")
        self.today = self.as_of or self.known_on or self.today

    def cache(self, connection: Connection) -> Cache:
        """Return the kept results of the book that `connection` sees; of another day nothing is kept."""
        from collection.store.book import open_book
        from collection.store.cache import Cache

        return Cache(None if self.looks_back else cache_folder(), open_book(connection).key)

    def close(self) -> None:
        """Let go of the book."""
        if self._engine is not None:
            self._engine.dispose()
