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
    """

    db: str | None
    today: date
    now: datetime
    color: bool
    debug: bool
    frozen: bool = False
    who: str = ""
    _engine: Engine | None = field(default=None, repr=False)

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
            if self.who:
                from collection.acts.who import engine_of

                self._engine = engine_of(self._engine, self.who)
        return self._engine

    @contextmanager
    def view(self) -> Iterator[Connection]:
        """Open a connection that cannot write and sees one snapshot of the book; raises NoBook."""
        from collection.store.engine import reading

        with reading(self.engine()) as connection:
            yield connection

    def close(self) -> None:
        """Let go of the book."""
        if self._engine is not None:
            self._engine.dispose()
