"""How old the last backup of a book is, and how much was written since."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy.engine import Connection

from collection.store.book import open_book
from collection.store.engine import fetch
from collection.store.kept import Last
from collection.views.book_settings import USUAL_BACKUP_DAYS


@dataclass(frozen=True)
class BackupAge:
    """The last backup (None: none is known of), the acts written after it, and the days since it.

    days: whole days since the last backup, without one since the book's first act. limit: above so many days
    it is old, 0 for never. is_demo: of a demo's book nobody needs a backup.
    """

    last: Last | None
    acts_since: int
    days: int
    limit: int
    is_demo: bool

    @property
    def is_old(self) -> bool:
        """Whether there is something to say: acts that no backup has, for longer than the limit."""
        return self.acts_since > 0 and self.days > self.limit > 0 and not self.is_demo

    def shown(self, zone: str) -> str:
        """When the last one was made, in a time zone, how long ago, and what it lacks."""
        if self.last is None:
            return "none is known here"
        day = self.last.made_at.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M")
        ago = "1 day ago" if self.days == 1 else f"{self.days} days ago" if self.days else "today"
        return f"{day}, {ago}; {self._newer}"

    @property
    def _newer(self) -> str:
        if not self.acts_since:
            return "no act is newer"
        return "1 act is newer" if self.acts_since == 1 else f"{self.acts_since:,} acts are newer"

    @property
    def said(self) -> str:
        """The same in a sentence."""
        if self.last is None:
            return f"No backup of this book is known here, and its first act is {self.days} days old."
        return f"The last backup is {self.days} days old; {self._newer}."


def age_of_last(connection: Connection, made: Sequence[Last], now: datetime) -> BackupAge:
    """Compare the backups of a book that are known of, the newest first, with its chain of acts.

    One that holds an act which the book has not (it was restored to an earlier state) is passed by.
    """
    book = open_book(connection)
    set_to = book.settings.backup_days
    limit = USUAL_BACKUP_DAYS if set_to is None else set_to
    is_demo = book.made_by == "demo"
    for last in made:
        found = fetch(connection, "SELECT id FROM seal WHERE hash = :seal", seal=last.seal)
        if found:
            since = fetch(connection, "SELECT count(*) FROM seal WHERE id > :last", last=found[0][0])[0][0]
            return BackupAge(last, since, _days(last.made_at, now), limit, is_demo)
    acts, first = fetch(connection, "SELECT count(*), min(at) FROM act")[0]
    return BackupAge(None, acts, _days(datetime.fromisoformat(first), now), limit, is_demo)


def _days(since: datetime, now: datetime) -> int:
    """Whole days; a clock that was set back makes none."""
    return max((now - since).days, 0)
