"""Bringing an older book to this program's schema and its untouched reference data to their newest revision."""

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from sqlalchemy.engine import Engine

from collection.acts.backups import keep
from collection.acts.reference import bring_in_reference
from collection.acts.work import open_work
from collection.store.engine import HEAD, must_exist
from collection.store.migrate import upgrade_schema


@dataclass(frozen=True)
class Upgraded:
    """The schema before and after, the reference rows refreshed, and the backup made before a migration."""

    before: str
    after: str
    rows: int
    kept: Path | None


def upgrade(engine: Engine, keep_in: Path | None, *, today: date, now: datetime) -> Upgraded:
    """Back up, then bring an older book to this program's schema and refresh untouched reference data.

    The backup, into ``keep_in``, and the migration see one state: nobody can write in between. keep_in: None where the
    book is a copy already.
    """
    must_exist(engine)
    kept: list[Path] = []

    def aside(revision: str) -> None:
        if keep_in is not None:
            kept.append(keep(engine, keep_in, "before upgrade", now, revision=revision).file)

    before = upgrade_schema(engine, aside)
    with open_work(engine, "upgrade", today=today, now=now) as work:
        rows = bring_in_reference(work)
        if rows or before != HEAD:
            work.commit(f"upgraded from schema {before} to {HEAD}; {rows} rows of reference data refreshed")
    return Upgraded(before, HEAD, rows, kept[0] if kept else None)
